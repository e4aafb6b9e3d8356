//! Scenario templates: written, checked, published, seen by technicians; versions that never change; a broken bank.

use crate::support::app::{TestApp, address_of};
use crate::support::client::Client;
use sootmark::actions::answer_practice_question::{Answered, answer_practice_question};
use sootmark::actions::ask_practice_question::{Asked, ask_practice_question};
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::Key;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::bank_documents::{DocumentKind, by_version, versions};
use sootmark::store::{attempts, people};

const KEY: &str = "telling/what-to-say-in-the-yard";

/// A template whose soot stands where the caller says.
fn text(soot: &str) -> String {
    format!(
        "title: What to say in the yard\ncompetence: telling\nlevel: 2\nkind: choose one\nmachines: all\n\
         show: soot, ground, lamps\n\n[draw]\nload0 = {soot}\nfloor = one of straw, dry_grass\n\n[situation]\n\
         soot = load0\noutlet = 160 °C\nspeed = 900 rpm\nload = 5 %\nground = floor\nstanding = yes\n\
         park_brake = yes\nneutral = yes\nattachment_down = yes\n\n[story]\nThe {{machine.name}} stands on {{floor}} \
         at the far end of the yard.\n\n[question]\nWhat do you tell the operator to do first?\n\n[answer]\n\
         ask: route\nbelieve: anywhere_is_safe, parked_cures_all\n"
    )
}

const ON_THE_EDGE: &str = "one of machine.parked_from, machine.stop_level";
const INSIDE: &str = "inside parked keep 3 % step 1 %";

/// As a browser sends it: lines end with CR LF.
fn typed(text: &str) -> String {
    text.replace('\n', "\r\n")
}

async fn publish(trainer: &mut Client, key: &str, base: &str, text: &str) -> (u16, String, String) {
    let reply = trainer.post("/templates/publish", &[("key", key), ("base", base), ("text", &typed(text))]).await;
    (reply.status, reply.location().to_owned(), reply.text())
}

#[tokio::test]
async fn a_new_scenario_is_checked_mended_published_and_asked() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    assert!(trainer.get("/templates").await.text().contains("Straw under the boom"));
    assert_eq!(trainer.get("/templates/new").await.status, 200);

    // A reading that sits on an edge could be argued about: it is shown, not published, and nothing typed is lost.
    let form = [("key", KEY), ("base", "0"), ("text", &typed(&text(ON_THE_EDGE)))];
    let checked = trainer.post("/templates/check", &form).await;
    assert_eq!(checked.status, 422);
    assert!(checked.text().contains("too near to an edge"), "{}", checked.text());
    assert!(checked.body.contains("href=\"#text\""), "the summary leads to the field");
    assert!(checked.body.contains("load0 = one of machine.parked_from, machine.stop_level"));
    let (status, _, said) = publish(&mut trainer, KEY, "0", &text(ON_THE_EDGE)).await;
    assert_eq!(status, 422, "{said}");
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap(), []);

    // Several things wrong are all said, with their lines.
    let broken = text(INSIDE).replace("level: 2", "level: 7").replace("soot = load0", "sott = load0");
    let (status, _, said) = publish(&mut trainer, "no slash", "0", &broken).await;
    assert_eq!(status, 422);
    for part in ["things to put right", "Line 3", "Line 13", "TOPIC/NAME"] {
        assert!(said.contains(part), "{part}: {said}");
    }

    // Mended: a question of the draft is shown with its key, and still nothing is published.
    let form = [("key", KEY), ("base", "0"), ("text", &typed(&text(INSIDE))), ("machine", "hobrek-40"), ("seed", "5")];
    let checked = trainer.post("/templates/check", &form).await;
    assert_eq!(checked.status, 200, "{}", checked.text());
    for part in
        ["no problem was found", "Hobrek 40", "What do you tell the operator", "Shows the belief", "training values"]
    {
        assert!(checked.text().contains(part), "{part}");
    }
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap(), []);
    let (status, location, said) = publish(&mut trainer, KEY, "0", &text(INSIDE)).await;
    assert_eq!(
        (status, location.as_str()),
        (303, "/templates/telling/what-to-say-in-the-yard?done=published"),
        "{said}"
    );
    let shown = trainer.get(&location).await.text();
    assert!(shown.contains("version 1 is in use") && shown.contains("Test trainer"), "{shown}");

    assert!(comes_up_in_practice(&app, KEY).await, "a technician gets it");
    app.stop().await;
}

/// Practises the module until the template has come; every one comes once before any comes twice.
async fn comes_up_in_practice(app: &TestApp, key: &str) -> bool {
    let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
    let technician = technician.expect("the store").expect("the technician").id;
    for _ in 0..app.deeds.bank.now().bank.templates().count() {
        let unit = TemperatureUnit::Celsius;
        let asked =
            ask_practice_question(&app.deeds, technician, unit, "telling-the-operator").await.expect("the store");
        let Asked::Question(attempt, position) = asked else { return false };
        let kept = attempts::question(&app.deeds.db, attempt, position).await.expect("a question").question;
        if kept.template_key == key {
            return true;
        }
        let question: Question = serde_json::from_str(&kept.json).expect("a frozen question");
        let answer = match question.key {
            Key::Options(right) => Answer::Options(right),
            Key::Order(order) => Answer::Order(order),
            Key::Number { value, .. } => Answer::Number(value.value.to_string()),
        };
        let answered = answer_practice_question(&app.deeds, technician, attempt, position, &answer).await;
        let answered = answered.expect("the store");
        assert_eq!(answered, Answered::Graded);
    }
    false
}

#[tokio::test]
async fn a_published_version_stays_and_a_later_one_is_not_overwritten_unseen() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let key = "fire/straw-under-the-boom";
    let first = by_version(&app.deeds.db, DocumentKind::Template, key, 1).await.unwrap();
    let second = first.source.replace("Straw under the boom", "Straw below the boom");

    let (status, _, said) = publish(&mut trainer, key, "1", &first.source).await;
    assert_eq!(status, 200);
    assert!(said.contains("Nothing was published"), "{said}");
    assert_eq!(publish(&mut trainer, key, "1", &second).await.0, 303);
    assert_eq!(by_version(&app.deeds.db, DocumentKind::Template, key, 1).await.unwrap(), first);

    // Somebody who began from version 1 sees both texts, and decides.
    let third = first.source.replace("Straw under the boom", "Straw all around");
    let (status, _, said) = publish(&mut trainer, key, "1", &third).await;
    assert_eq!(status, 422);
    for part in ["Straw below the boom", "Straw all around", "Version 2, published meanwhile"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, key).await.unwrap().len(), 2);
    assert_eq!(publish(&mut trainer, key, "2", &third).await.0, 303);

    let newest = trainer.get(&format!("/templates/{key}")).await;
    assert!(newest.text().contains("Straw all around"));
    let old = trainer.get(&format!("/templates/{key}?version=1")).await.text();
    assert!(old.contains("title: Straw under the boom") && old.contains("This is an earlier version"), "{old}");
    for nothing in
        ["/templates/fire/nothing", "/templates/fire/nothing/edit", "/templates/fire/straw-under-the-boom?version=9"]
    {
        assert_eq!(trainer.get(nothing).await.status, 404, "{nothing}");
    }
    app.stop().await;
}

#[tokio::test]
async fn the_same_seed_previews_the_same_question_and_the_next_another() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut shown = async |seed: u32, unit: &str| {
        let path = format!("/templates/passive/hours-until-it-helps-itself?machine=tarrel-60&seed={seed}&unit={unit}");
        trainer.get(&path).await.between("A question of it", "Its text").expect("a preview").to_owned()
    };
    let (one, again, next) = (shown(1, "celsius").await, shown(1, "celsius").await, shown(2, "celsius").await);
    assert_eq!(one, again);
    assert_ne!(one.replace("seed=2", ""), next.replace("seed=3", ""));
    assert!(one.contains("either way"), "the key of a number with its tolerance");
    assert!(one.contains("°C") && shown(1, "fahrenheit").await.contains("°F</dd>"));
    app.stop().await;
}

#[tokio::test]
async fn a_broken_file_leaves_the_last_good_version_in_use_and_trainers_see_it() {
    let app = TestApp::start_with_bank().await;
    let mut files = bank_files::embedded();
    let good = files.iter().filter(|file| file.key == "fire/straw-under-the-boom").count();
    assert_eq!(good, 1);
    for file in files.iter_mut().filter(|file| file.key == "fire/straw-under-the-boom") {
        file.text = file.text.replace("ask: route", "ask: rout");
    }
    load_bank(&app.deeds, files, Vec::new(), 0).await.expect("the server goes on");
    let read = app.deeds.bank.now();
    assert_eq!(read.bank.template("fire/straw-under-the-boom").map(|entry| entry.version), Some(1));

    let mut trainer = app.signed_in(Role::Trainer).await;
    let list = trainer.get("/templates").await.text();
    for part in
        ["To put right in the question bank", "question-bank/templates/fire/straw-under-the-boom.scenario", "rout"]
    {
        assert!(list.contains(part), "{part}: {list}");
    }
    assert!(list.contains("problems: a newer text is not used"));
    app.stop().await;
}

#[tokio::test]
async fn only_trainers_see_keys() {
    let app = TestApp::start_with_bank().await;
    for role in [Role::Technician, Role::ServiceManager, Role::Administrator] {
        let mut browser = app.signed_in(role).await;
        for path in
            ["", "/new", "/grammar", "/beliefs", "/fire/straw-under-the-boom", "/fire/straw-under-the-boom/edit"]
        {
            assert_eq!(browser.get(&format!("/templates{path}")).await.status, 404, "{role} {path}");
        }
        for path in ["/templates/check", "/templates/publish"] {
            let form = [("key", KEY), ("base", "0"), ("text", &text(INSIDE))];
            assert_eq!(browser.post(path, &form).await.status, 404, "{role} {path}");
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn the_guide_and_the_beliefs_can_be_read() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let guide = trainer.get("/templates/grammar").await;
    assert!(guide.body.contains("<table>") && guide.text().contains("You never type the right answer"));
    let nothing = trainer.get("/templates/beliefs").await.text();
    assert!(nothing.contains("No answer of the last 90 days shows a misconception"), "{nothing}");
    let found = trainer.get("/templates?search=straw&competence=fire").await.text();
    assert!(found.contains("Straw under the boom") && !found.contains("In what order"), "{found}");
    assert!(trainer.get("/templates?search=zzz").await.text().contains("No scenario matches"));

    // A wrong answer that a misconception gives is counted.
    let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
    let technician = technician.expect("the store").expect("the technician").id;
    let mut name = "";
    while name.is_empty() {
        let unit = TemperatureUnit::Celsius;
        let asked = ask_practice_question(&app.deeds, technician, unit, "fire-and-burns").await.unwrap();
        let Asked::Question(attempt, position) = asked else { panic!("nothing to ask") };
        let kept = attempts::question(&app.deeds.db, attempt, position).await.unwrap().question;
        let question: Question = serde_json::from_str(&kept.json).unwrap();
        let Key::Options(right) = &question.key else { panic!("the module asks for options only") };
        let one = question.shown.kind == sootmark::domain::scenario::Kind::ChooseOne;
        let believed = question.choices.iter().position(|choice| choice.believes.is_some());
        let chosen = believed.filter(|place| one && !right.contains(place));
        let answer = Answer::Options(chosen.map_or_else(|| right.clone(), |place| vec![place]));
        answer_practice_question(&app.deeds, technician, attempt, position, &answer).await.unwrap();
        let id = chosen.and_then(|place| question.choices[place].believes.as_deref()).unwrap_or_default();
        name = sootmark::domain::scenario::misconception::find(id).map_or("", |found| found.name);
    }
    let counted = trainer.get(&format!("/templates/beliefs?branch={}", app.branch)).await.text();
    assert!(counted.contains(name), "{counted}");
    app.stop().await;
}
