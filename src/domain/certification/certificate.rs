//! A certificate: its number, and its state from the events that were only ever added to it.
//!
//! Never changes a certificate: what becomes of it is worked out from its events and a moment.

use super::trigger::{MachineVersion, Trigger};
use crate::units::Moment;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The characters of ISO/IEC 7064 MOD 37-2 in the order of their values.
const ALPHABET: &[u8; 37] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";

/// The check character of ISO/IEC 7064:2003 MOD 37-2 for digits and capital letters; nothing for any other text.
///
/// It finds every single wrong character and every two neighbours that changed places.
#[must_use]
pub fn check_character(text: &str) -> Option<char> {
    let value = |byte: u8| ALPHABET[..36].iter().position(|known| *known == byte);
    let weigh = |sum: usize, byte: u8| value(byte).map(|value| (sum + value) * 2 % 37);
    let sum = text.bytes().try_fold(0, weigh)?;
    Some(char::from(ALPHABET[(38 - sum) % 37]))
}

/// A certificate's number: year, running number in that year, check character, as in `2026-00042-V`. It says nothing about
/// the branch, so that it stays right when a person moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Number {
    /// The year in which it was granted, four digits.
    pub year: i32,
    /// Which one of that year, from 1.
    pub running: i64,
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { year, running } = self;
        let check = check_character(&format!("{year:04}{running:05}")).unwrap_or('*');
        write!(f, "{year:04}-{running:05}-{check}")
    }
}

impl Number {
    /// Reads a number as it is printed or typed: small letters, spaces and missing hyphens do not matter. Nothing when it
    /// is none, or when its check character does not fit.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Self> {
        let plain: String = typed.chars().filter(|c| !matches!(c, '-' | ' ')).map(|c| c.to_ascii_uppercase()).collect();
        if !plain.is_ascii() || plain.len() < 10 {
            return None;
        }
        let (digits, check) = plain.split_at(plain.len() - 1);
        if !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        let number = Self { year: digits[..4].parse().ok()?, running: digits[4..].parse().ok()? };
        let whole = format!("{:04}{:05}", number.year, number.running);
        (whole == digits
            && number.running > 0
            && check_character(digits).is_some_and(|right| check == right.to_string()))
        .then_some(number)
    }
}

/// What can be done to a certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    /// It rests.
    Suspended,
    /// It stands again.
    Reinstated,
    /// It is gone for good.
    Withdrawn,
    /// A newer certificate by the same scheme has taken its place.
    Renewed,
}

/// Something that was done to a certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// When.
    pub at: Moment,
}

/// Why a certificate rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rest {
    /// A service manager suspended it.
    ByDecision,
    /// Something happened that rests it until a new examination.
    Trigger(super::trigger::Kind),
    /// A refresher was asked for and not taken in time.
    RefresherOverdue(super::trigger::Kind),
}

/// The state of a certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// It stands.
    Valid,
    /// It stands, and its holder must be examined again.
    RefresherDue {
        /// By when.
        by: Moment,
        /// Because of what.
        because: super::trigger::Kind,
    },
    /// It rests.
    Suspended {
        /// Since when.
        since: Moment,
        /// Because of what.
        because: Rest,
    },
    /// It is gone for good.
    Withdrawn {
        /// Since when.
        at: Moment,
    },
    /// Its time is over.
    Lapsed {
        /// Since when.
        at: Moment,
    },
    /// A newer one has taken its place.
    Renewed {
        /// Since when.
        at: Moment,
    },
}

/// What the state of a certificate follows from.
#[derive(Clone, Copy, Debug)]
pub struct Course<'a> {
    /// When the examination was graded that it rests on.
    pub examined_at: Moment,
    /// When its time is over.
    pub valid_until: Moment,
    /// The machines in its scope, with the versions of their profiles.
    pub machines: &'a [MachineVersion],
    /// What was done to it, oldest first.
    pub events: &'a [Event],
    /// What happened with its holder.
    pub triggers: &'a [Trigger],
}

impl Course<'_> {
    /// The state at a moment. What cannot be undone comes first: withdrawn, renewed, lapsed; then what makes it rest.
    #[must_use]
    pub fn state(&self, now: Moment) -> State {
        let first = |kind| self.events.iter().find(|event| event.kind == kind).map(|event| event.at);
        if let Some(at) = first(EventKind::Withdrawn) {
            return State::Withdrawn { at };
        }
        if let Some(at) = first(EventKind::Renewed) {
            return State::Renewed { at };
        }
        if self.valid_until <= now {
            return State::Lapsed { at: self.valid_until };
        }
        if let Some(since) = self.suspended_since() {
            return State::Suspended { since, because: Rest::ByDecision };
        }
        let touching = self.triggers.iter().filter(|trigger| trigger.touches(self.examined_at, self.machines));
        let Some(pressing) = touching.min_by_key(|trigger| trigger.rests_from()) else { return State::Valid };
        let (from, kind) = (pressing.rests_from(), pressing.kind);
        if from > now {
            return State::RefresherDue { by: from, because: kind };
        }
        let at_once = kind.effect() == super::trigger::Effect::Suspends;
        let because = if at_once { Rest::Trigger(kind) } else { Rest::RefresherOverdue(kind) };
        State::Suspended { since: from, because }
    }

    /// Since when a service manager's suspension lasts.
    fn suspended_since(&self) -> Option<Moment> {
        self.events.iter().fold(None, |since, event| match event.kind {
            EventKind::Suspended => since.or(Some(event.at)),
            EventKind::Reinstated => None,
            EventKind::Withdrawn | EventKind::Renewed => since,
        })
    }
}

impl State {
    /// Whether its holder may be sent to the work.
    #[must_use]
    pub const fn stands(self) -> bool {
        matches!(self, Self::Valid | Self::RefresherDue { .. })
    }

    /// Whether a service manager may do this to it now. A renewal is never a manager's deed.
    #[must_use]
    pub const fn allows(self, deed: EventKind) -> bool {
        match deed {
            EventKind::Suspended => self.stands(),
            EventKind::Reinstated => matches!(self, Self::Suspended { because: Rest::ByDecision, .. }),
            EventKind::Withdrawn => self.stands() || matches!(self, Self::Suspended { .. }),
            EventKind::Renewed => false,
        }
    }

    /// The state's word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Valid => "valid",
            Self::RefresherDue { .. } => "valid, refresher due",
            Self::Suspended { .. } => "suspended",
            Self::Withdrawn { .. } => "withdrawn",
            Self::Lapsed { .. } => "lapsed",
            Self::Renewed { .. } => "renewed",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::trigger::Kind;
    use super::*;
    use proptest::prelude::*;

    const DAY: i64 = 86_400 * 1_000_000;

    #[test]
    fn the_check_character_is_that_of_the_published_examples() {
        // Source: UK blood transfusion services, Red Book, annexe 2 (ISBT 128 check character, ISO/IEC 7064 MOD 37-2).
        assert_eq!(check_character("G123498654321"), Some('H'));
        // Source: ICCBBA IN-015, An Introduction to ISBT 128, 6th edition 2018, section 4.
        assert_eq!(check_character("A999916123456"), Some('Q'));
        assert_eq!(check_character("a"), None);
        assert_eq!(check_character("1-2"), None);
    }

    #[test]
    fn a_number_reads_back_however_it_is_typed() {
        let number = Number { year: 2026, running: 42 };
        let printed = number.to_string();
        assert!(printed.starts_with("2026-00042-"), "{printed}");
        for typed in [printed.clone(), printed.replace('-', " "), printed.replace('-', "").to_lowercase()] {
            assert_eq!(Number::parse(&typed), Some(number), "{typed}");
        }
        for typed in ["", "2026", "2026-00042", "2026-00042-?", "twenty-00042-A", "2026-00000-0", "äääääääääää"]
        {
            assert_eq!(Number::parse(typed), None, "{typed}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_a_number_that_prints_as_it_was_typed_or_none(text in ".{0,20}", near in "[ 0-9A-Za-z*-]{8,24}") {
            for text in [text, near] {
                if let Some(number) = Number::parse(&text) {
                    let plain = |text: &str| text.replace(['-', ' '], "").to_ascii_uppercase();
                    prop_assert_eq!(plain(&number.to_string()), plain(&text));
                }
            }
        }

        #[test]
        fn one_wrong_or_two_swapped_characters_are_found(
            year in 1970_i32..3000, running in 1_i64..3_000_000, at in 0_usize..9, digit in 0_u8..10,
        ) {
            let printed = Number { year, running }.to_string().replace('-', "");
            prop_assert_eq!(Number::parse(&printed), Some(Number { year, running }));
            let mut wrong = printed.clone().into_bytes();
            if wrong[at] != b'0' + digit {
                wrong[at] = b'0' + digit;
                prop_assert_eq!(Number::parse(&String::from_utf8_lossy(&wrong)), None);
            }
            let mut swapped = printed.into_bytes();
            if at + 1 < swapped.len() && swapped[at] != swapped[at + 1] {
                swapped.swap(at, at + 1);
                prop_assert_eq!(Number::parse(&String::from_utf8_lossy(&swapped)), None);
            }
        }
    }

    fn check(events: &[(EventKind, i64)], triggers: &[(Kind, i64)], day: i64, expected: &str) {
        let events: Vec<Event> = events.iter().map(|(kind, at)| Event { kind: *kind, at: Moment(at * DAY) }).collect();
        let trigger = |(kind, at): &(Kind, i64)| Trigger { kind: *kind, at: Moment(at * DAY), machine: None };
        let triggers: Vec<Trigger> = triggers.iter().map(trigger).collect();
        let course = Course {
            examined_at: Moment(0),
            valid_until: Moment(1000 * DAY),
            machines: &[],
            events: &events,
            triggers: &triggers,
        };
        assert_eq!(course.state(Moment(day * DAY)).word(), expected, "day {day}: {events:?} {triggers:?}");
    }

    #[test]
    fn the_events_and_the_day_give_the_state() {
        use EventKind::*;
        check(&[], &[], 1, "valid");
        check(&[], &[], 1000, "lapsed");
        check(&[(Suspended, 5)], &[], 6, "suspended");
        check(&[(Suspended, 5)], &[], 1000, "lapsed");
        check(&[(Suspended, 5), (Reinstated, 7)], &[], 8, "valid");
        check(&[(Suspended, 5), (Withdrawn, 6)], &[], 1001, "withdrawn");
        check(&[(Renewed, 900)], &[], 1001, "renewed");
        check(&[], &[(Kind::NearMiss, 10)], 11, "valid, refresher due");
        check(&[], &[(Kind::NearMiss, 10)], 40, "suspended");
        check(&[], &[(Kind::NearMiss, 10), (Kind::UnsafeAct, 12)], 13, "suspended");
        check(&[(Suspended, 5), (Reinstated, 20)], &[(Kind::UnsafeAct, 12)], 21, "suspended");
    }

    #[test]
    fn what_may_be_done_follows_from_the_state() {
        use EventKind::*;
        let at = Moment(0);
        let all = [Suspended, Reinstated, Withdrawn, Renewed];
        let may = |state: State| all.into_iter().filter(|deed| state.allows(*deed)).collect::<Vec<_>>();
        assert_eq!(may(State::Valid), [Suspended, Withdrawn]);
        assert_eq!(may(State::Suspended { since: at, because: Rest::ByDecision }), [Reinstated, Withdrawn]);
        // What a trigger rests only a new examination clears.
        assert_eq!(may(State::Suspended { since: at, because: Rest::Trigger(Kind::UnsafeAct) }), [Withdrawn]);
        for over in [State::Withdrawn { at }, State::Lapsed { at }, State::Renewed { at }] {
            assert_eq!(may(over), [], "{over:?}");
        }
    }
}
