//! Practice: a question is asked, answered once, and explained; its key stays on the server until then.

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use sootmark::domain::bank::TemplateEntry;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::question::{Key, Kind, Question};
use sootmark::domain::units::plain_number;
use sootmark::store::{AttemptId, attempts};
use std::collections::BTreeSet;

/// Where the next question of a module stands.
async fn ask(browser: &mut Client, module: &str) -> String {
    let reply = browser.post(&format!("/practise/{module}"), &[]).await;
    assert_eq!(reply.status, 303, "{module}: {}", reply.text());
    assert!(reply.location().starts_with("/practise/question/"), "{}", reply.location());
    reply.location().to_owned()
}

/// The question behind an address, with its key.
async fn behind(app: &TestApp, path: &str) -> Question {
    let numbers: Vec<i64> = path.rsplit('/').take(2).map(|number| number.parse().expect("a number")).collect();
    let position = i32::try_from(numbers[0]).expect("a position");
    let asked = attempts::question(&app.deeds.db, AttemptId(numbers[1]), position).await.expect("the question");
    serde_json::from_str(&asked.question.json).expect("a frozen question")
}

/// The fields of the right answer, or of a wrong one.
fn fields(question: &Question, right: bool) -> Vec<(String, String)> {
    let count = question.choices.len();
    let choice =
        |places: Vec<usize>| places.into_iter().map(|place| ("choice".to_owned(), place.to_string())).collect();
    match &question.key {
        Key::Options(key) if right => choice(key.clone()),
        Key::Options(key) => choice((0..count).filter(|place| !key.contains(place)).take(1).collect()),
        Key::Order(key) => {
            let mut order = key.clone();
            if !right {
                order.swap(0, 1);
            }
            let place = |(place, option): (usize, &usize)| (format!("place_{option}"), (place + 1).to_string());
            order.iter().enumerate().map(place).collect()
        }
        Key::Number { value, tolerance } => {
            let off = if right { 0.0 } else { 3.0 * tolerance.value + 1.0 };
            vec![("number".to_owned(), (value.value + off).to_string())]
        }
    }
}

async fn send(browser: &mut Client, path: &str, fields: &[(String, String)]) -> Reply {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    browser.post(path, &fields).await
}

/// That nothing of the answer stands on the page of an open question.
pub(super) fn nothing_given_away(page: &Reply, question: &Question) {
    let told = page.text();
    for choice in &question.choices {
        // A reason that the situation itself already tells gives nothing away.
        let told_already = question.shown.story.iter().any(|paragraph| paragraph.contains(&choice.why));
        assert!(told_already || !told.contains(&choice.why), "{} is on the page", choice.why);
        if let Some(believes) = &choice.believes {
            assert!(!told.contains(believes.as_str()), "{believes} is on the page");
        }
    }
    for reason in &question.reasons {
        assert!(!told.contains(reason.as_str()), "{reason} is on the page");
    }
    for wrong in &question.wrong_numbers {
        assert!(!told.contains(&wrong.why), "{} is on the page", wrong.why);
    }
    for never in ["is-right", "is-wrong", " checked", "believes", "tolerance"] {
        assert!(!page.body.contains(never), "{never} is on the page");
    }
    if let Key::Number { value, .. } = &question.key {
        // What the question itself shows, and a digit or two that any page has, give nothing away.
        let told = serde_json::to_string(&question.shown).expect("what is shown");
        let number = plain_number(value.value);
        assert!(number.len() < 3 || told.contains(&number) || !page.text().contains(&number), "{value} is on the page");
    }
}

#[tokio::test]
async fn a_question_of_each_kind_is_asked_answered_and_explained() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let modules: Vec<String> = app.deeds.bank.now().bank.modules().iter().map(|module| module.id.clone()).collect();
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    let mut asked = 0;
    for round in 0..6 {
        for module in &modules {
            let path = ask(&mut browser, module).await;
            let question = behind(&app, &path).await;
            let open = browser.get(&path).await;
            assert_eq!(open.status, 200);
            assert!(open.text().contains(&question.shown.prompt), "{}", question.shown.prompt);
            nothing_given_away(&open, &question);
            let right = (asked + round) % 2 == 0;
            let sent = send(&mut browser, &path, &fields(&question, right)).await;
            assert_eq!((sent.status, sent.location()), (303, path.as_str()), "{}", sent.text());
            let explained = browser.get(&path).await;
            assert_eq!(explained.status, 200);
            let verdict = if right { "<h2>Right</h2>" } else { "<h2>Not right</h2>" };
            assert!(explained.body.contains(verdict), "{} of {}", verdict, question.source.template);
            for text in question.reasons.iter().chain(question.choices.iter().map(|choice| &choice.why)) {
                assert!(explained.text().contains(text.as_str()), "{text} is not explained");
            }
            for caution in &question.cautions {
                assert!(explained.text().contains(&caution.avoid), "{} is not said", caution.avoid);
            }
            if let Key::Number { value, .. } = &question.key {
                assert!(explained.text().contains(&value.to_string()));
            }
            let goes_on = question.part().0 < question.part().1;
            let next = if goes_on { "Go on with the case" } else { "Next question" };
            for words in [next, "Back to the module", "operator's manual"] {
                assert!(explained.text().contains(words), "{words} in {}", explained.text());
            }
            seen.insert(question.shown.kind.words());
            asked += 1;
        }
        if seen.len() == Kind::ALL.len() {
            break;
        }
    }
    assert_eq!(seen.len(), Kind::ALL.len(), "only {seen:?} in {asked} questions");
    let list = browser.get("/practise").await.text();
    assert!(list.contains("answered") && list.contains("rightly"), "{list}");
    app.stop().await;
}

#[tokio::test]
async fn a_case_is_practised_part_after_part() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let read = app.deeds.bank.now();
    let is_case = |entry: &&TemplateEntry| entry.template.part_count() > 1;
    let competence = read.bank.templates().find(is_case).expect("a case").template.competence.clone();
    let module = read.bank.modules().iter().find(|module| module.competences.contains(&competence)).expect("a module");
    let turns = read.bank.templates().filter(|entry| module.competences.contains(&entry.template.competence)).count();
    let mut path = ask(&mut browser, &module.id).await;
    for _ in 0..turns {
        if behind(&app, &path).await.shown.case.is_some() {
            break;
        }
        send(&mut browser, &path, &fields(&behind(&app, &path).await, true)).await;
        path = ask(&mut browser, &module.id).await;
    }
    let parts = behind(&app, &path).await.part().1;
    assert!(parts > 1, "no case came in {turns} turns");
    let (before, position) = path.rsplit_once('/').expect("an address");
    let first: usize = position.parse().expect("a position");
    for part in 1..=parts {
        let path = format!("{before}/{}", first + part - 1);
        let question = behind(&app, &path).await;
        assert_eq!(question.part(), (part, parts));
        let open = browser.get(&path).await;
        assert!(open.text().contains(&format!("Part {part} of {parts} of a case")), "{}", open.text());
        nothing_given_away(&open, &question);
        if part < parts {
            let later = format!("{before}/{}", first + part);
            for early in [browser.get(&later).await, send(&mut browser, &later, &[]).await] {
                assert_eq!(early.status, 409, "{}", early.text());
            }
        }
        send(&mut browser, &path, &fields(&question, part % 2 == 0)).await;
        let explained = browser.get(&path).await;
        assert_eq!(explained.text().contains("Go on with the case"), part < parts, "{}", explained.text());
        let next = ask(&mut browser, &module.id).await;
        assert_eq!(next, format!("{before}/{}", first + part), "the next question is the next part");
    }
    app.stop().await;
}

#[tokio::test]
async fn what_a_wrong_answer_believes_is_named_and_what_to_learn_against_it() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    for _ in 0..12 {
        let path = ask(&mut browser, "fire-and-burns").await;
        let question = behind(&app, &path).await;
        let believed = question.choices.iter().position(|choice| choice.believes.is_some());
        let Some(place) = believed.filter(|_| question.shown.kind == Kind::ChooseOne) else {
            send(&mut browser, &path, &fields(&question, true)).await;
            continue;
        };
        browser.post(&path, &[("choice", &place.to_string())]).await;
        let id = question.choices[place].believes.clone().expect("a belief");
        let misconception = sootmark::domain::scenario::misconception::find(&id).expect("a misconception");
        let page = browser.get(&path).await;
        for text in [misconception.name, misconception.believes, misconception.teach] {
            assert!(page.text().contains(text), "{text}");
        }
        assert!(page.body.contains("What your answer takes for true"));
        app.stop().await;
        return;
    }
    panic!("no question with a misconception in twelve");
}

#[tokio::test]
async fn what_is_no_answer_is_shown_again_as_it_was_typed() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let modules: Vec<String> = app.deeds.bank.now().bank.modules().iter().map(|module| module.id.clone()).collect();
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    for module in modules.iter().cycle().take(66) {
        let path = ask(&mut browser, module).await;
        let question = behind(&app, &path).await;
        if seen.insert(question.shown.kind.words()) {
            let (wrong, field): (Vec<(&str, &str)>, _) = match question.shown.kind {
                Kind::ChooseOne => (vec![("choice", "0"), ("choice", "1")], "choice"),
                Kind::ChooseSeveral | Kind::LampPanel => (vec![], "choice"),
                Kind::PutInOrder => (vec![("place_0", "1"), ("place_1", "1")], "place"),
                Kind::Number => (vec![("number", "<b>\"x")], "number"),
            };
            let again = browser.post(&path, &wrong).await;
            assert_eq!(again.status, 422, "{}", again.text());
            for part in ["<title>Error: ", &format!("href=\"#{field}\""), &format!("id=\"{field}-error\"")] {
                assert!(again.body.contains(part), "{part} in {}", again.body);
            }
            assert!(again.body.contains(&format!("id=\"{field}\"")), "the link leads somewhere");
            if question.shown.kind == Kind::Number {
                assert!(again.body.contains("value=\"&lt;b&gt;&quot;x\""), "{}", again.body);
            } else if question.shown.kind != Kind::ChooseOne {
                nothing_given_away(&again, &question);
            }
            assert_eq!(
                browser.post(&path, &[("choice", "77"), ("place_0", "x"), ("number", "1 kg/x")]).await.status,
                422
            );
            // Nothing was saved: the question still waits.
            assert_eq!(ask(&mut browser, module).await, path);
        }
        send(&mut browser, &path, &fields(&question, true)).await;
        if seen.len() == Kind::ALL.len() {
            break;
        }
    }
    assert_eq!(seen.len(), Kind::ALL.len(), "{seen:?}");
    app.stop().await;
}

#[tokio::test]
async fn the_first_answer_stands() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let path = ask(&mut browser, "lamps").await;
    let question = behind(&app, &path).await;
    send(&mut browser, &path, &fields(&question, false)).await;
    let second = send(&mut browser, &path, &fields(&question, true)).await;
    assert_eq!(second.status, 303);
    assert!(browser.get(&path).await.body.contains("<h2>Not right</h2>"));
    let card = browser.get("/learn/lamps").await.text();
    assert!(card.contains("1 question answered, 0 rightly"), "{card}");
    app.stop().await;
}

#[tokio::test]
async fn nobody_sees_or_answers_anothers_question() {
    let app = TestApp::start_with_bank().await;
    let path = ask(&mut app.signed_in(Role::Technician).await, "lamps").await;
    let mut other = app.signed_in_as(&address_of(Role::Trainer)).await;
    assert_eq!(other.get(&path).await.status, 404);
    assert_eq!(other.post(&path, &[("choice", "0")]).await.status, 404);
    let mut own = app.signed_in(Role::Technician).await;
    for nowhere in
        ["/practise/question/1/99", "/practise/question/999/1", "/practise/question/x/1", "/practise/question/1/-1"]
    {
        assert_eq!(own.get(nowhere).await.status, 404, "{nowhere}");
    }
    assert_eq!(own.post("/practise/no-such", &[]).await.status, 404);
    assert_eq!(own.get(&path).await.status, 200);
    app.stop().await;
}

#[tokio::test]
async fn a_hint_waits_until_it_is_asked_for() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let mut hinted = 0;
    for _ in 0..8 {
        let path = ask(&mut browser, "lamps").await;
        let question = behind(&app, &path).await;
        let page = browser.get(&path).await;
        assert_eq!(page.body.contains("<summary>Show a hint</summary>"), !question.hints.is_empty(), "{}", page.text());
        for hint in &question.hints {
            hinted += 1;
            // Inside the folded part, which is closed.
            let folded =
                page.body.split("<details class=\"hints\">").nth(1).and_then(|rest| rest.split("</details>").next());
            assert!(folded.is_some_and(|folded| folded.contains(&hint[..20])), "{hint} in {}", page.body);
        }
        send(&mut browser, &path, &fields(&question, true)).await;
    }
    assert!(hinted > 0, "one of the lamps' scenarios has a hint");
}
