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
    /// Works out where somebody stands from all entries about a competence, in the order they were made.
    #[must_use]
    pub fn of(entries: &[Evidence], now: Moment) -> Self {
        let Some(last) = entries.last() else { return Self::Missing(Reason::NeverExamined) };
        let held = entries.iter().rev().filter(|entry| entry.qualified).find_map(|entry| entry.until);
        let still_held = held.filter(|until| *until > now);
        match (last.qualified, last.safety_miss, still_held, held) {
            (false, true, Some(_), _) => Self::Suspended { since: last.from },
            (false, true, None, _) => Self::Missing(Reason::SafetyMiss { at: last.from }),
            // A failed resit without a safety miss does not take away what is still held.
            (_, _, Some(until), _) if !suspended_before(entries) => Self::holding(until, now),
            (_, _, Some(_), _) => Self::Suspended { since: last.from },
            (false, false, None, _) => Self::Missing(Reason::NotPassed { at: last.from }),
            (true, _, None, Some(at)) => Self::Missing(Reason::Lapsed { at }),
            (true, _, None, None) => Self::Missing(Reason::NeverExamined),
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

/// Whether a safety miss since the last qualification is still open.
fn suspended_before(entries: &[Evidence]) -> bool {
    entries.iter().rev().take_while(|entry| !entry.qualified).any(|entry| entry.safety_miss)
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400 * 1_000_000;

    fn entry(day: i64, qualified: bool, safety_miss: bool) -> Evidence {
        let until = qualified.then_some(Moment((day + 1000) * DAY));
        Evidence { qualified, safety_miss, from: Moment(day * DAY), until }
    }

    fn check(entries: &[Evidence], day: i64, expected: char) {
        assert_eq!(Standing::of(entries, Moment(day * DAY)).letter(), expected, "day {day}: {entries:?}");
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
}
