//! How deeds about people are written into the record.

use crate::domain::units::Moment;
use crate::store::PersonId;
use crate::store::assignments::ToWhom;
use crate::store::record::NewEntry;

/// Something was done about a person. `by` is who did it; nobody when it was done on the command line.
pub(super) fn about_person(at: Moment, by: Option<PersonId>, deed: &str, person: PersonId) -> NewEntry {
    about_person_with(at, by, deed, person, serde_json::Value::Null)
}

/// The same, with what else must be known years later.
pub(super) fn about_person_with(
    at: Moment,
    by: Option<PersonId>,
    deed: &str,
    person: PersonId,
    detail: serde_json::Value,
) -> NewEntry {
    NewEntry {
        at,
        actor_id: by,
        deed: deed.to_owned(),
        subject_kind: "person".to_owned(),
        subject_id: Some(person.0),
        detail,
    }
}

/// Something was assigned, or taken back: about the person, the branch or the role that it is for.
pub(super) fn about_assignment(
    at: Moment,
    by: PersonId,
    deed: &str,
    to: ToWhom,
    mut detail: serde_json::Value,
) -> NewEntry {
    let (kind, id) = match to {
        ToWhom::Person(person) => ("person", Some(person.0)),
        ToWhom::Branch(branch) => ("branch", Some(branch.0)),
        ToWhom::Role(role) => {
            detail["role"] = role.id().into();
            ("role", None)
        }
    };
    NewEntry { at, actor_id: Some(by), deed: deed.to_owned(), subject_kind: kind.to_owned(), subject_id: id, detail }
}

/// Something was done with the database as a whole, on the command line.
pub(super) fn about_database(at: Moment, deed: &str, detail: serde_json::Value) -> NewEntry {
    NewEntry {
        at,
        actor_id: None,
        deed: deed.to_owned(),
        subject_kind: "database".to_owned(),
        subject_id: None,
        detail,
    }
}
