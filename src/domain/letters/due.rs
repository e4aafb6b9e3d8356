//! From when a letter is due: the days before an end on which one is written, and the hour of the week for digests.

use crate::units::Moment;

/// Days before a certificate ends on which its holder is told.
pub const EXPIRY_DAYS: [i32; 3] = [60, 30, 7];

/// Days before the end of a due day on which whoever has not done it is reminded; chosen by us: a week's notice, and the
/// last day.
pub const DUE_DAY_DAYS: [i32; 2] = [7, 1];

/// Days before a certificate begins to rest on which its holder is reminded of the refresher. The first is the whole time
/// that they have, so that one letter comes at once; the second is chosen by us.
pub const REFRESHER_DAYS: [i32; 2] = [30, 7];

/// The hour of Monday, in the branch's own time, from which the week's digest is written; chosen by us, before work.
pub const DIGEST_FROM_HOUR: i8 = 6;

/// The threshold that is due at `now` for something that began at `since` and ends at `end`: the smallest of `days` whose
/// day has come. Nothing before the first, nothing from the end on, and none whose day had passed when it began: who was
/// away gets the newest letter and not the older ones too.
///
/// A day is 24 hours; thresholds are whole days before `end`.
#[must_use]
pub fn threshold(days: &[i32], since: Moment, end: Moment, now: Moment) -> Option<i32> {
    if now >= end {
        return None;
    }
    let from = |days: i32| end.plus_seconds(-i64::from(days) * 86_400);
    days.iter().copied().filter(|days| from(*days) <= now && from(*days) >= since).min()
}

/// Whether the week's digest is due, from the ISO weekday (1 is Monday) and the hour in the branch's own time. Only on
/// Mondays: a server that was away on Monday writes none that week, and the pages have it all.
#[must_use]
pub const fn digest_is_due(weekday: i8, hour: i8) -> bool {
    weekday == 1 && hour >= DIGEST_FROM_HOUR
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const DAY: i64 = 86_400 * 1_000_000;

    #[test]
    fn a_holder_is_told_at_exactly_60_30_and_7_days() {
        let (since, end) = (Moment(0), Moment(1000 * DAY));
        let at = |before: i64| threshold(&EXPIRY_DAYS, since, end, Moment(end.0 - before));
        assert_eq!(at(60 * DAY + 1), None);
        assert_eq!(at(60 * DAY), Some(60));
        assert_eq!(at(30 * DAY + 1), Some(60));
        assert_eq!(at(30 * DAY), Some(30));
        assert_eq!(at(7 * DAY + 1), Some(30));
        assert_eq!(at(7 * DAY), Some(7));
        assert_eq!(at(1), Some(7));
        assert_eq!(at(0), None, "it has ended");
    }

    #[test]
    fn a_digest_is_due_on_monday_from_six() {
        let due: Vec<(i8, i8)> = (1..=7)
            .flat_map(|day| (0..24).map(move |hour| (day, hour)))
            .filter(|(d, h)| digest_is_due(*d, *h))
            .collect();
        assert_eq!(due, (6..24).map(|hour| (1, hour)).collect::<Vec<_>>());
    }

    proptest! {
        #[test]
        fn the_newest_threshold_whose_day_has_come_is_due(
            length in 1_i64..2000 * DAY, gone in 0_i64..2100 * DAY, start in -1000 * DAY..1000 * DAY,
        ) {
            let (since, end, now) = (Moment(start), Moment(start + length), Moment(start + gone));
            let found = threshold(&EXPIRY_DAYS, since, end, now);
            let left = end.0 - now.0;
            // Said again in other words: the time left falls into one of three bands, each with its one letter.
            let band = match left {
                left if left <= 0 => None,
                left if left <= 7 * DAY => Some(7),
                left if left <= 30 * DAY => Some(30),
                left if left <= 60 * DAY => Some(60),
                _ => None,
            };
            let began_before = |days: i32| length >= i64::from(days) * DAY;
            match band {
                Some(days) if began_before(days) => prop_assert_eq!(found, Some(days)),
                _ => prop_assert_eq!(found, None),
            }
        }

        #[test]
        fn looking_seldom_or_often_gives_no_letter_twice(
            length in 1_i64..400 * DAY, mut looks in prop::collection::vec(0_i64..420 * DAY, 0..60),
        ) {
            looks.sort_unstable();
            let due = looks.iter().filter_map(|at| threshold(&EXPIRY_DAYS, Moment(0), Moment(length), Moment(*at)));
            let mut told: Vec<i32> = due.collect();
            told.dedup();
            prop_assert!(told.windows(2).all(|pair| pair[0] > pair[1]), "{:?}", told);
        }
    }
}
