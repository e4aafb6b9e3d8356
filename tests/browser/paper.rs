//! What somebody at a gate sees who scans the code of a paper: valid, and after the certificate was withdrawn not valid. On a phone,
//! without scripts, signed in nowhere.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::certify;
use sootmark::domain::people::Role;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_page_behind_the_code_of_a_withdrawn_certificate() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let number = certify(&app, ines, "first-day").await;
    let origin = format!("http://{}", app.address);
    let desk = Browser::open(&origin, Scripts::On, 1280, 1000).await;
    desk.sign_in(&address_of(Role::ServiceManager), PASSWORD).await;
    desk.go(&format!("/decisions/certificates/{number}")).await;
    desk.sees("The certificate on one sheet").await;
    let link = desk.find("a[href^=\"/check/\"]").await;
    let path = link.attr("href").await.expect("an element").expect("an address");

    let phone = Browser::open(&origin, Scripts::Off, 360, 800).await;
    phone.go(&path).await;
    phone.sees("This certificate is valid.").await;
    phone.sees("Fire and burns").await;
    phone.picture("check-valid").await;

    desk.fill("reason", "He was seen running a parked cleaning over straw.").await;
    desk.press("Withdraw it for good").await;
    desk.sees("Withdrawn").await;
    assert_eq!(desk.find_all("a[href$=\"/pdf\"]").await.len(), 0, "no paper is offered any more");

    phone.go(&path).await;
    phone.sees("This certificate is not valid.").await;
    let text = phone.text().await;
    for never in ["is valid", "Ines", "Varga", "straw", "2026-00001"] {
        assert!(!text.contains(never), "{never} in {text}");
    }
    assert!(phone.cookies().await.is_empty(), "the page sets no cookie");
    phone.picture("check-not-valid").await;
    desk.close().await;
    phone.close().await;
    app.stop().await;
}
