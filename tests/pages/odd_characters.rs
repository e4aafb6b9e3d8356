//! Characters that nobody sees: U+0000, which PostgreSQL takes in no text, is answered as a page that is not there or as something
//! typed wrongly; and what shows nothing is not taken for a text.

use crate::support::app::{TestApp, address_of};
use crate::support::database::for_each_database;
use sootmark::domain::people::Role;

#[tokio::test]
async fn a_zero_in_a_path_or_a_query_is_no_page() {
    for_each_database(async |db| {
        let app = TestApp::start_with_bank_on(db).await;
        let mut trainer = app.signed_in(Role::Trainer).await;
        for path in [
            "/machines/%00",
            "/machines/tarrel-60%00",
            "/machines/%00/edit",
            "/machines/new?from=%00",
            "/templates/%00/%00",
            "/templates/fire/%00/retire",
            "/record?search=a%00",
        ] {
            let reply = trainer.get(path).await;
            assert_eq!(reply.status, 404, "{path}: {}", reply.text());
        }
        for path in ["/templates/%00/%00/retire", "/templates/%00/%00/change"] {
            assert_eq!(trainer.post(path, &[("reason", "Nobody needs it.")]).await.status, 404, "{path}");
        }
        // What is decoded once more would be one; it is not.
        assert_eq!(trainer.get("/machines?x=%2500").await.status, 200);
        assert_eq!(trainer.get("/machines/%2500").await.status, 404);
        app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn a_zero_in_an_address_that_is_looked_for_is_said_at_its_field() {
    for_each_database(async |db| {
        let app = TestApp::start_with_bank_on(db).await;
        let key = "a".repeat(64);
        let mut trainer = app.signed_in(Role::Trainer).await;
        trainer.get("/refreshers").await;
        let fields = [("key", key.as_str()), ("email", "ann\0@example.org"), ("kind", "near_miss"), ("text", "Smoke.")];
        let refused = trainer.post("/refreshers", &fields).await;
        assert!(refused.status == 422 && refused.text().contains("hidden character"), "{}", refused.text());
        let mut manager = app.signed_in(Role::ServiceManager).await;
        manager.get("/assignments").await;
        let due =
            [("key", key.as_str()), ("thing", "module:lamps"), ("group", ""), ("email", "\0"), ("due", "2026-12-01")];
        let refused = manager.post("/assignments", &due).await;
        assert!(refused.status == 422 && refused.text().contains("hidden character"), "{}", refused.text());
        app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn what_nobody_sees_is_no_text_no_label_and_no_name() {
    let app = TestApp::start_with_bank().await;
    let (key, email, branch) = ("a".repeat(64), address_of(Role::Technician), app.branch.to_string());
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    trainer.get("/refreshers").await;
    administrator.get("/branches").await;
    for unseen in ["\u{200B}", "\u{2060}", "\u{202E}", "\u{AD}\u{3164}", "\u{301}"] {
        let happened = [("key", key.as_str()), ("email", &email), ("kind", "near_miss"), ("text", unseen)];
        let refused = trainer.post("/refreshers", &happened).await;
        assert!(refused.text().contains("Write down what happened"), "{unseen:?}: {}", refused.text());
        let click = manager.get("/keys").await.between("name=\"click\" value=\"", "\"").expect("a click").to_owned();
        let label = [("label", unseen), ("branch", ""), ("click", &click)];
        let refused = manager.post("/keys", &label).await;
        assert!(refused.text().contains("Write down which program"), "{unseen:?}: {}", refused.text());
        let new = [("name", unseen), ("email", "new@example.org"), ("branch", &branch), ("role", "technician")];
        assert_eq!(administrator.post("/people/invite", &new).await.status, 422, "{unseen:?}");
        let named = [("name", unseen), ("time_zone", "UTC")];
        assert_eq!(administrator.post("/branches", &named).await.status, 422, "{unseen:?}");
    }
    assert!(app.letters().await.is_empty(), "nobody was invited");
    // Accents on letters, and what joins the letters of some scripts, are as welcome as before.
    let new =
        [("name", "E\u{301}va"), ("email", "new@example.org"), ("branch", branch.as_str()), ("role", "technician")];
    assert_eq!(administrator.post("/people/invite", &new).await.status, 303);
    app.stop().await;
}
