//! Where a person stands in a competence: worked out from the record's entries and the certificate they led to, never stored.
//!
//! The record is append-only: the last entry about a person and a competence decides, and the certificate that came of it.

use super::certificate::{Rest, State};
use super::trigger::Kind;
use crate::units::Moment;
use serde::{Deserialize, Serialize};

/// How long before its end a qualification counts as expiring, in days; chosen by us, as long as a resit takes to plan.
pub const EXPIRING_WITHIN_DAYS: i64 = 60;

/// One entry about a person and a competence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Evidence {
    /// Whether a certificate in this competence was granted.
    pub qualified: bool,
    /// Whether a mandatory safety question was missed.
    pub safety_miss: bool,
    /// When it was entered.
    pub from: Moment,
    /// Until when it holds; nothing when it did not qualify.
    pub until: Option<Moment>,
    /// The state of the certificate now; nothing when there is none, and then it holds nothing.
    pub certificate: Option<State>,
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
    /// Qualified, but must be examined again soon because of something that happened.
    RefresherDue {
        /// By when.
        by: Moment,
        /// Because of what.
        because: Kind,
    },
    /// A qualification that would still hold is suspended.
    Suspended {
        /// Since when.
        since: Moment,
        /// Because of what.
        because: Suspension,
    },
    /// Passed, not qualified yet: a service manager has still to decide.
    Waits {
        /// Since when.
        since: Moment,
    },
    /// Not qualified.
    Missing(Reason),
}

/// Why a qualification is suspended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Suspension {
    /// A mandatory safety question was missed in a later examination.
    SafetyMiss,
    /// The certificate rests.
    Certificate(Rest),
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
    /// The certificate was withdrawn.
    Withdrawn {
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
    /// last grant on are enough: what came before it decides nothing any more. `waits` is since when a proposal to grant a
    /// certificate in this competence waits for its decision.
    #[must_use]
    pub fn of(entries: &[Evidence], waits: Option<Moment>, now: Moment) -> Self {
        let held = Self::held(entries, now);
        match waits {
            // What is held goes on while the next certificate is decided on.
            Some(since) if !held.is_qualified() => Self::Waits { since },
            _ => held,
        }
    }

    fn held(entries: &[Evidence], now: Moment) -> Self {
        let Some(last) = entries.last() else { return Self::Missing(Reason::NeverExamined) };
        let granted = entries.iter().rev().find(|entry| entry.qualified);
        let state = granted.and_then(|entry| entry.certificate);
        let until = granted.and_then(|entry| entry.until);
        // A withdrawal outlasts everything but a new certificate.
        if let Some(State::Withdrawn { at }) = state {
            return Self::Missing(Reason::Withdrawn { at });
        }
        let over = match (state, until) {
            (Some(State::Lapsed { at } | State::Renewed { at }), _) => Some(at),
            (Some(_), Some(until)) if until <= now => Some(until),
            _ => None,
        };
        let still_held = until.filter(|_| state.is_some() && over.is_none());
        match (open_safety_miss(entries), still_held, state) {
            (Some(since), Some(_), _) => Self::Suspended { since, because: Suspension::SafetyMiss },
            // A later fail for another reason does not close the miss: it stays the reason that counts.
            (Some(at), None, _) => Self::Missing(Reason::SafetyMiss { at }),
            (None, Some(_), Some(State::Suspended { since, because })) => {
                Self::Suspended { since, because: Suspension::Certificate(because) }
            }
            // A refresher that is due after the end is not what presses.
            (None, Some(until), Some(State::RefresherDue { by, because })) if by < until => {
                Self::RefresherDue { by, because }
            }
            // A failed resit without a safety miss does not take away what is still held.
            (None, Some(until), _) => Self::holding(until, now),
            (None, None, _) => Self::Missing(match over {
                Some(at) if last.qualified => Reason::Lapsed { at },
                _ => Reason::NotPassed { at: last.from },
            }),
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
        matches!(self, Self::Qualified { .. } | Self::Expiring { .. } | Self::RefresherDue { .. })
    }

    /// The letter in the matrix.
    #[must_use]
    pub const fn letter(self) -> char {
        match self {
            Self::Qualified { .. } => 'Q',
            Self::Expiring { .. } => 'E',
            Self::RefresherDue { .. } => 'R',
            Self::Suspended { .. } => 'S',
            Self::Waits { .. } => 'W',
            Self::Missing(_) => 'M',
        }
    }

    /// The standing's word in addresses, exports and pages.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Qualified { .. } => "qualified",
            Self::Expiring { .. } => "expiring",
            Self::RefresherDue { .. } => "refresher",
            Self::Suspended { .. } => "suspended",
            Self::Waits { .. } => "waits",
            Self::Missing(_) => "missing",
        }
    }
}

/// When the first mandatory safety question since the last grant was missed; nothing when none was. Only a grant closes it.
fn open_safety_miss(entries: &[Evidence]) -> Option<Moment> {
    let since_the_grant = entries.iter().rev().take_while(|entry| !entry.qualified);
    since_the_grant.filter(|entry| entry.safety_miss).last().map(|entry| entry.from)
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400 * 1_000_000;

    fn entry(day: i64, qualified: bool, safety_miss: bool) -> Evidence {
        let until = qualified.then_some(Moment((day + 1000) * DAY));
        let certificate = qualified.then_some(State::Valid);
        Evidence { qualified, safety_miss, from: Moment(day * DAY), until, certificate }
    }

    fn on(entries: &[Evidence], day: i64) -> Standing {
        Standing::of(entries, None, Moment(day * DAY))
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
        assert_eq!(
            on(&[passed, miss, failed], 21),
            Standing::Suspended { since: day(10), because: Suspension::SafetyMiss }
        );
        assert_eq!(
            on(&[passed, miss, entry(30, false, true)], 31),
            Standing::Suspended { since: day(10), because: Suspension::SafetyMiss }
        );
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
        assert!(Standing::of(&[pass], None, Moment(1003 * DAY - 1)).is_qualified());
    }

    #[test]
    fn an_entry_that_qualifies_without_an_end_holds_nothing() {
        check(&[Evidence { until: None, ..entry(0, true, false) }], 1, 'M');
    }

    #[test]
    fn the_certificate_decides_what_a_grant_is_worth() {
        let granted = |certificate| Evidence { certificate, ..entry(0, true, false) };
        let (at, because) = (Moment(5 * DAY), Rest::Trigger(Kind::UnsafeAct));
        check(&[granted(None)], 1, 'M');
        check(&[granted(Some(State::RefresherDue { by: Moment(40 * DAY), because: Kind::NearMiss }))], 1, 'R');
        check(&[granted(Some(State::RefresherDue { by: Moment(2000 * DAY), because: Kind::NearMiss }))], 990, 'E');
        let rests = granted(Some(State::Suspended { since: at, because }));
        assert_eq!(on(&[rests], 6), Standing::Suspended { since: at, because: Suspension::Certificate(because) });
        let withdrawn = granted(Some(State::Withdrawn { at }));
        assert_eq!(on(&[withdrawn], 6), Standing::Missing(Reason::Withdrawn { at }));
        // A later fail does not hide that it was withdrawn.
        assert_eq!(on(&[withdrawn, entry(7, false, false)], 8), Standing::Missing(Reason::Withdrawn { at }));
        check(&[granted(Some(State::Renewed { at }))], 6, 'M');
    }

    #[test]
    fn a_pass_waits_for_its_decision_and_takes_nothing_away() {
        let waits = |entries: &[Evidence], day: i64| Standing::of(entries, Some(Moment(0)), Moment(day * DAY)).letter();
        assert_eq!(waits(&[], 1), 'W');
        assert_eq!(waits(&[entry(0, false, true)], 1), 'W');
        assert_eq!(waits(&[entry(0, true, false)], 1), 'Q');
        assert_eq!(waits(&[entry(0, true, false)], 1001), 'W');
    }
}
