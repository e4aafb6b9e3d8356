//! What changed in a log: lamps, the status, regenerations, what holds them back, sensors that break, silence.
//!
//! The first thing that is said is no change, and neither is a machine that stops saying it.

use super::parameter::{Said, word_of};
use super::readout::{Readout, seconds};
use crate::aftertreatment::signals::{
    ActiveRegeneration, ExhaustHotLamp, FilterLamp, FilterMessage, InhibitReason, RegenerationStatus, Triple,
};
use crate::units::plain_number;
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt;

/// Something that happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// The line that says it, counted from 1.
    pub line: u32,
    /// Microseconds as in the log; `None` in a log without times.
    pub at_us: Option<i64>,
    /// What happened.
    pub what: Happening,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Happening {
    /// The filter lamp changed.
    FilterLamp {
        /// Before.
        from: FilterLamp,
        /// After.
        to: FilterLamp,
    },
    /// The exhaust-hot lamp changed.
    ExhaustHotLamp {
        /// Before.
        from: ExhaustHotLamp,
        /// After.
        to: ExhaustHotLamp,
    },
    /// The machine asks more or less urgently for a regeneration.
    Status {
        /// Before.
        from: RegenerationStatus,
        /// After.
        to: RegenerationStatus,
    },
    /// A regeneration is about to begin.
    RegenerationNeeded,
    /// A regeneration began.
    RegenerationBegan,
    /// A regeneration ended.
    RegenerationEnded,
    /// Something began to hold regenerations back.
    HeldBack {
        /// What.
        reason: InhibitReason,
    },
    /// It holds them back no longer.
    Released {
        /// What.
        reason: InhibitReason,
    },
    /// A sensor or its control unit reports an error in place of a value.
    SensorError {
        /// The number of the parameter (SPN).
        spn: u32,
    },
    /// Nothing about the filter was said for a while.
    Silence {
        /// How long, in seconds.
        seconds: f64,
    },
}

impl fmt::Display for Happening {
    /// As a technician reads it, without a full stop.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plain = |word: &str| word.replace('_', " ");
        match self {
            Self::FilterLamp { from, to } => {
                write!(f, "the filter lamp changes from {} to {}", plain(from.word()), plain(to.word()))
            }
            Self::ExhaustHotLamp { from, to } => {
                write!(f, "the exhaust-hot lamp changes from {} to {}", plain(from.word()), plain(to.word()))
            }
            Self::Status { from, to } => {
                write!(f, "the status changes from {} to {}", plain(from.word()), plain(to.word()))
            }
            Self::RegenerationNeeded => f.write_str("a regeneration is about to begin"),
            Self::RegenerationBegan => f.write_str("a regeneration begins"),
            Self::RegenerationEnded => f.write_str("the regeneration ends"),
            Self::HeldBack { reason } => write!(f, "regeneration is held back: {}", reason.name()),
            Self::Released { reason } => write!(f, "regeneration is no longer held back because {}", reason.name()),
            Self::SensorError { spn } => write!(f, "{} reports an error in place of a value", plain(&word_of(*spn))),
            Self::Silence { seconds } => write!(f, "{} s without a word about the filter", plain_number(*seconds)),
        }
    }
}

/// Silence in seconds that is worth a word; chosen by us: ten minutes are longer than any table of signals waits from line
/// to line.
pub(super) const SILENCE_S: f64 = 600.0;

/// What was last known, and what came of it.
#[derive(Debug, Default)]
pub(super) struct Watch {
    pub(super) events: Vec<Event>,
    known: FilterMessage,
    broken: BTreeSet<u32>,
    riddles: BTreeSet<u32>,
    last_us: Option<i64>,
}

impl Watch {
    /// Whether a value without meaning is the first of its parameter.
    pub(super) fn is_new_riddle(&mut self, spn: u32) -> bool {
        self.riddles.insert(spn)
    }

    /// Looks at what is known after a line that said these things.
    pub(super) fn see(&mut self, line: u32, at_us: Option<i64>, readout: &Readout, said: &[(u32, Said)]) {
        let mut happened = Vec::new();
        if let (Some(at), Some(before)) = (at_us, self.last_us)
            && seconds(at - before) >= SILENCE_S
        {
            happened.push(Happening::Silence { seconds: seconds(at - before) });
        }
        self.last_us = at_us.or(self.last_us);
        for (spn, said) in said {
            if *said == Said::Error {
                if self.broken.insert(*spn) {
                    happened.push(Happening::SensorError { spn: *spn });
                }
            } else {
                self.broken.remove(spn);
            }
        }
        self.compare(&readout.filter, &mut happened);
        self.events.extend(happened.into_iter().map(|what| Event { line, at_us, what }));
    }

    fn compare(&mut self, now: &FilterMessage, happened: &mut Vec<Happening>) {
        let known = &mut self.known;
        if let Some((from, to)) = changed(&mut known.lamp, now.lamp) {
            happened.push(Happening::FilterLamp { from, to });
        }
        if let Some((from, to)) = changed(&mut known.exhaust_hot, now.exhaust_hot) {
            happened.push(Happening::ExhaustHotLamp { from, to });
        }
        if let Some((from, to)) = changed(&mut known.status, now.status) {
            happened.push(Happening::Status { from, to });
        }
        if let Some((from, to)) = changed(&mut known.active, now.active) {
            happened.extend(match (from, to) {
                (_, ActiveRegeneration::Active) => Some(Happening::RegenerationBegan),
                (ActiveRegeneration::Active, _) => Some(Happening::RegenerationEnded),
                _ if to == ActiveRegeneration::Needed => Some(Happening::RegenerationNeeded),
                _ => None,
            });
        }
        for reason in InhibitReason::ALL {
            let place = &mut known.reasons[reason as usize];
            match changed(place, now.reason(reason)) {
                Some((_, Triple::Yes)) => happened.push(Happening::HeldBack { reason }),
                Some(_) => happened.push(Happening::Released { reason }),
                None => {}
            }
        }
    }
}

/// The change from what was known to what is said now; what is not said leaves the known as it is.
fn changed<T: Copy + PartialEq + Default>(known: &mut T, now: T) -> Option<(T, T)> {
    let nobody_says = T::default();
    if now == nobody_says || now == *known {
        return None;
    }
    let from = std::mem::replace(known, now);
    (from != nobody_says).then_some((from, now))
}
