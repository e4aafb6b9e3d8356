//! What the list is asked for: branch, competence, state, part of a name; and the people that match.

use super::super::record::stood::{Stood, Subject, subjects};
use crate::domain::bank::Bank;
use crate::domain::people::{Permission, Role, allows};
use crate::domain::units::Moment;
use crate::store::BranchId;
use crate::store::read::matrix::{MatrixFilter, MatrixRow, matrix};
use crate::web::App;
use crate::web::address::in_query;
use crate::web::error::PageError;
use crate::web::form::Fields;

/// The states that can be asked for, with their words.
pub(super) const STATES: [(&str, &str); 7] = [
    ("may_be_sent", "may be sent"),
    ("qualified", "qualified"),
    ("expiring", "expiring"),
    ("refresher", "refresher due"),
    ("suspended", "suspended"),
    ("waits", "waits for a decision"),
    ("missing", "missing"),
];

/// What was asked for. What nobody knows is left out, as if it had not been asked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Filter {
    pub(super) branch: Option<BranchId>,
    pub(super) competence: Option<String>,
    pub(super) state: Option<&'static str>,
    pub(super) role: Option<Role>,
    pub(super) search: String,
}

impl Filter {
    pub(super) fn read(query: &Fields, bank: &Bank) -> Self {
        let state = query.typed("state");
        Self {
            branch: query.typed("branch").parse().ok(),
            competence: bank.competence(query.typed("competence")).map(|known| known.id.clone()),
            state: STATES.into_iter().find(|(id, _)| *id == state).map(|(id, _)| id),
            role: Role::from_id(query.typed("role")),
            search: query.typed("search").trim().chars().filter(|c| !c.is_control()).take(100).collect(),
        }
    }

    /// The query that asks for the same.
    pub(super) fn query(&self) -> String {
        let branch = self.branch.map(|branch| branch.to_string()).unwrap_or_default();
        let competence = self.competence.as_deref().unwrap_or_default();
        let state = self.state.unwrap_or_default();
        let role = self.role.map_or("", Role::id);
        format!(
            "branch={branch}&competence={}&state={state}&role={role}&search={}",
            in_query(competence),
            in_query(&self.search)
        )
    }

    /// Whether a state is among those asked for.
    pub(super) fn takes(&self, stood: &Stood) -> bool {
        match self.state {
            None => true,
            Some("may_be_sent") => stood.may_be_sent(),
            Some(word) => stood.word() == word,
        }
    }
}

/// A person with where they stand, competence by competence.
pub(super) struct Line {
    pub(super) row: MatrixRow,
    pub(super) stood: Vec<Stood>,
}

/// The people that match, by branch and name, and the competences that their standings are in.
pub(super) struct Lines {
    pub(super) subjects: Vec<Subject>,
    pub(super) lines: Vec<Line>,
    /// The place of the competence that was asked for.
    pub(super) asked: Option<usize>,
}

impl Lines {
    /// Reads them: a fixed number of queries, whatever the number of people.
    pub(super) async fn read(app: &App, bank: &Bank, filter: &Filter, now: Moment) -> Result<Self, PageError> {
        // Always all competences: an open safety miss in another one is said beside the one that was asked for.
        let of_branch = MatrixFilter { branch: filter.branch, ..MatrixFilter::default() };
        let rows = matrix(&app.deeds.db, &of_branch).await?;
        let subjects = subjects(bank, rows.iter().flat_map(|row| row.cells.keys()));
        let asked = filter.competence.as_ref().and_then(|key| subjects.iter().position(|one| one.key == *key));
        let searched = filter.search.to_lowercase();
        let line = |mut row: MatrixRow| {
            let entries = std::mem::take(&mut row.cells);
            let stood = Stood::in_all(bank, &subjects, row.scheme_key.as_deref(), entries, &row.certification, now);
            Line { row, stood }
        };
        let mut lines: Vec<Line> = rows
            .into_iter()
            // Whoever cannot be examined has nothing to be listed with, except what they earned in an earlier role.
            .filter(|row| allows(row.role, Permission::SitExaminations) || !row.cells.is_empty())
            .filter(|row| filter.role.is_none_or(|role| role == row.role))
            .filter(|row| {
                row.display_name.to_lowercase().contains(&searched) || row.email.to_lowercase().contains(&searched)
            })
            .map(line)
            .filter(|line| match asked {
                Some(at) => filter.takes(&line.stood[at]),
                None => filter.state.is_none() || line.stood.iter().any(|stood| filter.takes(stood)),
            })
            .collect();
        if let Some(at) = asked {
            // Stable: by branch and name within each state.
            lines.sort_by_key(|line| rank(&line.stood[at]));
        }
        Ok(Self { subjects, lines, asked })
    }
}

/// Who may be sent comes first.
pub(super) fn rank(stood: &Stood) -> u8 {
    match stood.word() {
        "qualified" => 0,
        "expiring" => 1,
        "refresher" => 2,
        "waits" => 3,
        "suspended" => 4,
        "missing" => 5,
        _ => 6,
    }
}
