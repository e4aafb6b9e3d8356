//! The session changes in one tab: what stands in another is put away, comes back to nobody else, and comes back to its reader as
//! it was. What somebody typed is not there for the next, in another tab or in the history of one.

use super::driver::{Browser, Scripts};
use super::new_hire::answer_on_page;
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::{begin, questions_of, right};
use sootmark::domain::people::Role;
use sootmark::store::{DraftId, attempts, people, template_drafts};
use std::collections::BTreeSet;
use std::path::Path;

/// The tabs, in the order in which they were opened.
const WORK: usize = 0;
const OTHER: usize = 1;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_in_another_tab_is_put_away_until_the_same_person_is_back() {
    let app = TestApp::start_with_bank().await;
    app.person("Test other", "other@example.org", Role::Trainer).await;
    let email = address_of(Role::Trainer);
    let trainer = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("the trainer");
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 900).await;
    browser.sign_in(&email, PASSWORD).await;
    browser.go("/refreshers").await;
    browser.fill("email", &address_of(Role::Technician)).await;
    browser.fill("text", "Drove on with the lamp lit.").await;
    assert!(browser.everything().await.contains(&trainer.display_name));
    browser.other_tab("/account").await;
    browser.sign_out().await;
    browser.sees("You are signed out.").await;

    browser.tab(WORK).await;
    browser.sees("In another tab somebody signed out").await;
    browser.picture("put-away").await;
    let gone = async |browser: &Browser| {
        let everything = browser.everything().await;
        assert!(!everything.contains(&trainer.display_name) && !everything.contains("Write down"), "{everything}");
        assert!(browser.find_all("form").await.is_empty(), "nothing is left to be sent");
    };
    gone(&browser).await;

    // Somebody else may see pages of this kind, but not this one.
    browser.tab(OTHER).await;
    browser.sign_in("other@example.org", PASSWORD).await;
    browser.tab(WORK).await;
    // The page has asked who is there now, and was answered.
    browser
        .until("performance.getEntriesByType('resource').some((asked) => asked.name.endsWith('/account') && asked.responseStatus === 200)")
        .await;
    gone(&browser).await;

    // Who signs in over somebody else puts away what that one has open.
    browser.tab(OTHER).await;
    browser.go("/account").await;
    browser.other_tab("/").await;
    browser.sign_in(&email, PASSWORD).await;
    browser.tab(OTHER).await;
    browser.sees("In another tab somebody signed out or in").await;
    assert!(!browser.everything().await.contains("Test other"));

    browser.tab(WORK).await;
    browser.sees("Write down what happened").await;
    assert!(browser.everything().await.contains(&trainer.display_name));
    browser.press("Write it down").await;
    browser.sees("Written down.").await;
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_answer_that_was_not_saved_before_is_saved_when_its_page_is_back() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Technician);
    let technician = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("a person");
    let attempt = begin(&app, technician.id, "first-day").await;
    let asked = questions_of(&app, attempt).await;
    let place = asked.iter().position(|question| question.shown.case.is_none()).expect("one that stands alone");
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 360, 800).await;
    browser.sign_in(&email, PASSWORD).await;
    browser.go(&format!("/examine/sitting/{attempt}/{}", place + 1)).await;
    browser.outlives_its_session().await;
    answer_on_page(&browser, &right(&asked[place])).await;
    browser.leave_field().await;
    browser.sees("Not saved: you are no longer signed in.").await;
    browser.other_tab("/account").await;
    browser.sign_out().await;
    browser.tab(WORK).await;
    browser.sees("This page is put away").await;

    browser.tab(OTHER).await;
    browser.sign_in(&email, PASSWORD).await;
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the answers").is_empty());
    browser.tab(WORK).await;
    browser.sees("Saved ").await;
    assert_eq!(attempts::responses(&app.deeds.db, attempt).await.expect("the answers").len(), 1);
    browser.close().await;
    app.stop().await;
}

/// The trainer has typed into a form and not sent it.
async fn typing(app: &TestApp) -> Browser {
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 900).await;
    browser.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    browser.go("/refreshers").await;
    browser.fill("email", &address_of(Role::Technician)).await;
    browser.fill("text", "Drove on with the lamp lit.").await;
    browser
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_takes_up_an_invitation_finds_nothing_of_the_person_before() {
    let app = TestApp::start_with_bank().await;
    let branch = app.branch.to_string();
    let fields = [("name", "Ada"), ("email", "ada@example.org"), ("role", "technician"), ("branch", branch.as_str())];
    app.signed_in(Role::Administrator).await.post("/people/invite", &fields).await;
    let letter = app.letters().await.pop().expect("a letter").text_body;
    let link = letter.split_whitespace().find(|word| word.contains("/invitation/")).expect("a link");
    let link = &link[link.find("/invitation/").expect("a path")..];

    let browser = typing(&app).await;
    browser.other_tab(link).await;
    browser.fill("password", "mill pond lantern").await;
    browser.fill("again", "mill pond lantern").await;
    browser.press("Keep this password").await;
    browser.sees("What to do next").await;
    browser.tab(WORK).await;
    browser.sees("This page is put away").await;
    assert!(browser.find_all("textarea").await.is_empty(), "nothing of what was typed");
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_typed_can_be_sent_after_another_tab_changed_the_password() {
    let app = TestApp::start_with_bank().await;
    let browser = typing(&app).await;
    browser.other_tab("/account").await;
    browser.fill("old_password", PASSWORD).await;
    browser.fill("password", "mill pond lantern").await;
    browser.fill("again", "mill pond lantern").await;
    browser.press("Change the password").await;
    browser.tab(WORK).await;
    browser.sees("Write down what happened").await;
    // It went away, and is back with the token of the new session.
    browser.until("performance.getEntriesByType('resource').some((asked) => asked.name.endsWith('/account'))").await;
    browser.press("Write it down").await;
    browser.sees("Written down.").await;
    browser.close().await;
    app.stop().await;
}

/// The addresses whose answer begins, replaces or ends a session.
const CHANGE_THE_SESSION: [&str; 7] = [
    "/account/one-time-codes",
    "/account/password",
    "/invitation",
    "/sign-in",
    "/sign-in/code",
    "/sign-in/set-up",
    "/sign-out",
];

#[test]
fn every_form_that_changes_the_session_says_so_and_no_other() {
    let mut says: BTreeSet<&str> = BTreeSet::new();
    for file in templates(&Path::new(env!("CARGO_MANIFEST_DIR")).join("templates")) {
        for form in file.split("<form ").skip(1) {
            let tag = &form[..form.find(">\n").expect("the end of the tag")];
            let to = CHANGE_THE_SESSION.iter().find(|address| {
                tag.contains(&format!("action=\"{address}\"")) || tag.contains(&format!("%}}{address}{{%"))
            });
            assert_eq!(to.is_some(), tag.contains("data-session"), "<form {tag}>");
            says.extend(to);
        }
    }
    assert_eq!(says.into_iter().collect::<Vec<_>>(), CHANGE_THE_SESSION);
}

fn templates(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(templates(&path));
        } else if path.extension().is_some_and(|ending| ending == "html") {
            found.push(std::fs::read_to_string(&path).expect("a template"));
        }
    }
    found
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_history_of_a_tab_gives_typed_text_to_who_typed_it_and_to_nobody_else() {
    let app = TestApp::start_with_bank().await;
    let other = app.person("Test other", "other@example.org", Role::Trainer).await;
    let browser = typing(&app).await;
    browser.go("/machines").await;
    browser.back().await;
    // The same person's text is as it was left; a place within the page is an entry of its own.
    browser.until("document.querySelector('[name=text]')?.value === 'Drove on with the lamp lit.'").await;
    browser.run("location.hash = 'content'").await;
    browser.go("/machines").await;

    browser.other_tab("/account").await;
    browser.sign_out().await;
    browser.sign_in("other@example.org", PASSWORD).await;
    browser.tab(WORK).await;
    browser.sees("This page is put away").await;
    for address in ["#content", ""] {
        browser.back().await;
        // The entry is theirs once the fields are as the server gave them.
        browser.until(&format!("location.pathname === '/refreshers' && history.state?.person === '{other}'")).await;
        browser.until(&format!("location.hash === '{address}'")).await;
        assert!(browser.everything().await.contains("Test other"));
        browser.until("document.querySelector('[name=text]').value === ''").await;
        browser.until("document.querySelector('[name=email]').value === ''").await;
    }
    browser.close().await;
    app.stop().await;
}

/// Holds the answer to the first form that a script sends, read already, until the test lets it go.
const HOLD: &str = "window.form = document.querySelector('form[data-writes]');
    const ask = window.fetch;
    window.fetch = async (to, how) => {
      const reply = await ask(to, how);
      if (how.method !== 'POST' || window.answered) return reply;
      const text = await reply.text();
      window.answered = true;
      await new Promise((go) => { window.letGo = go; });
      return { status: reply.status, type: reply.type, text: async () => text };
    };";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_draft_that_was_kept_while_its_page_was_put_away_is_no_conflict_afterwards() {
    let app = TestApp::start_with_bank().await;
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 900).await;
    browser.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    browser.go("/templates/new").await;
    browser.fill("key", "telling/beside-the-weighbridge").await;
    browser.press("Begin a draft").await;
    let draft: DraftId = browser.path().await.rsplit('/').next().expect("a number").parse().expect("a number");
    browser.run(HOLD).await;
    browser.fill("text", "title: First").await;
    browser.until("window.letGo").await;
    browser.fill("text", "title: Second").await;
    browser.other_tab("/account").await;
    browser.sign_out().await;
    browser.tab(WORK).await;
    browser.sees("This page is put away").await;
    browser.run("dispatchEvent(new Event('resize')); window.letGo();").await;
    // The answer has been read, on a page that is not there.
    browser.until("window.form.querySelector('[data-save-state]').textContent !== 'Keeping.'").await;
    let said = "document.title = window.form.querySelector('[data-save-state]').textContent";
    browser.run(said).await;
    assert!(browser.everything().await.starts_with("Kept "), "{}", browser.everything().await);

    app.clock.advance(60);
    browser.tab(OTHER).await;
    browser.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    browser.tab(WORK).await;
    browser.sees("Kept 08:01.").await;
    let kept = template_drafts::by_id(&app.deeds.db, draft).await.expect("the draft").source;
    assert_eq!(kept, "title: Second");
    browser.close().await;
    app.stop().await;
}
