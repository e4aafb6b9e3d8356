//! Retired: nothing new is asked from it, what was asked stays and is made and graded again; a new version brings it back.

use super::{changing, comes_up_in_practice, published, second_trainer};
use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::{Sat, sit};
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::domain::examination::form::assemble;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::{Question, Template};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::bank_documents::{DocumentKind, DocumentState, by_version, versions};
use sootmark::store::{attempts, people};

const KEY: &str = "fire/straw-under-the-boom";
const MODULE: &str = "fire-and-burns";

async fn retire(trainer: &mut Client, key: &str, version: &str) -> Reply {
    let path = format!("/templates/{key}/retire");
    trainer.get(&path).await;
    trainer.post(&path, &[("version", version), ("reason", "Nobody stacks straw there any more.")]).await
}

/// Whether any of many forms of a scheme asks from a template.
fn comes_up_in_examinations(app: &TestApp, key: &str) -> bool {
    let read = app.deeds.bank.now();
    let mut schemes = 0;
    let found = read.bank.schemes().any(|entry| {
        schemes += 1;
        (0..40_u8).any(|seed| {
            let form = assemble(&read.bank, &entry.scheme, [seed; 32], TemperatureUnit::Celsius).expect("a form");
            form.iter().any(|question| question.source.template == key)
        })
    });
    assert!(schemes > 0);
    found
}

#[tokio::test]
async fn a_retired_scenario_asks_nothing_until_a_new_version_brings_it_back() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut reviewer = second_trainer(&app).await;
    assert!(comes_up_in_practice(&app, KEY, MODULE).await && comes_up_in_examinations(&app, KEY), "before");

    let silent = trainer.post(&format!("/templates/{KEY}/retire"), &[("version", "1"), ("reason", "")]).await;
    assert_eq!(silent.status, 422, "a reason is asked for");
    let done = retire(&mut trainer, KEY, "1").await;
    assert_eq!(done.location(), format!("/templates/{KEY}?done=retired"), "{}", done.text());
    let page = trainer.get(&format!("/templates/{KEY}")).await.text();
    assert!(page.contains("It is retired") && page.contains("Retired: Nobody stacks straw"), "{page}");
    assert!(!comes_up_in_practice(&app, KEY, MODULE).await && !comes_up_in_examinations(&app, KEY), "after");
    let listed = trainer.get("/templates?state=retired").await.text();
    assert!(listed.contains("Straw under the boom") && listed.contains("1 of"), "{listed}");
    // Starting the program again with the same files does not bring it back.
    load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.unwrap();
    assert!(app.deeds.bank.now().bank.template(KEY).is_none());

    let first = by_version(&app.deeds.db, DocumentKind::Template, KEY, 1).await.unwrap();
    let draft = changing(&mut trainer, KEY).await;
    // The same text will do.
    assert_eq!(published(&mut trainer, &mut reviewer, &draft, &first.source).await.status, 303);
    let states: Vec<_> = versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap();
    let states: Vec<_> = states.into_iter().map(|version| (version.version, version.state)).collect();
    use DocumentState::{Published, Retired};
    assert_eq!(states, [(3, Published), (2, Retired), (1, Published)]);
    assert_eq!(app.deeds.bank.now().bank.template(KEY).map(|entry| entry.version), Some(3));
    assert!(comes_up_in_examinations(&app, KEY), "it is back");
    app.stop().await;
}

#[tokio::test]
async fn a_sitting_from_before_is_made_again_with_the_retired_scenario() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let person = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.unwrap().unwrap().id;
    let attempt = sit(&app, person, "first-day", Sat::Right).await;
    let grades = attempts::grades(&app.deeds.db, attempt).await.unwrap();
    let kept = attempts::questions(&app.deeds.db, attempt).await.unwrap();
    let key = kept[0].question.template_key.clone();
    let path = format!("/templates/{key}/retire");
    let done = trainer.post(&path, &[("version", "1"), ("reason", "Old."), ("though_needed", "yes")]).await;
    assert_eq!(done.status, 303, "{}", done.text());
    let read = app.deeds.bank.now();
    assert!(read.bank.template(&key).is_none());

    // From the attempt's seed and the version in the database, byte by byte.
    let seed = attempts::by_id(&app.deeds.db, person, attempt).await.unwrap().seed;
    let version =
        by_version(&app.deeds.db, DocumentKind::Template, &key, kept[0].question.template_version).await.unwrap();
    let template = Template::read(&key, &key, &version.source, &read.bank.lexicon()).unwrap();
    let machine = read.bank.machine(&kept[0].question.machine_key).unwrap();
    let asked: Question = serde_json::from_str(&kept[0].question.json).unwrap();
    let again = (0..kept.len() as u64 + 40).find_map(|stream| {
        let made = generate(&template, 1, machine, Seed { secret: seed, stream }, TemperatureUnit::Celsius).ok()?;
        (made.bytes() == asked.bytes()).then_some(made)
    });
    assert!(again.is_some(), "the question is made again from its seed");
    assert_eq!(attempts::grades(&app.deeds.db, attempt).await.unwrap(), grades, "and the grades stand");
    let result = app.signed_in(Role::Technician).await.get(&format!("/record/sitting/{attempt}")).await;
    assert_eq!(result.status, 200, "the person still sees it");
    app.stop().await;
}

#[tokio::test]
async fn what_an_examination_needs_is_not_retired_without_a_second_thought() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let read = app.deeds.bank.now();
    let of_fire = read.bank.templates().filter(|entry| entry.template.competence == "fire");
    let keys: Vec<String> = of_fire.map(|entry| entry.template.id.clone()).collect();
    let mut refused = None;
    for key in &keys {
        let reply = retire(&mut trainer, key, "1").await;
        if reply.status == 422 {
            refused = Some((key, reply.text()));
            break;
        }
    }
    let (key, said) = refused.expect("the last one is needed");
    assert!(said.contains("examinations need it") && said.contains("\"fire\""), "{said}");
    assert!(app.deeds.bank.now().bank.template(key).is_some());
    let path = format!("/templates/{key}/retire");
    let form = [("version", "1"), ("reason", "It is wrong."), ("though_needed", "yes")];
    assert_eq!(trainer.post(&path, &form).await.status, 303);
    assert!(app.deeds.bank.now().bank.template(key).is_none());
    app.stop().await;
}
