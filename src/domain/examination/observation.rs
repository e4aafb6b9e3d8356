//! A practical task seen at a machine: its checklist, how each step was marked, and what that comes to.
//!
//! A checklist is made by [`make`] from a machine profile and never edited: which steps are critical follows from the model.
//! Never decides about a certificate, and never knows who watched whom. The operator's manual, local codes and licensed
//! practice decide at the real machine.

mod make;
mod tasks;

pub use make::make;

use crate::aftertreatment::hazard::{Hazard, SignalWord};
use crate::aftertreatment::profile::Caution;
use serde::{Deserialize, Serialize};

/// How checklists are made now; stands in each, so that one can be told years later how it came about.
pub const MAKING: u32 = 1;

/// Of the steps that apply and are not critical, this many in a hundred have to be seen; chosen by us: one in five may be
/// forgotten without the task being done unsafely.
pub const SEEN_AT_LEAST_PERCENT: usize = 80;

/// A practical task.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Task {
    /// What is looked at before the day's work.
    DailyCheck,
    /// A parked regeneration from the first look to the last note.
    ParkedRegeneration,
    /// What is done at the stop level.
    StopAndCall,
    /// What a service technician does before a filter is opened for ash.
    FilterRemoval,
}

impl Task {
    /// Every task, the simplest first.
    pub const ALL: [Self; 4] = [Self::DailyCheck, Self::ParkedRegeneration, Self::StopAndCall, Self::FilterRemoval];

    /// The word in scheme files, addresses and records.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::DailyCheck => "daily-check",
            Self::ParkedRegeneration => "parked-regeneration",
            Self::StopAndCall => "stop-and-call",
            Self::FilterRemoval => "filter-removal",
        }
    }

    /// Finds a task by its word.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|task| task.id() == id)
    }

    /// What people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DailyCheck => "Daily check",
            Self::ParkedRegeneration => "Parked regeneration",
            Self::StopAndCall => "Stop and call service",
            Self::FilterRemoval => "Preparing a filter for removal",
        }
    }
}

/// The machine's words for a hazard, as they stood when the checklist was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FrozenCaution {
    /// The hazard.
    pub hazard: Hazard,
    /// How bad it can be (ANSI Z535).
    pub signal: SignalWord,
    /// What is dangerous.
    pub what: String,
    /// What can happen.
    pub consequence: String,
    /// What to do.
    pub avoid: String,
}

impl From<&Caution> for FrozenCaution {
    fn from(of: &Caution) -> Self {
        Self {
            hazard: of.hazard,
            signal: of.signal,
            what: of.what.clone(),
            consequence: of.consequence.clone(),
            avoid: of.avoid.clone(),
        }
    }
}

/// One step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ListStep {
    /// What it is called in records, unlike that of every other step of its list.
    pub id: String,
    /// What the candidate has to do or say.
    pub action: String,
    /// Why.
    pub reason: String,
    /// Whether missing it fails the whole observation.
    pub critical: bool,
    /// What can hurt somebody here, worst first; each has its words in the list's cautions.
    pub hazards: Vec<Hazard>,
}

/// A task's steps on one machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Checklist {
    /// [`MAKING`] when it was made.
    pub making: u32,
    /// The task.
    pub task: Task,
    /// The machine's word.
    pub machine: String,
    /// What people call the machine.
    pub machine_name: String,
    /// Everything that can hurt somebody at this machine's filter, worst first.
    pub cautions: Vec<FrozenCaution>,
    /// The steps, in order.
    pub steps: Vec<ListStep>,
}

/// How a step was marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// It was done, or said, as it should be.
    Seen,
    /// It was not.
    NotSeen,
    /// It cannot be done at this machine or place; the remark says why.
    NotApplicable,
}

impl Mark {
    /// Every mark.
    pub const ALL: [Self; 3] = [Self::Seen, Self::NotSeen, Self::NotApplicable];

    /// The word in forms and records.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::NotSeen => "not_seen",
            Self::NotApplicable => "not_applicable",
        }
    }

    /// What people read.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Seen => "Seen",
            Self::NotSeen => "Not seen",
            Self::NotApplicable => "Not applicable",
        }
    }

    /// Finds a mark by its word.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mark| mark.id() == id)
    }
}

/// A step as it was marked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Marked {
    /// How.
    pub mark: Mark,
    /// The assessor's words; may be empty except where the step did not apply.
    pub remark: String,
}

/// Why an observation cannot be signed yet: the step's place, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Open {
    /// Nothing is marked there.
    Unmarked(usize),
    /// It is said not to apply, and not why.
    NoReason(usize),
    /// A critical step always applies.
    CriticalLeftOut(usize),
}

/// What an observation comes to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outcome {
    /// Whether the task was done safely and well enough.
    pub passed: bool,
    /// Critical steps that were not seen, by place from 1. One is enough to fail.
    pub missed_critical: Vec<usize>,
    /// Other steps that were not seen, by place from 1.
    pub missed: Vec<usize>,
    /// Steps that did not apply, by place from 1.
    pub left_out: Vec<usize>,
}

impl Checklist {
    /// What is still open before it can be signed, in the steps' order. `marks` stand in the steps' order too.
    #[must_use]
    pub fn open(&self, marks: &[Option<Marked>]) -> Vec<Open> {
        let one = |(place, step): (usize, &ListStep)| match marks.get(place - 1).and_then(Option::as_ref) {
            None => Some(Open::Unmarked(place)),
            Some(marked) if marked.mark != Mark::NotApplicable => None,
            Some(_) if step.critical => Some(Open::CriticalLeftOut(place)),
            Some(marked) => marked.remark.trim().is_empty().then_some(Open::NoReason(place)),
        };
        (1..).zip(&self.steps).filter_map(one).collect()
    }

    /// What the marks come to; nothing while something is open.
    #[must_use]
    pub fn outcome(&self, marks: &[Option<Marked>]) -> Option<Outcome> {
        if !self.open(marks).is_empty() {
            return None;
        }
        let mut outcome = Outcome { passed: false, missed_critical: vec![], missed: vec![], left_out: vec![] };
        let mut others = 0;
        for ((place, step), marked) in (1..).zip(&self.steps).zip(marks.iter().flatten()) {
            others += usize::from(!step.critical && marked.mark != Mark::NotApplicable);
            match marked.mark {
                Mark::Seen => {}
                Mark::NotSeen if step.critical => outcome.missed_critical.push(place),
                Mark::NotSeen => outcome.missed.push(place),
                Mark::NotApplicable => outcome.left_out.push(place),
            }
        }
        let seen = others - outcome.missed.len();
        outcome.passed = outcome.missed_critical.is_empty() && seen * 100 >= others * SEEN_AT_LEAST_PERCENT;
        Some(outcome)
    }

    /// The words for a hazard.
    #[must_use]
    pub fn caution(&self, hazard: Hazard) -> Option<&FrozenCaution> {
        self.cautions.iter().find(|caution| caution.hazard == hazard)
    }
}
