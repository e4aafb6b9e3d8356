//! Moments in words for handlers that put them into sentences. Templates use the filters `date` and `time_of_day`.
//!
//! Never shows a moment without a time zone.

use super::error::PageError;
use crate::domain::units::Moment;
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

fn local(moment: Moment, zone: &str) -> Result<ZonedDateTime, PageError> {
    let fault = |error: jiff::Error| PageError::Fault(format!("{} in the time zone {zone}: {error}", moment.0));
    Ok(Timestamp::from_microsecond(moment.0).map_err(fault)?.to_zoned_datetime(TimeZone::get(zone).map_err(fault)?))
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
