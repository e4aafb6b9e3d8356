//! A scenario template as the program holds it after reading: draws, situation, story, what is asked.
//!
//! A template that exists has been read whole: every name is known and every expression understood. Whether it has
//! one right answer on every machine is for [`super::check`].

use super::language::{Expr, Text};
use super::question::{Kind, Question};
use super::vocabulary::Field;
use crate::aftertreatment::operator::OperatorAction;
use crate::document::Problem;

/// The word of a template that gives several questions in a row, where others have their kind.
pub const CASE: &str = "case";

/// Names that templates may use beside the model's own words.
#[derive(Clone, Debug, Default)]
pub struct Lexicon {
    /// Competences, each with what it asks of its templates.
    pub competences: Vec<CompetenceRules>,
    /// Machines by their ids.
    pub machines: Vec<String>,
    /// Bands that at least one machine has.
    pub bands: Vec<String>,
}

/// What a competence asks of its templates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CompetenceRules {
    /// The competence's word.
    pub id: String,
    /// Whether a wrong answer forbids a certificate.
    pub mandatory: bool,
    /// The school grade from which its questions can be read.
    pub reading_grade: u8,
}

/// A trainer's text with drawn values, whose key the model supplies.
#[derive(Clone, Debug, PartialEq)]
pub struct Template {
    /// Its name, unique in the bank: `fire/straw-under-the-boom`.
    pub id: String,
    /// What the list shows.
    pub title: String,
    /// The competence it asks for.
    pub competence: String,
    /// Whether a wrong answer forbids a certificate.
    pub mandatory: bool,
    /// The school grade from which its questions must be readable.
    pub reading_grade: u8,
    /// 1 knows, 2 applies, 3 judges.
    pub level: u8,
    /// The machines it fits; empty means all.
    pub machines: Vec<String>,
    /// How far the soot stays from every edge, in percent.
    pub guard_percent: f64,
    /// Readings that may sit on an edge.
    pub edges: Vec<EdgeReading>,
    pub(super) draws: Vec<Located<(String, Draw)>>,
    /// One; a case has several, in the order in which things unfold.
    pub(super) parts: Vec<Part>,
}

/// One question of a template, and what has happened since the one before it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Part {
    /// How it is answered.
    pub kind: Kind,
    pub beside: Beside,
    pub lets: Vec<Let>,
    pub situation: Vec<Located<(Field, Expr)>>,
    pub shift: Vec<Located<ShiftLine>>,
    pub conditions: Vec<Located<Expr>>,
    pub story: Vec<Located<Text>>,
    pub question: Located<Text>,
    pub hints: Vec<Located<Text>>,
    pub answer: Answer,
}

/// Something with the line it stands on.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Located<T> {
    pub line: u32,
    pub what: T,
}

/// A reading that can be too near to an edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeReading {
    /// Soot and ash load.
    Soot,
    /// Outlet temperature.
    Outlet,
    /// Engine speed.
    Speed,
    /// Hours since the last parked regeneration.
    Hours,
}

impl EdgeReading {
    pub(super) fn from_id(id: &str) -> Option<Self> {
        Some(match id {
            "soot" => Self::Soot,
            "outlet" => Self::Outlet,
            "speed" => Self::Speed,
            "hours" => Self::Hours,
            _ => return None,
        })
    }
}

/// What stands beside the story.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Beside {
    /// The readings; `None` for every one that is set.
    pub readings: Option<Vec<Field>>,
    pub figures: Vec<Figure>,
    /// The line of `figure:`, 0 when there is none.
    pub figure_line: u32,
    /// The line of a `show:` that still names figures, as it was done before they had a line of their own.
    pub figures_in_show: Option<u32>,
}

/// A drawing beside the story.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Figure {
    /// The soot gauge with the machine's bands.
    Gauge,
    /// The lamps of the panel, lit or not.
    Lamps,
    /// The course of soot load and outlet temperature over the shift.
    Plot,
}

impl Figure {
    pub(super) const WORDS: [(&'static str, Self); 3] =
        [("gauge", Self::Gauge), ("lamps", Self::Lamps), ("plot", Self::Plot)];

    pub(super) fn from_id(id: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(word, _)| *word == id).map(|(_, figure)| *figure)
    }
}

/// A drawn value.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Draw {
    Range {
        from: Expr,
        to: Expr,
        step: Expr,
    },
    Inside {
        stretch: String,
        keep: Expr,
        step: Expr,
    },
    /// Choices with how often each comes up beside the others.
    OneOf(Vec<(Expr, usize)>),
    /// What is drawn hangs on what was drawn before.
    If {
        condition: Expr,
        then: Box<Self>,
        otherwise: Box<Self>,
    },
    /// Not drawn at all: a branch of an `if` may be fixed.
    Fixed(Expr),
}

/// One thing of the time before the moment that is asked about.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum ShiftLine {
    Work { minutes: Expr, load: Expr, speed: Expr, ambient: Option<Expr> },
    Do(OperatorAction),
}

/// A value worked out from others.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Let {
    pub line: u32,
    pub name: String,
    pub expr: Expr,
    /// Whether it asks the model, and so is worked out only after the situation.
    pub asks_model: bool,
}

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ask {
    Route,
    Band,
    Lamps,
    BlockedBy,
    Number,
    Statements,
    Permitted,
    Forbidden,
    Hazards,
    Procedure,
    Rank,
}

impl Ask {
    pub(super) const WORDS: [(&'static str, Self); 11] = [
        ("route", Self::Route),
        ("band", Self::Band),
        ("lamps", Self::Lamps),
        ("blocked_by", Self::BlockedBy),
        ("number", Self::Number),
        ("statements", Self::Statements),
        ("permitted", Self::Permitted),
        ("forbidden", Self::Forbidden),
        ("hazards", Self::Hazards),
        ("procedure", Self::Procedure),
        ("rank", Self::Rank),
    ];

    pub(super) fn suits(self, kind: Kind) -> bool {
        match kind {
            Kind::ChooseOne => {
                matches!(
                    self,
                    Self::Route | Self::Band | Self::Lamps | Self::BlockedBy | Self::Number | Self::Statements
                )
            }
            Kind::ChooseSeveral => matches!(
                self,
                Self::Permitted | Self::Forbidden | Self::Lamps | Self::Hazards | Self::BlockedBy | Self::Statements
            ),
            Kind::PutInOrder => matches!(self, Self::Procedure | Self::Rank),
            Kind::Number => self == Self::Number,
            Kind::LampPanel => self == Self::Lamps,
        }
    }
}

/// The answer's part of a template.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Answer {
    pub line: u32,
    pub ask: Ask,
    pub options: usize,
    /// How many of the written options a question shows; all of them where no line says so.
    pub pool: Option<usize>,
    pub steps: usize,
    /// Misconceptions to take wrong answers from first, as places in the list of all.
    pub believe: Vec<usize>,
    pub key: Option<Located<Expr>>,
    pub step: Option<Expr>,
    pub tolerance: Option<Expr>,
    pub unit: Option<crate::units::Unit>,
    /// Whether a part of the right options earns a part of the question.
    pub by_part: bool,
    pub written: Vec<WrittenOption>,
}

/// An option that the trainer wrote, with the condition or rank that the model decides.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct WrittenOption {
    pub line: u32,
    pub text: Text,
    pub decides: Expr,
    pub because: Text,
    pub believes: Option<usize>,
}

impl Template {
    /// Reads a template from its text.
    ///
    /// # Errors
    /// Every problem in the text, each with its line.
    pub fn read(id: &str, file: &str, text: &str, lexicon: &Lexicon) -> Result<Self, Vec<Problem>> {
        super::template_reader::read(id, file, text, lexicon)
    }

    /// How it is answered; nothing for a case, whose parts differ.
    #[must_use]
    pub fn kind(&self) -> Option<Kind> {
        match self.parts.as_slice() {
            [one] => Some(one.kind),
            _ => None,
        }
    }

    /// How people say what kind it is.
    #[must_use]
    pub fn kind_words(&self) -> &'static str {
        self.kind().map_or(CASE, Kind::words)
    }

    /// How many questions one draw of it gives.
    #[must_use]
    pub fn part_count(&self) -> usize {
        self.parts.len()
    }

    /// The part that a question was made of.
    pub(super) fn part_of(&self, question: &Question) -> &Part {
        let place = question.shown.case.as_ref().map_or(0, |case| case.part.saturating_sub(1));
        // A question of another template's has no part here; the first one is as good as any for a line number.
        &self.parts[place.min(self.parts.len() - 1)]
    }

    /// Whether it claims to fit a machine.
    #[must_use]
    pub fn fits(&self, machine_id: &str) -> bool {
        self.machines.is_empty() || self.machines.iter().any(|fits| fits == machine_id)
    }
}
