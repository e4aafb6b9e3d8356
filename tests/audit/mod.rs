//! The record held against the database, attempts made again, and what somebody finds who tampers with either.

mod assigned;
mod backups;
mod certified;
mod histories;
mod non_interference;
mod observed;
mod proposed;
mod replay;
mod standing;
mod tamper;
mod watched;

use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, begin, grant, right, sit};
use sootmark::actions::answer_practice_question::{Answered, answer_practice_question};
use sootmark::actions::ask_practice_question::{Asked, ask_practice_question};
use sootmark::actions::close_overdue::close_overdue;
use sootmark::actions::hold_debrief::{DebriefHeld, hold_debrief};
use sootmark::actions::load_bank::load_bank;
use sootmark::actions::save_answer::{AnswerSaved, save_answer};
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::bank::DocumentKind;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{AttemptId, Db, attempts, people};

/// An invented organisation with one attempt of each fate.
pub(crate) struct Fates {
    pub(crate) app: TestApp,
    /// Everything right.
    pub(crate) passed: AttemptId,
    /// A mandatory safety question missed, and talked about.
    pub(crate) failed: AttemptId,
    /// Handed in by the clock with one answer.
    pub(crate) expired: AttemptId,
    /// Still being sat, with one answer.
    pub(crate) open: AttemptId,
    /// Practice with two answers.
    pub(crate) practice: AttemptId,
}

impl Fates {
    /// Makes it on a database.
    pub(crate) async fn on(db: Db) -> Self {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
        let mut people = Vec::new();
        for name in ["Ines Varga", "Owen Lisle", "Mara Tindle", "Piet Hallam"] {
            let email = format!("{}@fennmark.example", name.to_lowercase().replace(' ', "."));
            people.push(app.person(name, &email, Role::Technician).await);
        }
        let passed = sit(&app, people[0], "first-day", Sat::Right).await;
        grant(&app, passed).await;
        let failed = sit(&app, people[1], "first-day", Sat::MissingFire).await;
        let trainer = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Trainer)).await.expect("the store");
        let trainer = trainer.expect("the trainer").id;
        let held = hold_debrief(&app.deeds, trainer, failed, "We walked round the machine.").await.expect("the store");
        assert_eq!(held, DebriefHeld::Held);
        let practice = practise(&app, people[0]).await;
        let expired = begin(&app, people[2], "first-day").await;
        answer_first(&app, people[2], expired).await;
        app.clock.advance(24 * 3600);
        assert_eq!(close_overdue(&app.deeds).await.expect("the store"), 1);
        // The bank goes on; what was asked before stays what it was.
        let mut files = bank_files::embedded();
        for file in files.iter_mut().filter(|file| file.kind == DocumentKind::Template) {
            file.text.push_str("\n\n");
        }
        load_bank(&app.deeds, files, Vec::new(), 0).await.expect("the bank");
        let open = begin(&app, people[3], "first-day").await;
        answer_first(&app, people[3], open).await;
        Self { app, passed, failed, expired, open, practice }
    }
}

async fn answer_first(app: &TestApp, person: sootmark::store::PersonId, attempt: AttemptId) {
    let question = questions(app, attempt).await.swap_remove(0);
    let saved = save_answer(&app.deeds, person, attempt, 1, &right(&question)).await.expect("the store");
    assert!(matches!(saved, AnswerSaved::Saved(_)), "{saved:?}");
}

async fn practise(app: &TestApp, person: sootmark::store::PersonId) -> AttemptId {
    let mut practised = None;
    for _ in 0..2 {
        let unit = TemperatureUnit::Fahrenheit;
        let asked = ask_practice_question(&app.deeds, person, unit, "fire-and-burns").await.expect("the store");
        let Asked::Question(attempt, position) = asked else { panic!("{asked:?}") };
        let place = usize::try_from(position - 1).expect("a place");
        let question = questions(app, attempt).await.swap_remove(place);
        let answer = right(&question);
        let graded = answer_practice_question(&app.deeds, person, attempt, position, &answer).await.expect("the store");
        assert_eq!(graded, Answered::Graded);
        practised = Some(attempt);
    }
    practised.expect("an attempt")
}

async fn questions(app: &TestApp, attempt: AttemptId) -> Vec<Question> {
    let asked = attempts::questions(&app.deeds.db, attempt).await.expect("the questions");
    asked.iter().map(|asked| serde_json::from_str(&asked.question.json).expect("a question")).collect()
}
