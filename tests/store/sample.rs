//! A small invented organisation for the store's tests.

use sootmark::domain::{
    people::{EmailAddress, PersonName, Role},
    units::{Moment, TemperatureUnit},
};
use sootmark::store::{
    AttemptId, BranchId, Db, PersonId, StoreError,
    attempts::{self, AttemptKind, NewAttempt, NewQuestion},
    branches, people, write,
};

/// 24 Nov 2026, 08:00 UTC.
pub(crate) const MORNING: Moment = Moment(1_795_507_200_000_000);

pub(crate) fn new_person(branch_id: BranchId, name: &str, email: &str, role: Role) -> people::NewPerson {
    people::NewPerson {
        branch_id,
        email: EmailAddress::parse(email).unwrap(),
        display_name: PersonName::parse(name).unwrap(),
        role,
        password_phc: None,
        temperature_unit: TemperatureUnit::Celsius,
        scheme_key: None,
        created_at: MORNING,
    }
}

/// A branch with one technician in it.
pub(crate) async fn technician(db: &Db) -> (BranchId, PersonId) {
    write(db, async |tx| {
        let branch = branches::insert(tx, "Coldbrook", "Europe/Dublin").await?;
        let new = new_person(branch, "Ines Varga", "ines@fennmark.example", Role::Technician);
        Ok::<_, StoreError>((branch, people::insert(tx, new).await?))
    })
    .await
    .unwrap()
}

pub(crate) fn question(competence: &str) -> NewQuestion {
    NewQuestion {
        template_key: format!("{competence}-first"),
        template_version: 1,
        machine_key: "tarrel-60".to_owned(),
        machine_version: 1,
        model_version: 1,
        competence_key: competence.to_owned(),
        mandatory: competence == "fire",
        json: format!("{{\"asks\": \"{competence} at 95 % \u{2013} 600 \u{b0}C\"}}"),
        part: 1,
        parts: 1,
    }
}

pub(crate) fn examination(person_id: PersonId) -> NewAttempt {
    NewAttempt {
        person_id,
        kind: AttemptKind::Examination,
        scheme_key: Some("first-day".to_owned()),
        scheme_version: Some(1),
        module_key: None,
        seed: [7; 32],
        temperature_unit: TemperatureUnit::Fahrenheit,
        started_at: MORNING,
        deadline_at: Some(MORNING.plus_seconds(1800)),
    }
}

/// An open examination with a question on each competence.
pub(crate) async fn sit(db: &Db, person: PersonId, competences: &[&str]) -> AttemptId {
    let questions: Vec<NewQuestion> = competences.iter().map(|key| question(key)).collect();
    write(db, async |tx| attempts::open_attempt(tx, examination(person), questions).await).await.unwrap()
}
