//! The page of letters, the choices on the account page, and the page that ends letters.

use crate::support::app::{TestApp, address_of};
use crate::support::sittings::certify;
use sootmark::actions::write_due_letters::write_due_letters;
use sootmark::domain::people::Role;
use sootmark::domain::units::Moment;
use sootmark::store::{StoreError, branches, certificates, outbox, people, write};

/// Invites somebody to a branch.
async fn invite(app: &TestApp, name: &str, email: &str, branch: &str) {
    let mut by = app.signed_in(Role::Administrator).await;
    let fields = [("name", name), ("email", email), ("branch", branch), ("role", "technician")];
    assert_eq!(by.post("/people/invite", &fields).await.status, 303, "{email}");
}

async fn second_branch(app: &TestApp) -> String {
    let added = write::<_, StoreError, _>(&app.deeds.db, async |tx| branches::insert(tx, "Upper Tarn", "UTC").await);
    added.await.expect("a branch").to_string()
}

#[tokio::test]
async fn letters_are_shown_newest_first_without_what_they_say() {
    let app = TestApp::start().await;
    let (here, there) = (app.branch.to_string(), second_branch(&app).await);
    invite(&app, "Ada Größe", "ada@example.org", &here).await;
    app.clock.advance(60);
    invite(&app, "Bo <b>Lund</b>", "bo_1@example.org", &there).await;
    let letters = app.letters().await;
    let now = app.clock.now();
    let first = write::<_, StoreError, _>(&app.deeds.db, async |tx| outbox::claim_due(tx, now, 60, 1).await).await;
    outbox::mark_sent(&app.deeds.db, first.expect("the outbox")[0].id, now).await.expect("sent");

    let mut admin = app.signed_in(Role::Administrator).await;
    let page = admin.get("/letters").await;
    assert_eq!(page.status, 200, "{}", page.text());
    let page = page.body;
    let (ada, bo) = (page.find("Ada Größe").expect("Ada"), page.find("Bo &lt;b&gt;Lund").expect("Bo"));
    assert!(bo < ada, "the newest first");
    for part in
        ["ada@example.org", "invitation", "24 Nov 2026 at 08:00:00", "24 Nov 2026 at 08:01:00", "sent", "Upper Tarn"]
    {
        assert!(page.contains(part), "{part} in {page}");
    }
    for letter in &letters {
        let secret = letter.text_body.split("/invitation/").nth(1).expect("a link").split_whitespace().next();
        assert!(!page.contains(secret.expect("a secret")), "an invitation's link is not shown");
        assert!(!page.contains(&letter.subject), "nor what it says");
    }
    // Who looks after one branch sees the letters to its people, whatever is asked for.
    let mut manager = app.signed_in(Role::ServiceManager).await;
    for path in ["/letters".to_owned(), format!("/letters?branch={there}"), "/letters?search=example".to_owned()] {
        let page = manager.get(&path).await.body;
        assert!(page.contains("ada@example.org") && !page.contains("bo_1@example.org"), "{path}: {page}");
    }
    for role in [Role::Technician, Role::Trainer] {
        assert_eq!(app.signed_in(role).await.get("/letters").await.status, 404, "{role}");
    }
    app.stop().await;
}

#[tokio::test]
async fn letters_are_found_by_name_kind_state_and_branch_page_by_page() {
    let app = TestApp::start().await;
    let (here, there) = (app.branch.to_string(), second_branch(&app).await);
    for number in 0..51 {
        invite(&app, &format!("Ada Nr{number:02}"), &format!("ada{number:02}@example.org"), &here).await;
    }
    invite(&app, "ÄNNE Groß", "aenne_g@example.org", &there).await;
    let mut admin = app.signed_in(Role::Administrator).await;
    let mut shown = async |query: &str| {
        let page = admin.get(&format!("/letters?{query}")).await.body;
        page.matches("<th scope=\"row\">").count()
    };
    for (query, count) in [
        ("", 50),
        ("page=2", 2),
        ("page=3", 0),
        ("page=nonsense", 50),
        ("search=%C3%A4nne", 1),
        ("search=AENNE_", 1),
        ("search=a_0", 0),
        ("search=%25", 0),
        ("search=ada07", 1),
        ("kind=invitation&search=ada0", 10),
        ("kind=result", 0),
        ("kind=nonsense", 50),
        ("state=waiting&search=ada07", 1),
        ("state=sent", 0),
        ("state=failed", 0),
        ("search=aenne&branch=1", 0),
    ] {
        assert_eq!(shown(query).await, count, "{query}");
    }
    assert_eq!(shown(&format!("branch={there}")).await, 1);
    // The pager keeps what was asked for.
    let page = admin.get("/letters?kind=invitation&state=waiting").await.body;
    assert!(page.contains("kind=invitation&amp;state=waiting&amp;branch=&amp;page=2"), "{page}");
    assert!(admin.get("/letters?search=nobody-at-all").await.text().contains("No letter matches."));
    app.stop().await;
}

#[tokio::test]
async fn everyone_chooses_between_the_letters_that_reach_them() {
    let app = TestApp::start().await;
    for (role, kinds) in [
        (Role::Technician, vec!["expiry", "reminder"]),
        (Role::Trainer, vec!["expiry", "reminder"]),
        (Role::ServiceManager, vec!["digest"]),
        (Role::Administrator, vec![]),
    ] {
        let mut browser = app.signed_in(role).await;
        let page = browser.get("/account").await.body;
        for kind in ["invitation", "result", "decision", "assignment", "expiry", "reminder", "digest"] {
            let offered = page.contains(&format!("name=\"{kind}\""));
            assert_eq!(offered, kinds.contains(&kind), "{role}: {kind}");
        }
        assert_eq!(page.contains("Which letters you get"), !kinds.is_empty(), "{role}");
        // What is not offered cannot be refused, and what is is kept.
        assert_eq!(browser.post("/account/letters", &[]).await.location(), "/account?saved=letters");
        let page = browser.get("/account?saved=letters").await.body;
        assert!(page.contains("Saved: these letters you get from now on."));
        for kind in &kinds {
            let tick = page.split(&format!("name=\"{kind}\"")).nth(1).and_then(|rest| rest.split('>').next());
            assert!(!tick.expect("a tick").contains("checked"), "{role}: {kind}");
        }
        let chosen = app.deeds_about(&address_of(role)).await;
        assert_eq!(chosen.iter().filter(|deed| *deed == "letters_chosen").count(), kinds.len(), "{role}");
    }
    app.stop().await;
}

#[tokio::test]
async fn a_letters_link_leads_to_a_page_with_one_button() {
    let app = TestApp::start_with_bank().await;
    let person = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.expect("the store");
    let number = certify(&app, person.expect("a technician").id, "first-day").await;
    let until = certificates::by_number(&app.deeds.db, number).await.expect("the certificate").entry.valid_until;
    app.clock.set(Moment(until.0 - 60 * 86_400_000_000));
    assert_eq!(write_due_letters(&app.deeds).await.expect("a look"), 1);
    let link = app.letters().await.into_iter().find_map(|letter| letter.unsubscribe_link).expect("a link");
    let path = &link[link.find("/letters/stop/").expect("a path")..];
    let mut browser = app.browser();
    let page = browser.get(path).await.body;
    assert_eq!(page.matches("<button").count(), 1, "{page}");
    // By the button, as a browser sends it: to where the form says, without having signed in.
    let done = browser.post(path, &[]).await;
    assert_eq!(done.status, 200);
    assert!(done.text().contains("You get no more letters of this kind."), "{}", done.text());
    // What is no secret at all looks the same.
    for wrong in ["/letters/stop/x", "/letters/stop/..%2Fadmin", "/letters/stop/%3Cb%3E"] {
        let reply = app.browser().post(wrong, &[]).await;
        assert_eq!(
            (reply.status, reply.text().contains("You get no more letters of this kind.")),
            (200, true),
            "{wrong}"
        );
        assert!(!app.browser().get(wrong).await.body.contains("<b>"), "{wrong}");
    }
    app.stop().await;
}
