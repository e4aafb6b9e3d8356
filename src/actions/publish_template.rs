//! Publishing a scenario template without a review, as the command line does for whoever runs the server: a new version,
//! after the model has proved it on every machine it fits. In the program, [`super::review_template`] publishes.
//!
//! A published version is never changed. Nothing is published that the check does not find clean.

pub use super::publish_version::Published;
use super::publish_version::{Checked, publish_version};
use super::{ActionError, Deeds};
use crate::domain::bank::{Bank, DocumentKind};
use crate::domain::document::Problem;
use crate::domain::scenario::check::check;
use crate::domain::scenario::{Machine, Template};
use crate::store::PersonId;

/// How often a template is tried on each machine before it is published; chosen by us: a fault in one draw of fifty is
/// found with more than 98 % certainty.
pub const SEEDS: u64 = 200;

/// The topic that no template can have: the addresses of drafts begin with it.
const TAKEN: &str = "drafts";

/// Publishes a template. `base` is the version that the trainer started from; 0 for a new one.
///
/// # Errors
/// When the store does not answer.
pub async fn publish_template(
    deeds: &Deeds,
    trainer: PersonId,
    key: &str,
    base: u32,
    text: &str,
) -> Result<Published, ActionError> {
    let problems = checked(deeds, key, text, SEEDS).await?;
    if !problems.is_empty() {
        return Ok(Published::Problems(problems));
    }
    let checked = Checked { kind: DocumentKind::Template, key, base, text, deed: "template_imported" };
    publish_version(deeds, trainer, checked).await
}

/// What [`problems_of`] finds, while others are served: some thousand questions are a core's work for a moment.
pub(super) async fn checked(deeds: &Deeds, key: &str, text: &str, seeds: u64) -> Result<Vec<Problem>, ActionError> {
    let (read, key, text) = (deeds.bank.now(), key.to_owned(), text.to_owned());
    let found = tokio::task::spawn_blocking(move || problems_of(&read.bank, &key, &text, seeds)).await;
    found.map_err(|_| ActionError::Busy("the check of a scenario was broken off"))
}

/// Everything that is wrong with a template's text, on every machine it fits.
#[must_use]
pub fn problems_of(bank: &Bank, key: &str, text: &str, seeds: u64) -> Vec<Problem> {
    let mut problems = Vec::new();
    if let Some(message) = name_problem(key) {
        problems.push(Problem::new(key, 0, "name", message));
    }
    match Template::read(key, key, text, &bank.lexicon()) {
        Ok(template) => {
            let machines: Vec<Machine> = bank.machines().cloned().collect();
            problems.extend(check(key, &template, &machines, seeds));
        }
        Err(found) => problems.extend(found),
    }
    problems
}

/// What is wrong with a template's name, if anything.
#[must_use]
pub fn name_problem(key: &str) -> Option<&'static str> {
    let word = |word: &str| {
        (1..=60).contains(&word.len())
            && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-' || b == b'_')
    };
    let good = key.split_once('/').is_some_and(|(topic, name)| word(topic) && topic != TAKEN && word(name));
    (!good)
        .then_some("The name is TOPIC/NAME, of lower case letters, digits, - and _, such as fire/straw-under-the-boom.")
}
