//! What somebody was told to do by a day, and whether it is done: worked out from certificates and lessons, never typed in.

use crate::units::Moment;
use serde::{Deserialize, Serialize};

/// What kind of thing is assigned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A certificate by a scheme.
    Scheme,
    /// Every lesson of a module.
    Module,
}

impl Kind {
    /// Its word in the record, in addresses and in forms.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Scheme => "scheme",
            Self::Module => "module",
        }
    }

    /// Finds a kind by its word.
    #[must_use]
    pub fn from_id(text: &str) -> Option<Self> {
        [Self::Scheme, Self::Module].into_iter().find(|kind| kind.id() == text)
    }
}

/// How far somebody is with an assignment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Progress {
    /// Not done, and its day is over.
    Overdue,
    /// Not done yet.
    Open,
    /// Done.
    Done,
}

impl Progress {
    /// From whether it is done, and whether its day is over at `now`; `due_end` is the end of that day.
    #[must_use]
    pub const fn of(done: bool, due_end: Moment, now: Moment) -> Self {
        match (done, now.0 >= due_end.0) {
            (true, _) => Self::Done,
            (false, true) => Self::Overdue,
            (false, false) => Self::Open,
        }
    }

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Overdue => "overdue",
            Self::Open => "open",
            Self::Done => "done",
        }
    }
}

/// A certificate by the assigned scheme, as far as it matters here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    /// When the examination was graded that it rests on.
    pub examined_at: Moment,
    /// Until when it is valid.
    pub valid_until: Moment,
    /// Whether it stood on the due day, or stands now when that is earlier.
    pub stood: bool,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
}

impl Held {
    /// Whether it does what was assigned at `made_at`: it was earned since, or it stood and goes on past the due day.
    #[must_use]
    pub const fn does(&self, made_at: Moment, due_end: Moment) -> bool {
        let earned_since = self.examined_at.0 > made_at.0 && !self.withdrawn;
        earned_since || (self.stood && self.valid_until.0 > due_end.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MADE: Moment = Moment(100);
    const DUE: Moment = Moment(200);

    #[test]
    fn the_day_decides_between_open_and_overdue() {
        assert_eq!(Progress::of(false, DUE, Moment(199)), Progress::Open);
        assert_eq!(Progress::of(false, DUE, Moment(200)), Progress::Overdue);
        assert_eq!(Progress::of(true, DUE, Moment(500)), Progress::Done);
    }

    #[test]
    fn a_certificate_counts_when_it_is_new_or_outlasts_the_day() {
        let before = Held { examined_at: Moment(50), valid_until: Moment(300), stood: true, withdrawn: false };
        assert!(before.does(MADE, DUE));
        // It ends before the day: a new one is what was asked for.
        assert!(!Held { valid_until: DUE, ..before }.does(MADE, DUE));
        assert!(!Held { stood: false, ..before }.does(MADE, DUE));
        // Earned late is earned, and stays so when it ends years later.
        let since = Held { examined_at: Moment(250), valid_until: Moment(900), stood: false, withdrawn: false };
        assert!(since.does(MADE, DUE));
        assert!(!Held { withdrawn: true, ..since }.does(MADE, DUE));
    }
}
