//! Moments in words for handlers that put them into sentences. Templates use the filters `date` and `time_of_day`.
//!
//! Never shows a moment without a time zone.

use super::error::PageError;
use crate::domain::units::Moment;
use jiff::civil::Date;
use jiff::{Timestamp, ZonedDateTime, tz::TimeZone};

/// The day in a time zone: "24 Nov 2026".
///
/// # Errors
/// When the branch's time zone is none.
pub fn day(moment: Moment, zone: &str) -> Result<String, PageError> {
    Ok(local(moment, zone)?.strftime("%-d %b %Y").to_string())
}

/// The time of day with seconds in a time zone: "14:03:12".
///
/// # Errors
/// When the branch's time zone is none.
pub fn time_of_day(moment: Moment, zone: &str) -> Result<String, PageError> {
    Ok(local(moment, zone)?.strftime("%H:%M:%S").to_string())
}

/// Day and time of day, such as `24 Nov 2026 at 14:03:12`.
///
/// # Errors
/// When the time zone is not known.
pub fn day_and_time(moment: Moment, zone: &str) -> Result<String, PageError> {
    Ok(format!("{} at {}", day(moment, zone)?, time_of_day(moment, zone)?))
}

/// The day as files write it: "2026-11-24".
///
/// # Errors
/// When the branch's time zone is none.
pub fn day_for_files(moment: Moment, zone: &str) -> Result<String, PageError> {
    Ok(local(moment, zone)?.strftime("%Y-%m-%d").to_string())
}

/// The moment as files write it, in UTC (RFC 3339): "2026-11-24T08:00:00Z".
///
/// # Errors
/// When the moment is outside the calendar.
pub fn utc_for_files(moment: Moment) -> Result<String, PageError> {
    Ok(local(moment, "UTC")?.strftime("%Y-%m-%dT%H:%M:%SZ").to_string())
}

/// The day that it is at a moment in a time zone.
///
/// # Errors
/// When the branch's time zone is none.
pub fn day_of(moment: Moment, zone: &str) -> Result<Date, PageError> {
    Ok(local(moment, zone)?.date())
}

/// Reads a day as files and forms write it, `2026-11-24`, in this century or the next.
#[must_use]
pub fn read_day(text: &str) -> Option<Date> {
    let plain = text.len() == 10 && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
    text.parse::<Date>().ok().filter(|day| plain && (2000..2200).contains(&day.year()))
}

/// The first moment of a day in a time zone, and the first that is no longer in it.
///
/// # Errors
/// When the branch's time zone is none.
pub fn span_of(day: Date, zone: &str) -> Result<(Moment, Moment), PageError> {
    let fault = |error: jiff::Error| PageError::Fault(format!("{day} in the time zone {zone}: {error}"));
    let zone_found = TimeZone::get(zone).map_err(fault)?;
    let start = |day: Date| -> Result<Moment, PageError> {
        let start = day.to_zoned_datetime(zone_found.clone()).map_err(fault)?;
        Ok(Moment(start.timestamp().as_microsecond()))
    };
    Ok((start(day)?, start(day.tomorrow().map_err(fault)?)?))
}

/// A day in words: "24 Nov 2026".
#[must_use]
pub fn day_in_words(day: Date) -> String {
    day.strftime("%-d %b %Y").to_string()
}

/// A moment in a time zone.
///
/// # Errors
/// When the zone is none, or the moment is outside the calendar.
pub(super) fn local(moment: Moment, zone: &str) -> Result<ZonedDateTime, PageError> {
    let fault = |error: jiff::Error| PageError::Fault(format!("{} in the time zone {zone}: {error}", moment.0));
    Ok(Timestamp::from_microsecond(moment.0).map_err(fault)?.to_zoned_datetime(TimeZone::get(zone).map_err(fault)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_day_is_that_of_the_zone() {
        // 24 Nov 2026, 23:30 UTC: the next day in Berlin.
        let late = Moment(1_795_563_000_000_000);
        assert_eq!(day(late, "UTC").unwrap(), "24 Nov 2026");
        assert_eq!(day(late, "Europe/Berlin").unwrap(), "25 Nov 2026");
        assert_eq!(day_for_files(late, "Europe/Berlin").unwrap(), "2026-11-25");
        assert_eq!(utc_for_files(late).unwrap(), "2026-11-24T23:30:00Z");
        assert!(day(late, "Nowhere/Land").is_err());
    }

    #[test]
    fn a_day_begins_and_ends_where_its_zone_says() {
        let day = read_day("2026-03-29").unwrap();
        let (from, end) = span_of(day, "Europe/Berlin").unwrap();
        // Common practice, no published source: the clocks there go forward on the last Sunday of March. 23 hours.
        assert_eq!(end.seconds_since(from), 23 * 3600);
        assert_eq!(utc_for_files(from).unwrap(), "2026-03-28T23:00:00Z");
        assert_eq!(day_of(from, "Europe/Berlin").unwrap(), day);
        for none in
            ["", "2026-2-3", "2026-02-30", "1999-12-31", "2200-01-01", "24 Nov 2026", "20261124", "2026-11-24T08"]
        {
            assert_eq!(read_day(none), None, "{none}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_a_day_that_prints_as_it_was_typed_or_none(text in ".{0,14}", near in "[0-9]{4}-[0-9]{2}-[0-9]{2}") {
            for text in [text, near] {
                if let Some(day) = read_day(&text) {
                    prop_assert_eq!(day.to_string(), text);
                }
            }
        }

        #[test]
        fn every_day_of_two_centuries_is_read(year in 2000_i16..2200, of_year in 1_i16..=365) {
            let day = Date::constant(year, 1, 1).with().day_of_year(of_year).build().unwrap();
            prop_assert_eq!(read_day(&day.to_string()), Some(day));
        }
    }
}
