//! A new person in a real browser: an administrator invites them, they open the link from the letter, choose a
//! password and are greeted.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use sootmark::domain::people::Role;

const EMAIL: &str = "ada@example.org";

/// Where the link in the newest letter leads, without the origin: a test's letters link to the address of the settings.
async fn link_in_the_letter(app: &TestApp) -> String {
    let letters = app.letters().await;
    let letter = letters.last().expect("a letter");
    assert_eq!(letter.to_address, EMAIL);
    let link = letter.text_body.split_whitespace().find(|word| word.contains("/invitation/")).expect("a link");
    link[link.find("/invitation/").expect("a path")..].to_owned()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_person_opens_the_link_from_the_letter_chooses_a_password_and_is_greeted() {
    let app = TestApp::start_with_bank().await;
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 1000).await;
    browser.sign_in(&address_of(Role::Administrator), PASSWORD).await;
    browser.sees("Everyone who may sign in has chosen a password.").await;
    browser.go("/people/invite").await;
    browser.fill("name", "Ada Lovell").await;
    browser.fill("email", EMAIL).await;
    browser.choose("branch", "Coldbrook").await;
    browser.choose("role", "technician").await;
    browser.press("Invite").await;
    browser.sees("The person is in, and the invitation is on its way.").await;
    browser.go("/people").await;
    browser.sees("invited").await;
    browser.picture("administrator").await;
    browser.sign_out().await;

    browser.go(&link_in_the_letter(&app).await).await;
    browser.sees("Ada Lovell, you sign in with ada@example.org").await;
    browser.fill("password", "mill pond lantern").await;
    browser.fill("again", "mill pond lanterm").await;
    browser.press("Keep this password").await;
    browser.sees("The two passwords are not the same.").await;
    browser.fill("password", "mill pond lantern").await;
    browser.fill("again", "mill pond lantern").await;
    browser.press("Keep this password").await;
    browser.sees("What to do next").await;
    browser.sees("Ada Lovell").await;
    assert_eq!(browser.path().await, "/");
    browser.close().await;
    assert!(app.signs_in(EMAIL, "mill pond lantern").await);
    app.stop().await;
}
