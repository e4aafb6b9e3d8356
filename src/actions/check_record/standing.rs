//! What people are here, where they belong and whether they may sign in, followed through the entries that tell of it and held
//! against the rows.
//!
//! Never says more than is on record. Entries about an invitation of before did not tell role and branch: those are held from the
//! first change on.

use super::{RecordChecked, detail};
use crate::store::people::{self, Person};
use crate::store::record::{self, RecordEntry};
use crate::store::{PersonId, StoreError};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What entries tell of somebody.
const TOLD: [&str; 3] = ["role", "branch", "active"];

/// What is on record about one person, as far as it is.
#[derive(Default)]
struct Standing(BTreeMap<&'static str, Value>);

impl Standing {
    /// Takes an entry in, and gives what it says to have been otherwise before than the entries before it do.
    fn follow(&mut self, entry: &RecordEntry) -> Vec<&'static str> {
        let says = detail(entry);
        let mut otherwise = Vec::new();
        match entry.deed.as_str() {
            "person_invited" => {
                self.0.insert("active", json!(true));
                let told = ["role", "branch"].into_iter().filter_map(|what| Some((what, says.get(what)?.clone())));
                self.0.extend(told);
            }
            "person_changed" => {
                for what in TOLD {
                    let before = self.0.insert(what, says[what]["to"].clone());
                    if before.is_some_and(|before| before != says[what]["from"]) {
                        otherwise.push(what);
                    }
                }
            }
            "person_anonymised" => _ = self.0.insert("active", json!(false)),
            _ => {}
        }
        otherwise
    }

    /// What the row says otherwise.
    fn differs(&self, row: &Person) -> Vec<&'static str> {
        let stands = [json!(row.role.id()), json!(row.branch_id), json!(row.active)];
        let both = TOLD.into_iter().zip(stands);
        both.filter(|(what, stands)| self.0.get(what).is_some_and(|told| told != stands))
            .map(|(what, _)| what)
            .collect()
    }
}

/// Checks everybody of whom the record tells.
pub(super) async fn check_standings(db: &impl ConnectionTrait, found: &mut RecordChecked) -> Result<(), StoreError> {
    let mut told: BTreeMap<PersonId, Standing> = BTreeMap::new();
    for entry in record::of_kind(db, "person").await? {
        if !["person_invited", "person_changed", "person_anonymised"].contains(&entry.deed.as_str()) {
            continue;
        }
        let person = PersonId(entry.subject_id.unwrap_or_default());
        let otherwise = told.entry(person).or_default().follow(&entry);
        if !otherwise.is_empty() {
            let what = otherwise.join(", ");
            let says = format!("when it was changed (entry {}), it was not what was on record: {what}", entry.id);
            found.fault(format!("person {person}"), says);
        }
    }
    for (person, standing) in told {
        let about = format!("person {person}");
        match people::by_id(db, person).await {
            Ok(row) => {
                let differs = standing.differs(&row);
                if !differs.is_empty() {
                    found.fault(about, format!("it is not what was put on record: {}", differs.join(", ")));
                }
            }
            Err(StoreError::NotFound) => found.fault(about, "it is on record, and is not there"),
            Err(error) => return Err(error),
        }
    }
    Ok(())
}
