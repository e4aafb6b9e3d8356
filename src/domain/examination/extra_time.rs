//! More time for one person, and when a sitting warns that its end is near.
//!
//! Never knows why somebody gets more time: the reason is personal and stays where few can read it.

/// How much more time a person gets than the scheme gives everyone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ExtraTime {
    /// No more.
    #[default]
    None,
    /// So many percent of the scheme's limit, 1 to [`Self::MOST_PERCENT`].
    Percent(u16),
    /// So many minutes, 1 to [`Self::MOST_MINUTES`].
    Minutes(u16),
}

impl ExtraTime {
    /// The most percent: four times the limit in all. Chosen by us.
    pub const MOST_PERCENT: u16 = 300;
    /// The most minutes. Chosen by us.
    pub const MOST_MINUTES: u16 = 240;

    /// Makes one of the two numbers that are kept, of which at most one is not 0; nothing when they are out of range.
    #[must_use]
    pub const fn of(percent: u16, minutes: u16) -> Option<Self> {
        match (percent, minutes) {
            (0, 0) => Some(Self::None),
            (1..=Self::MOST_PERCENT, 0) => Some(Self::Percent(percent)),
            (0, 1..=Self::MOST_MINUTES) => Some(Self::Minutes(minutes)),
            _ => None,
        }
    }

    /// The two numbers that are kept: percent and minutes.
    #[must_use]
    pub const fn numbers(self) -> (u16, u16) {
        match self {
            Self::None => (0, 0),
            Self::Percent(percent) => (percent, 0),
            Self::Minutes(minutes) => (0, minutes),
        }
    }

    /// The seconds more for a limit in seconds; a started second counts whole, so that nobody gets less than was granted.
    #[must_use]
    pub const fn seconds(self, limit_s: i64) -> i64 {
        match self {
            Self::None => 0,
            Self::Percent(percent) => (limit_s * percent as i64 + 99) / 100,
            Self::Minutes(minutes) => minutes as i64 * 60,
        }
    }

    /// In words: "25 % more time", "15 min more", "no more time than everyone".
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::None => "no more time than everyone".to_owned(),
            Self::Percent(percent) => format!("{percent} % more time"),
            Self::Minutes(minutes) => format!("{minutes} min more"),
        }
    }
}

/// When a sitting of so many seconds warns: so many seconds before its end, the earlier first. 10 min and 2 min; in a short
/// sitting a quarter and a twelfth of it, so that the first warning does not come at the beginning. Chosen by us.
#[must_use]
pub fn warnings(limit_s: i64) -> [i64; 2] {
    // Whole minutes read better; below a minute there are none.
    let whole = |seconds: i64| if seconds >= 60 { seconds - seconds % 60 } else { seconds };
    [whole((limit_s / 4).min(600)), whole((limit_s / 12).min(120))]
}

/// What is said when so many seconds are left of a sitting; nothing before the first warning.
#[must_use]
pub fn warning(limit_s: i64, left_s: i64) -> Option<String> {
    let [first, last] = warnings(limit_s);
    let words = |mark: i64| if mark >= 60 { format!("{} min", mark / 60) } else { format!("{mark} s") };
    match left_s {
        ..=0 => None,
        left if left <= last => Some(format!(
            "Less than {} left. What is saved counts; hand in, or the clock does it for you.",
            words(last)
        )),
        left if left <= first => {
            Some(format!("Less than {} left. Look at what is open and what you flagged.", words(first)))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_time_is_never_less_than_was_granted() {
        // Common practice, no published source: a quarter more of 45 min is 11 min 15 s.
        assert_eq!(ExtraTime::Percent(25).seconds(2700), 675);
        assert_eq!(ExtraTime::Percent(33).seconds(61), 21, "20.13 s are rounded up");
        assert_eq!(ExtraTime::Minutes(15).seconds(900), 900);
        assert_eq!(ExtraTime::None.seconds(900), 0);
    }

    #[test]
    fn the_kept_numbers_read_back_and_nothing_else_does() {
        for extra in [ExtraTime::None, ExtraTime::Percent(1), ExtraTime::Percent(300), ExtraTime::Minutes(240)] {
            let (percent, minutes) = extra.numbers();
            assert_eq!(ExtraTime::of(percent, minutes), Some(extra));
        }
        for (percent, minutes) in [(301, 0), (0, 241), (1, 1)] {
            assert_eq!(ExtraTime::of(percent, minutes), None);
        }
    }

    #[test]
    fn a_sitting_warns_twice_and_never_at_its_beginning() {
        assert_eq!(warnings(2700), [600, 120]);
        assert_eq!(warnings(900), [180, 60], "a quarter and a twelfth of 15 min, in whole minutes");
        for limit in 60..=28_800 {
            let [first, last] = warnings(limit);
            assert!(0 < last && last < first && first <= limit / 4, "{limit}: {first} {last}");
        }
    }

    #[test]
    fn what_is_said_fits_what_is_left() {
        assert_eq!(warning(2700, 601), None);
        assert!(warning(2700, 600).is_some_and(|said| said.starts_with("Less than 10 min left.")));
        assert!(warning(2700, 121).is_some_and(|said| said.starts_with("Less than 10 min left.")));
        assert!(warning(2700, 120).is_some_and(|said| said.starts_with("Less than 2 min left.")));
        assert_eq!(warning(2700, 0), None, "then another text says that it is over");
    }
}
