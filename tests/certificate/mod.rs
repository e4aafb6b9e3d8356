//! The certificate itself: its paper, its signed file and its public page, looked at with tools and libraries that the program does not
//! use.
//!
//! A test that needs such a tool is left out where the tool is not there, unless `SOOTMARK_REQUIRE_TOOLS` is 1, as `tests/run` sets it.

mod check;
mod keys;
mod paper;
mod signed_file;

use crate::support::app::TestApp;
use crate::support::client::Client;
use crate::support::sittings::{certify, manager};
use sootmark::actions::change_certificate::{CertificateChange, change_certificate};
use sootmark::domain::certification::certificate::{EventKind, Number};
use sootmark::domain::people::Role;

/// What the tests certify: everything that a certificate of the demo has.
const SCHEME: &str = "first-day";

/// A program with the certificate of Ines, who is signed in.
async fn certified() -> (TestApp, Client, Number) {
    let app = TestApp::start_with_bank().await;
    let ines = app.person("Ines Varga", "Ines.Varga@example.org", Role::Technician).await;
    let number = certify(&app, ines, SCHEME).await;
    let browser = app.signed_in_as("ines.varga@example.org").await;
    (app, browser, number)
}

/// The branch's service manager does something to a certificate.
async fn change(app: &TestApp, number: Number, kind: EventKind) {
    let by = manager(app).await;
    let done = change_certificate(&app.deeds, by, number, kind, "A reason of the test.").await;
    assert_eq!(done.expect("the store"), CertificateChange::Done);
}

/// The path of a certificate's public page, as its holder's page links to it.
async fn check_path(browser: &mut Client, number: Number) -> String {
    let page = browser.get(&format!("/record/certificates/{number}")).await;
    let code = page.between("href=\"/check/", "\"").expect("a link to the public page");
    format!("/check/{code}")
}
