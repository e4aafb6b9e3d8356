//! Scenario templates: written, checked, reviewed, published, seen by technicians; versions that never change; a broken
//! bank.

mod losing_nothing;
mod retiring;
mod reviewing;

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
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
         show: soot, ground\nfigure: lamps\n\n[draw]\nload0 = {soot}\nfloor = one of straw, dry_grass\n\n[situation]\n\
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

/// Begins a draft of a new scenario; gives its address.
async fn begun(trainer: &mut Client, key: &str) -> String {
    let reply = trainer.post("/templates/new", &[("key", key)]).await;
    assert_eq!(reply.status, 303, "{}", reply.text());
    reply.location().to_owned()
}

/// Begins a draft of a scenario that is there; gives its address.
async fn changing(trainer: &mut Client, key: &str) -> String {
    let reply = trainer.post(&format!("/templates/{key}/change"), &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.text());
    reply.location().to_owned()
}

/// What a page's form holds beside the text.
fn hidden(page: &Reply, name: &str) -> String {
    let input = page.body.split("<input").find(|input| input.contains(&format!("name=\"{name}\"")));
    let value = input.and_then(|input| input.split_once("value=\"")?.1.split_once('"')).map(|(value, _)| value);
    value.unwrap_or_else(|| panic!("no {name} in {}", page.text())).replace("&#x2F;", "/")
}

/// Types a text into the window that shows a page, and presses something.
async fn press_in(trainer: &mut Client, page: &Reply, path: &str, text: &str, deed: &str) -> Reply {
    let (key, base, revision) = (hidden(page, "key"), hidden(page, "base"), hidden(page, "revision"));
    let fields =
        [("key", key), ("base", base), ("revision", revision), ("text", typed(text)), ("deed", deed.to_owned())];
    trainer.post_all(path, &fields.map(|(name, value)| (name.to_owned(), value))).await
}

/// Opens a draft, types a text and presses something.
async fn press(trainer: &mut Client, path: &str, text: &str, deed: &str) -> Reply {
    let page = trainer.get(path).await;
    press_in(trainer, &page, path, text, deed).await
}

/// A second trainer, signed in.
async fn second_trainer(app: &TestApp) -> Client {
    app.person("Test second", "second@example.org", Role::Trainer).await;
    app.signed_in_as("second@example.org").await
}

/// Sends a text to review and has another trainer approve it.
async fn published(author: &mut Client, reviewer: &mut Client, path: &str, text: &str) -> Reply {
    let sent = press(author, path, text, "send").await;
    assert_eq!(sent.location(), format!("{path}?done=sent"), "{}", sent.text());
    let review = format!("{path}/review");
    reviewer.get(&review).await;
    reviewer.post(&review, &[("remark", "Read and tried on three machines."), ("deed", "approve")]).await
}

#[tokio::test]
async fn a_new_scenario_is_kept_checked_mended_reviewed_published_and_asked() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut reviewer = second_trainer(&app).await;
    assert!(trainer.get("/templates").await.text().contains("Straw under the boom"));
    for (key, said) in
        [("no slash", "TOPIC/NAME"), ("drafts/one", "TOPIC/NAME"), ("fire/straw-under-the-boom", "already")]
    {
        let refused = trainer.post("/templates/new", &[("key", key)]).await;
        assert_eq!(refused.status, 422, "{key}");
        assert!(refused.text().contains(said), "{key}: {}", refused.text());
    }
    let draft = begun(&mut trainer, KEY).await;

    // A reading that sits on an edge could be argued about: it is shown at its line, kept, and not sent.
    let looked = press(&mut trainer, &draft, &text(ON_THE_EDGE), "look").await;
    assert_eq!(looked.status, 200);
    assert!(looked.text().contains("too near to an edge"), "{}", looked.text());
    let sent = press(&mut trainer, &draft, &text(ON_THE_EDGE), "send").await;
    assert_eq!(sent.status, 422, "{}", sent.text());
    assert!(trainer.get(&draft).await.body.contains("load0 = one of machine.parked_from, machine.stop_level"));

    // Several things wrong are all said, each beside its line and with a link to it.
    let broken = text(INSIDE).replace("level: 2", "level: 7").replace("soot = load0", "sott = load0");
    let looked = press(&mut trainer, &draft, &broken, "look").await;
    for (line, column, quoted) in [(3, 8, "level: 7"), (14, 1, "sott = load0")] {
        assert!(
            looked.body.contains(&format!("<li id=\"line-{line}\" class=\"line-found\">")),
            "line {line} is marked"
        );
        assert!(looked.body.contains(&format!("href=\"#line-{line}\"")), "and linked");
        let place = format!("Line {line}, column {column} {quoted}");
        assert!(looked.text().contains(&place), "{}", looked.text());
    }

    // Mended: a question of the draft is shown with its key, and still nothing is published.
    let page = trainer.get(&draft).await;
    let fields =
        [("key", KEY), ("base", "0"), ("revision", &hidden(&page, "revision")), ("text", &typed(&text(INSIDE)))];
    let looked = [&fields[..], &[("deed", "look"), ("machine", "hobrek-40"), ("seed", "5")]].concat();
    let looked = trainer.post(&draft, &looked).await.text();
    for part in
        ["No problem was found", "Hobrek 40", "What do you tell the operator", "Shows the belief", "training values"]
    {
        assert!(looked.contains(part), "{part}");
    }
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap(), []);

    let done = published(&mut trainer, &mut reviewer, &draft, &text(INSIDE)).await;
    assert_eq!(done.location(), "/templates/telling/what-to-say-in-the-yard?done=published", "{}", done.text());
    let shown = trainer.get(done.location()).await.text();
    for part in ["version 1 is in use", "Test trainer", "Approved by Test second: Read and tried on three machines."] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    assert!(comes_up_in_practice(&app, KEY, "telling-the-operator").await, "a technician gets it");
    app.stop().await;
}

/// Practises the module until the template has come; every one comes once before any comes twice.
async fn comes_up_in_practice(app: &TestApp, key: &str, module: &str) -> bool {
    let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
    let technician = technician.expect("the store").expect("the technician").id;
    for _ in 0..app.deeds.bank.now().bank.templates().count() {
        let unit = TemperatureUnit::Celsius;
        let asked = ask_practice_question(&app.deeds, technician, unit, module).await.expect("the store");
        let Asked::Question(attempt, position) = asked else { return false };
        let kept = attempts::question(&app.deeds.db, attempt, position).await.expect("a question").question;
        let question: Question = serde_json::from_str(&kept.json).expect("a frozen question");
        let answer = match question.key {
            Key::Options(right) => Answer::Options(right),
            Key::Order(order) => Answer::Order(order),
            Key::Number { value, .. } => Answer::Number(value.value.to_string()),
        };
        let answered = answer_practice_question(&app.deeds, technician, attempt, position, &answer).await;
        let answered = answered.expect("the store");
        assert_eq!(answered, Answered::Graded);
        if kept.template_key == key {
            return true;
        }
    }
    false
}

#[tokio::test]
async fn a_published_version_stays_and_its_changes_are_said_in_words() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut reviewer = second_trainer(&app).await;
    let key = "fire/straw-under-the-boom";
    let first = by_version(&app.deeds.db, DocumentKind::Template, key, 1).await.unwrap();
    let draft = changing(&mut trainer, key).await;
    assert_eq!(changing(&mut trainer, key).await, draft, "whoever writes at it already goes on");
    let same = press(&mut trainer, &draft, &first.source, "send").await;
    assert!(same.text().contains("It was not sent"), "{}", same.text());

    let second = first.source.replace("Straw under the boom", "Straw below the boom").replace("\"oat\", ", "");
    let done = published(&mut trainer, &mut reviewer, &draft, &second).await;
    assert_eq!(done.location(), format!("/templates/{key}?done=published"), "{}", done.text());
    assert_eq!(by_version(&app.deeds.db, DocumentKind::Template, key, 1).await.unwrap(), first);

    let shown = trainer.get(&format!("/templates/{key}")).await.text();
    for part in [
        "What changed since version 1",
        "The title Straw under the boom Straw below the boom",
        "The drawn value \"crop\" one of \"barley\", \"oat\", \"hay\" one of \"barley\", \"hay\"",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let old = trainer.get(&format!("/templates/{key}?version=1")).await.text();
    assert!(old.contains("title: Straw under the boom") && old.contains("This is an earlier version"), "{old}");
    for nothing in
        ["/templates/fire/nothing", "/templates/drafts/999", "/templates/fire/straw-under-the-boom?version=9"]
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
async fn a_case_is_previewed_with_every_part_and_its_key() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let page = trainer.get("/templates/parked/from-the-field-to-the-slab?machine=tarrel-60&seed=1").await;
    assert!(page.text().contains("case"), "its kind");
    let preview = page.between("A question of it", "Its text").expect("a preview");
    for part in 1..=3 {
        assert!(preview.contains(&format!("Part {part} of 3 of a case")), "{preview}");
    }
    assert_eq!(preview.matches("The key and its reasons").count(), 3, "{preview}");
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
    assert_eq!(begun(&mut app.signed_in(Role::Trainer).await, KEY).await, "/templates/drafts/1");
    for role in [Role::Technician, Role::ServiceManager, Role::Administrator] {
        let mut browser = app.signed_in(role).await;
        for path in ["", "/new", "/grammar", "/beliefs", "/drafts/1", "/drafts/1/review", "/fire/straw-under-the-boom"]
        {
            assert_eq!(browser.get(&format!("/templates{path}")).await.status, 404, "{role} {path}");
        }
        for path in ["/templates/new", "/templates/drafts/1", "/templates/drafts/1/review"] {
            let form = [("key", KEY), ("base", "0"), ("revision", "1"), ("text", &text(INSIDE)), ("remark", "x")];
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
    for example in
        ["title: Since the morning", "kind: choose several", "kind: put in order", "kind: number", "kind: lamp panel"]
    {
        assert!(guide.text().contains(example), "{example}");
    }
    assert!(trainer.get("/templates").await.body.contains("<a href=\"/templates/grammar\">How to write one</a>"));
    // The plot of a shift stands there as a drawing, in words and as numbers, and says nothing of what is asked.
    let plotted = trainer.get("/templates/active/a-bump-in-the-line").await;
    assert_eq!(plotted.body.matches("<figure class=\"figure figure-plot\">").count(), 2, "{}", plotted.text());
    for part in
        ["Soot load over the ", "Outlet temperature over the ", " up to this moment: from ", "The numbers in this plot"]
    {
        assert!(plotted.text().contains(part), "{part} in {}", plotted.text());
    }
    let told = |part: &&str| part.contains("regeneration") || part.contains("Band");
    let alternative = plotted.body.split("aria-label=\"").skip(1).filter_map(|rest| rest.split('"').next());
    let alternatives: Vec<&str> = alternative.filter(|text| text.contains("up to this moment")).collect();
    assert!(!alternatives.is_empty() && !alternatives.iter().any(told), "{alternatives:?}");
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
