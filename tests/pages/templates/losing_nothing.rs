//! Nothing that a trainer typed is lost: a second window, a session that ended, a draft that was dropped.

use super::{INSIDE, KEY, begun, hidden, press, press_in, text, typed};
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::Reply;
use sootmark::domain::people::Role;
use sootmark::store::DraftId;
use sootmark::store::template_drafts::{self, Draft};

async fn kept(app: &TestApp, draft: &str) -> Draft {
    let id: DraftId = draft.rsplit('/').next().expect("a number").parse().expect("a number");
    template_drafts::by_id(&app.deeds.db, id).await.expect("the draft")
}

/// Every field of the form that holds what was typed, as a browser reads them.
fn fields_of(page: &Reply) -> Vec<(String, String)> {
    let main = page.body.split_once("<main").expect("a page").1;
    let value = |input: &str, name: &str| {
        let (value, _) = input.split_once(&format!("{name}=\""))?.1.split_once('"')?;
        let plain = value.replace("&#10;", "\n").replace("&quot;", "\"").replace("&#x2F;", "/").replace("&#x27;", "'");
        Some(plain.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
    };
    let inputs = main.split("<input type=\"hidden\"").skip(1);
    inputs.filter_map(|input| Some((value(input, " name")?, value(input, " value")?))).collect()
}

#[tokio::test]
async fn of_two_windows_the_second_shows_both_texts() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let draft = begun(&mut trainer, KEY).await;
    let (left, right) = (trainer.get(&draft).await, trainer.get(&draft).await);
    let one = text(INSIDE).replace("in the yard", "on the left");
    let other = text(INSIDE).replace("in the yard", "on the right");
    assert_eq!(press_in(&mut trainer, &left, &draft, &one, "keep").await.status, 303);
    let both = press_in(&mut trainer, &right, &draft, &other, "keep").await;
    assert_eq!(both.status, 422);
    for part in ["What to say on the left", "What to say on the right", "Choose one"] {
        assert!(both.text().contains(part), "{part}: {}", both.text());
    }
    assert!(!both.body.contains("data-writes"), "and nothing is kept by itself before they choose");
    assert_eq!(kept(&app, &draft).await.source, one);
    // Pressing again, with both in sight, keeps one's own.
    assert_eq!(press_in(&mut trainer, &both, &draft, &other, "keep").await.status, 303);
    assert_eq!(kept(&app, &draft).await.source, other);
    app.stop().await;
}

#[tokio::test]
async fn what_was_typed_when_the_session_ended_comes_back_after_signing_in() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let draft = begun(&mut trainer, KEY).await;
    let page = trainer.get(&draft).await;
    let mut elsewhere = trainer.clone();
    elsewhere.post("/sign-out", &[]).await;

    let mine = text(INSIDE).replace("What to say", "\"Quoted\" & <kept>: what to say");
    let out = press_in(&mut trainer, &page, &draft, &mine, "keep").await;
    assert_eq!(out.status, 401);
    assert!(out.text().contains("You are signed out") && out.text().contains("\"Quoted\" & <kept>"), "{}", out.text());
    assert!(kept(&app, &draft).await.source.starts_with("title: \n"), "nothing was kept");

    // A wrong password does not lose it either.
    let mut fields = fields_of(&out);
    fields.extend([("email".to_owned(), address_of(Role::Trainer)), ("password".to_owned(), "wrong".to_owned())]);
    let wrong = trainer.post_all("/sign-in", &fields).await;
    assert_eq!(wrong.status, 422);
    let mut fields = fields_of(&wrong);
    fields.extend([("email".to_owned(), address_of(Role::Trainer)), ("password".to_owned(), PASSWORD.to_owned())]);
    let back = trainer.post_all("/sign-in", &fields).await;
    assert_eq!(back.status, 200, "{}", back.text());
    assert!(back.text().contains("You are signed in again"));
    let sent = trainer.post_all(&draft, &fields_of(&back)).await;
    assert_eq!(sent.location(), format!("{draft}?done=kept"), "{}", sent.text());
    assert_eq!(kept(&app, &draft).await.source, mine);
    app.stop().await;
}

#[tokio::test]
async fn a_page_from_before_the_last_sign_in_gives_its_text_back() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let draft = begun(&mut trainer, KEY).await;
    let page = trainer.get(&draft).await;
    let old_token = trainer.form_token.clone();
    let mut trainer = app.signed_in(Role::Trainer).await;
    trainer.form_token = old_token;
    let held = press_in(&mut trainer, &page, &draft, &text(INSIDE), "keep").await;
    assert_eq!(held.status, 403);
    assert!(kept(&app, &draft).await.source.starts_with("title: \n"), "nothing is done without the session's token");
    let sent = trainer.post_all(&draft, &fields_of(&held)).await;
    assert_eq!(sent.status, 303, "{}", sent.text());
    assert_eq!(kept(&app, &draft).await.source, text(INSIDE));
    app.stop().await;
}

#[tokio::test]
async fn a_hidden_character_and_a_dropped_draft_lose_nothing() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let draft = begun(&mut trainer, KEY).await;
    let page = trainer.get(&draft).await;
    let revision = hidden(&page, "revision");
    let odd = text(INSIDE).replace("yard", "ya\u{7}rd");
    let form = [("key", KEY), ("base", "0"), ("revision", &revision), ("text", &typed(&odd)), ("deed", "keep")];
    let refused = trainer.post(&draft, &form).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("hidden character") && refused.body.contains("What do you tell the operator"));

    let dropped = press(&mut trainer, &draft, &text(INSIDE), "drop").await;
    assert_eq!(dropped.location(), "/templates?done=dropped", "{}", dropped.text());
    assert_eq!(kept(&app, &draft).await.source, text(INSIDE), "kept first, and it stays in the database");
    assert!(!trainer.get("/templates").await.text().contains(KEY));
    app.stop().await;
}
