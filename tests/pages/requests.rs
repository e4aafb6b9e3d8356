//! What every request meets, whatever its address: where forms may come from, what may be sent, what every reply carries.

use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::{FORM, encoded};
use actix_web::ResponseError as _;
use sea_orm::DbErr;
use sootmark::actions::ActionError;
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::store::StoreError;
use sootmark::web::error::PageError;

#[tokio::test]
async fn forms_from_elsewhere_are_refused_whatever_the_address() {
    let app = TestApp::start().await;
    let browser = app.signed_in(Role::Technician).await;
    let host = app.address.to_string();
    let (ours, other, insecure) = (format!("http://{host}"), format!("http://{host}.example.org"), "null".to_owned());
    let cases: [(&[(&str, &str)], u16); 8] = [
        (&[("Sec-Fetch-Site", "same-origin")], 303),
        (&[("Origin", &ours)], 303),
        (&[("Sec-Fetch-Site", "same-origin"), ("Origin", &ours)], 303),
        (&[("Sec-Fetch-Site", "cross-site")], 403),
        (&[("Sec-Fetch-Site", "same-site")], 403),
        (&[("Origin", &other)], 403),
        (&[("Origin", &insecure)], 403),
        (&[], 403),
    ];
    for (headers, expected) in cases {
        let mut all = vec![("Content-Type", "application/x-www-form-urlencoded")];
        all.extend_from_slice(headers);
        let mut browser = browser.clone();
        let body = encoded(&[("form_token", &browser.form_token), ("unit", "celsius")]);
        let reply = browser.send("POST", "/account/units", &all, &body).await;
        assert_eq!(reply.status, expected, "{headers:?}");
        if expected == 403 {
            assert!(reply.text().contains("Nothing was saved."), "{}", reply.text());
            assert_eq!(browser.send("POST", "/no-such-page", &all, &body).await.status, 403);
            assert_eq!(browser.send("POST", "/sign-in", &all, &body).await.status, 403);
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn scripts_may_bring_the_form_token_in_a_header() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let token = browser.form_token.clone();
    let mut headers = FORM.to_vec();
    headers.push(("X-Form-Token", &token));
    assert_eq!(browser.send("POST", "/account/units", &headers, "unit=celsius").await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn what_no_browser_sends_is_refused_with_a_page() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let token = browser.form_token.clone();
    let mut compressed = FORM.to_vec();
    compressed.push(("Content-Encoding", "gzip"));
    assert_eq!(browser.send("POST", "/account/units", &compressed, "unit=celsius").await.status, 415);
    let large = encoded(&[("form_token", &token), ("unit", &"x".repeat(70_000))]);
    assert_eq!(browser.send("POST", "/account/units", &FORM, &large).await.status, 413);
    assert_eq!(browser.get("/people/import?x=%zz").await.status, 404);
    assert_eq!(browser.get("/assets/0/../../Cargo.toml").await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn every_reply_carries_the_headers_that_keep_a_page_ours() {
    let app = TestApp::start().await;
    for (path, cache) in [("/sign-in", "no-store"), ("/no-such-page", "no-store"), ("/health", "no-store")] {
        let reply = app.browser().get(path).await;
        assert_eq!(reply.header("cache-control"), Some(cache), "{path}");
        let policy = reply.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("default-src 'none'; script-src 'self'; style-src 'self'"), "{policy}");
        assert!(!policy.contains("unsafe"), "{policy}");
        assert_eq!(reply.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(reply.header("referrer-policy"), Some("same-origin"));
        assert!(reply.header("x-request-id").is_some_and(|id| id.len() == 36));
    }
    let page = app.browser().get("/sign-in").await;
    let style = page.between("rel=\"stylesheet\" href=\"", "\"").expect("a stylesheet");
    let style = app.browser().get(style).await;
    assert_eq!(style.status, 200);
    assert!(style.header("cache-control").is_some_and(|cache| cache.contains("immutable")));
    assert_eq!(app.browser().get("/ready").await.body, "ready\n");
    app.stop().await;
}

#[tokio::test]
async fn over_https_the_cookie_insists_on_it() {
    let app = TestApp::start_with(Settings::default()).await;
    let email = address_of(Role::Technician);
    let reply = app.browser().post("/sign-in", &[("email", &email), ("password", PASSWORD)]).await;
    let cookie = reply.header("set-cookie").expect("a cookie");
    assert!(cookie.starts_with("__Host-sootmark=") && cookie.contains("Secure"), "{cookie}");
    app.stop().await;
}

#[test]
fn a_fault_of_the_store_has_one_status_each() {
    let cause = || DbErr::Custom("for the log only".to_owned());
    for (error, expected) in [
        (StoreError::NotFound, 404),
        (StoreError::Unavailable(cause()), 503),
        (StoreError::CommitUnknown(cause()), 503),
        (StoreError::Conflict("uq_of_something".to_owned()), 500),
        (StoreError::Corrupt("what is kept".to_owned()), 500),
    ] {
        let told = format!("{error:?}");
        assert_eq!(PageError::from(ActionError::from(error)).status_code().as_u16(), expected, "{told}");
    }
}
