//! Who is qualified for what, until when: worked out from the record's entries, never stored.
//!
//! The record is append-only: the last entry about a person and a competence decides.

use crate::units::Moment;
use serde::{Deserialize, Serialize};

/// How long before its end a qualification counts as expiring, in days; chosen by us, as long as a resit takes to plan.
pub const EXPIRING_WITHIN_DAYS: i64 = 60;

/// One entry about a person and a competence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Evidence {
    /// Whether the sitting qualified the person.
    pub qualified: bool,
    /// Whether a mandatory safety question was missed.
    pub safety_miss: bool,
    /// When it was entered.
    pub from: Moment,
    /// Until when it holds; nothing when it did not qualify.
    pub until: Option<Moment>,
}

/// Where a person stands in a competence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Qualified.
    Qualified {
        /// Until when.
        until: Moment,
    },
    /// Qualified, but not for long.
    Expiring {
        /// Until when.
        until: Moment,
    },
    /// A safety miss has suspended a qualification that would still hold.
    Suspended {
        /// Since when.
        since: Moment,
    },
    /// Not qualified.
    Missing(Reason),
}

/// Why somebody is not qualified.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// Never examined.
    NeverExamined,
    /// The qualification has run out.
    Lapsed {
        /// When.
        at: Moment,
    },
    /// The last examination was not passed.
    NotPassed {
        /// When.
        at: Moment,
    },
    /// A mandatory safety question was missed.
    SafetyMiss {
        /// When.
        at: Moment,
    },
}

impl Standing {
    /// Works out where somebody stands from the entries about a competence, in the order they were made. Those from the
    /// last pass on are enough: what came before it decides nothing any more.
    #[must_use]
    pub fn of(entries: &[Evidence], now: Moment) -> Self {
        let Some(last) = entries.last() else { return Self::Missing(Reason::NeverExamined) };
        let held = entries.iter().rev().find(|entry| entry.qualified).and_then(|entry| entry.until);
        let still_held = held.filter(|until| *until > now);
        match (open_safety_miss(entries), still_held, held) {
            (Some(since), Some(_), _) => Self::Suspended { since },
            // A later fail for another reason does not close the miss: it stays the reason that counts.
            (Some(at), None, _) => Self::Missing(Reason::SafetyMiss { at }),
            // A failed resit without a safety miss does not take away what is still held.
            (None, Some(until), _) => Self::holding(until, now),
            (None, None, Some(at)) if last.qualified => Self::Missing(Reason::Lapsed { at }),
            (None, None, _) => Self::Missing(Reason::NotPassed { at: last.from }),
        }
    }

    const fn holding(until: Moment, now: Moment) -> Self {
        if until.seconds_since(now) < EXPIRING_WITHIN_DAYS * 86_400 {
            Self::Expiring { until }
        } else {
            Self::Qualified { until }
        }
    }

    /// Whether the person may be sent to the work.
    #[must_use]
    pub const fn is_qualified(self) -> bool {
        matches!(self, Self::Qualified { .. } | Self::Expiring { .. })
    }

    /// The letter in the matrix.
    #[must_use]
    pub const fn letter(self) -> char {
        match self {
            Self::Qualified { .. } => 'Q',
            Self::Expiring { .. } => 'E',
            Self::Suspended { .. } => 'S',
            Self::Missing(_) => 'M',
        }
    }

    /// The standing's word in addresses, exports and pages.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Qualified { .. } => "qualified",
            Self::Expiring { .. } => "expiring",
            Self::Suspended { .. } => "suspended",
            Self::Missing(_) => "missing",
        }
    }
}

/// When the first mandatory safety question since the last pass was missed; nothing when none was. Only a pass closes it.
fn open_safety_miss(entries: &[Evidence]) -> Option<Moment> {
    let since_the_pass = entries.iter().rev().take_while(|entry| !entry.qualified);
    since_the_pass.filter(|entry| entry.safety_miss).last().map(|entry| entry.from)
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400 * 1_000_000;

    fn entry(day: i64, qualified: bool, safety_miss: bool) -> Evidence {
        let until = qualified.then_some(Moment((day + 1000) * DAY));
        Evidence { qualified, safety_miss, from: Moment(day * DAY), until }
    }

    fn on(entries: &[Evidence], day: i64) -> Standing {
        Standing::of(entries, Moment(day * DAY))
    }

    fn check(entries: &[Evidence], day: i64, expected: char) {
        assert_eq!(on(entries, day).letter(), expected, "day {day}: {entries:?}");
    }

    #[test]
    fn the_last_entry_decides() {
        let passed = entry(0, true, false);
        check(&[], 0, 'M');
        check(&[passed], 1, 'Q');
        check(&[passed], 939, 'Q');
        check(&[passed], 941, 'E');
        check(&[passed], 1000, 'M');
        check(&[entry(0, false, false)], 1, 'M');
        check(&[entry(0, false, true)], 1, 'M');
    }

    #[test]
    fn a_safety_miss_suspends_until_the_next_pass() {
        let passed = entry(0, true, false);
        let miss = entry(10, false, true);
        let failed = entry(20, false, false);
        check(&[passed, miss], 11, 'S');
        check(&[passed, miss, failed], 21, 'S');
        check(&[passed, failed], 21, 'Q');
        check(&[passed, miss, entry(30, true, false)], 31, 'Q');
    }

    #[test]
    fn the_reason_is_the_one_that_must_be_put_right() {
        let (passed, miss, failed) = (entry(0, true, false), entry(10, false, true), entry(20, false, false));
        let day = |day: i64| Moment(day * DAY);
        assert_eq!(on(&[], 0), Standing::Missing(Reason::NeverExamined));
        assert_eq!(on(&[passed], 1000), Standing::Missing(Reason::Lapsed { at: day(1000) }));
        assert_eq!(on(&[passed, failed], 1000), Standing::Missing(Reason::NotPassed { at: day(20) }));
        assert_eq!(on(&[failed], 21), Standing::Missing(Reason::NotPassed { at: day(20) }));
        // An open safety miss outranks a later fail, and counts from the day it happened.
        assert_eq!(on(&[miss, failed], 21), Standing::Missing(Reason::SafetyMiss { at: day(10) }));
        assert_eq!(on(&[passed, miss, failed], 21), Standing::Suspended { since: day(10) });
        assert_eq!(on(&[passed, miss, entry(30, false, true)], 31), Standing::Suspended { since: day(10) });
        assert_eq!(on(&[passed, miss], 1000), Standing::Missing(Reason::SafetyMiss { at: day(10) }));
    }

    #[test]
    fn a_pass_wipes_out_what_came_before_it() {
        let before = [entry(0, true, false), entry(1, false, true), entry(2, false, false)];
        let pass = entry(3, true, false);
        let whole: Vec<Evidence> = before.into_iter().chain([pass]).collect();
        for day in [3, 942, 943, 944, 1002, 1003] {
            assert_eq!(on(&whole, day), on(&[pass], day), "day {day}");
        }
        // The last moment counts as lapsed: "until" is when it ends.
        check(&[pass], 1003, 'M');
        assert!(Standing::of(&[pass], Moment(1003 * DAY - 1)).is_qualified());
    }

    #[test]
    fn an_entry_that_qualifies_without_an_end_holds_nothing() {
        check(&[Evidence { until: None, ..entry(0, true, false) }], 1, 'M');
    }
}
