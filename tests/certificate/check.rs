//! The public page behind a paper's code.

use super::{certified, change, check_path};
use crate::support::app::TestApp;
use crate::support::client::Client;
use crate::support::sittings::certify;
use sootmark::domain::certification::certificate::EventKind;
use sootmark::store::people;
use sootmark::store::record::{self, Verification};

const DAY: i64 = 86_400;

/// Asks as anyone would, and looks that the page says valid or not, the scope and the dates, and whose it is to nobody.
async fn check(app: &TestApp, path: &str, valid: bool) {
    let page = app.browser().get(path).await;
    let (text, of) = (page.text(), format!("{path}, valid: {valid}"));
    assert_eq!(page.status, 200, "{of}");
    let (says, never) = if valid { ("is valid.", "not valid") } else { ("is not valid.", "is valid") };
    assert!(text.contains(&format!("This certificate {says}")), "{of}: {text}");
    assert!(!text.to_lowercase().contains(never), "{of}: {text}");
    for words in ["First day on site", "Fire and burns", "24 Nov 2026", "24 Nov 2029"] {
        assert!(text.contains(words), "{of}: {words} in {text}");
    }
    for never in ["Ines", "Varga", "example.org", "Coldbrook", "2026-00001", "withdrawn", "suspended", "reason"] {
        assert!(!page.body.contains(never), "{of}: {never} in {}", page.body);
    }
    assert_eq!(page.header("set-cookie"), None, "{of}");
    assert_eq!(page.header("x-robots-tag"), Some("noindex, nofollow, noarchive"), "{of}");
    assert_eq!(page.header("cache-control"), Some("no-store"), "{of}");
}

/// How many entries tell that a certificate was looked up that is not valid.
async fn noted(app: &TestApp) -> usize {
    let ines = people::find_by_email_norm(&app.deeds.db, "ines.varga@example.org").await.expect("the store");
    let entries = record::of_subject(&app.deeds.db, "person", ines.expect("Ines").id.0).await.expect("the record");
    entries.iter().filter(|entry| entry.deed == "invalid_certificate_checked").count()
}

#[tokio::test]
async fn anyone_sees_whether_it_is_valid_and_never_whose_it_is() {
    let (app, mut ines, number) = certified().await;
    let path = check_path(&mut ines, number).await;
    check(&app, &path, true).await;
    assert_eq!(noted(&app).await, 0, "looking up a valid one is nobody's business");
    let capitals = format!("/check/{}", path.trim_start_matches("/check/").to_uppercase());
    check(&app, &capitals, true).await;
    change(&app, number, EventKind::Suspended).await;
    check(&app, &path, false).await;
    change(&app, number, EventKind::Reinstated).await;
    check(&app, &path, true).await;
    change(&app, number, EventKind::Withdrawn).await;
    check(&app, &path, false).await;
    app.stop().await;
}

#[tokio::test]
async fn a_lapsed_one_and_one_that_was_renewed_are_not_valid() {
    let (app, mut ines, number) = certified().await;
    let first = check_path(&mut ines, number).await;
    app.clock.advance(2 * 365 * DAY);
    let person = people::find_by_email_norm(&app.deeds.db, "ines.varga@example.org").await.expect("the store");
    let renewed = certify(&app, person.expect("Ines").id, super::SCHEME).await;
    let mut ines = app.signed_in_as("ines.varga@example.org").await;
    let second = check_path(&mut ines, renewed).await;
    assert_ne!(first, second);
    check(&app, &first, false).await;
    let page = app.browser().get(&second).await.text();
    assert!(page.contains("This certificate is valid."), "{page}");
    app.clock.advance(4 * 365 * DAY);
    let page = app.browser().get(&second).await.text();
    assert!(page.contains("This certificate is not valid."), "{page}");
    app.stop().await;
}

#[tokio::test]
async fn a_code_that_was_never_given_out_and_a_text_that_is_none_look_alike() {
    let (app, mut ines, number) = certified().await;
    let path = check_path(&mut ines, number).await;
    let code = path.trim_start_matches("/check/").to_owned();
    let other = if code.ends_with('0') { "8" } else { "0" };
    let never_given = format!("{}{other}", &code[..code.len() - 1]);
    let nobody: &mut Client = &mut app.browser();
    let unknown = nobody.get(&format!("/check/{never_given}")).await;
    assert_eq!(unknown.status, 404);
    assert!(unknown.text().contains("There is no certificate with this code."), "{}", unknown.text());
    for text in ["1", "2026-00001-X", &number.to_string(), "%00", "x", &"a".repeat(2000), "..%2F..", "%F0%9F%98%80"] {
        let reply = nobody.get(&format!("/check/{text}")).await;
        assert_eq!(reply.seen(), unknown.seen(), "{text}");
    }
    assert_eq!(noted(&app).await, 0);
    app.stop().await;
}

#[tokio::test]
async fn looking_up_a_withdrawn_one_is_on_record_once_a_day() {
    let (app, mut ines, number) = certified().await;
    let path = check_path(&mut ines, number).await;
    change(&app, number, EventKind::Withdrawn).await;
    for _ in 0..3 {
        check(&app, &path, false).await;
    }
    assert_eq!(noted(&app).await, 1);
    app.clock.advance(DAY);
    check(&app, &path, false).await;
    assert_eq!(noted(&app).await, 2);
    let whole = record::verify(&app.deeds.db).await.expect("the store");
    assert!(matches!(whole, Verification::Whole { .. }), "{whole:?}");
    app.stop().await;
}
