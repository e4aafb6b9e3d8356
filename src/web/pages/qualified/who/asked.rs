//! The question: competence, machine, branch, day, read from an address.
//!
//! Names everything that is wrong with it, each at its field, with what to write instead.

use crate::domain::bank::Bank;
use crate::domain::units::Moment;
use crate::store::BranchId;
use crate::store::branches::Branch;
use crate::web::address::in_query;
use crate::web::dates::{day_in_words, day_of, read_day};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::view::FieldError;
use jiff::civil::Date;
use std::cmp::Ordering;

/// A competence or a machine, with what people call it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Named {
    pub(super) id: String,
    pub(super) name: String,
}

/// What is asked.
#[derive(Clone, Debug)]
pub(super) struct Asked {
    pub(super) competence: Named,
    pub(super) machine: Named,
    /// All branches when there is none.
    pub(super) branch: Option<Branch>,
    pub(super) day: Date,
    /// Whether the day is before today, today, or after.
    pub(super) when: Ordering,
}

/// Reads a question. `open` are the branches that may be asked about, `only` the one that a program is kept to.
pub(super) fn read(
    query: &Fields,
    bank: &Bank,
    open: &[Branch],
    only: Option<BranchId>,
    zone: &str,
    now: Moment,
) -> Result<Asked, Vec<FieldError>> {
    let mut errors = Vec::new();
    let mut wrong = |field: &str, message: String| errors.push(FieldError { field: field.to_owned(), message });
    let typed = |field: &str| query.typed(field).trim().to_owned();

    let competence = bank.competence(&typed("competence"));
    if competence.is_none() {
        let ids = bank.competences().iter().map(|known| known.id.as_str());
        wrong("competence", unknown("competence", &typed("competence"), ids));
    }
    let machine = bank.machine(&typed("machine"));
    if machine.is_none() {
        wrong("machine", unknown("machine", &typed("machine"), bank.machines().map(|known| known.profile.id.as_str())));
    }
    let branch = branch_of(&typed("branch"), open, only);
    if branch.is_none() {
        wrong("branch", unknown("branch", &typed("branch"), open.iter().map(|known| known.name.as_str())));
    }
    let today = day_of(now, zone).map_err(|error: PageError| error.to_string());
    let day = match (typed("day").as_str(), &today) {
        ("", Ok(today)) => Some(*today),
        (text, _) => read_day(text),
    };
    if day.is_none() {
        wrong("day", format!("\"{}\" is no day. Write it as 2026-11-24, or leave it out for today.", typed("day")));
    }
    match (competence, machine, branch, day, today) {
        (Some(competence), Some(machine), Some(branch), Some(day), Ok(today)) => Ok(Asked {
            competence: Named { id: competence.id.clone(), name: competence.name.clone() },
            machine: Named { id: machine.profile.id.clone(), name: machine.profile.name.clone() },
            branch,
            day,
            when: day.cmp(&today),
        }),
        _ => Err(errors),
    }
}

/// The branch of a number or a name; `Some(None)` for all of them.
fn branch_of(typed: &str, open: &[Branch], only: Option<BranchId>) -> Option<Option<Branch>> {
    if typed.is_empty() {
        let own = only.and_then(|only| open.iter().find(|known| known.id == only).cloned());
        return Some(own);
    }
    let folded = typed.to_lowercase();
    let named = |known: &&Branch| known.id.to_string() == folded || known.name.to_lowercase() == folded;
    open.iter().find(named).cloned().map(Some)
}

fn unknown<'a>(what: &str, typed: &str, known: impl Iterator<Item = &'a str>) -> String {
    let known = known.collect::<Vec<_>>().join(", ");
    let known = if known.is_empty() { "none yet".to_owned() } else { known };
    if typed.is_empty() {
        format!("Say which {what}: {known}.")
    } else {
        let typed: String = typed.chars().take(60).collect();
        format!("There is no {what} \"{typed}\". There is: {known}.")
    }
}

impl Asked {
    /// The query that asks for the same.
    pub(super) fn query(&self) -> String {
        let branch = self.branch.as_ref().map(|branch| branch.id.to_string()).unwrap_or_default();
        let (competence, machine) = (in_query(&self.competence.id), in_query(&self.machine.id));
        format!("competence={competence}&machine={machine}&branch={branch}&day={}", self.day)
    }

    /// The answer in a sentence.
    pub(super) fn said(&self, may: usize) -> String {
        let who = match may {
            0 => "Nobody".to_owned(),
            1 => "1 person".to_owned(),
            more => format!("{more} people"),
        };
        let (verb, day) = match self.when {
            Ordering::Less => ("could be sent", format!("on {}", day_in_words(self.day))),
            Ordering::Equal => ("may be sent", "today".to_owned()),
            Ordering::Greater => ("may be sent", format!("on {}", day_in_words(self.day))),
        };
        let at = self.branch.as_ref().map_or_else(String::new, |branch| format!(" from {}", branch.name));
        format!("{who}{at} {verb} {day} to {} on {}.", self.competence.name, self.machine.name)
    }

    /// From what is known the answer is made.
    pub(super) const fn known(&self) -> &'static str {
        match self.when {
            Ordering::Less => {
                "As it was known on that day, from its first moment to its last. Branches and roles are those of today, and who is no longer here is marked."
            }
            Ordering::Equal => "As it is known now, until the end of the day.",
            Ordering::Greater => {
                "As far as it is known today: what holds through the whole of that day unless something happens before."
            }
        }
    }
}
