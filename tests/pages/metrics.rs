//! `/metrics`: who reads it, what is in it, and what never is.

use crate::support::app::{TestApp, address_of};
use crate::support::client::Reply;
use sootmark::config::{Secret, Settings};
use sootmark::domain::aftertreatment::MODEL_VERSION;
use sootmark::domain::people::Role;

const TOKEN: &str = "a token of a test, at least 32 characters";

async fn app() -> TestApp {
    let metrics_token = Some(Secret::new(TOKEN.to_owned()));
    TestApp::start_with(Settings { secure_cookies: false, metrics_token, ..Settings::default() }).await
}

async fn asked(app: &TestApp, header: &str) -> Reply {
    app.browser().send("GET", "/metrics", &[("Authorization", header)], "").await
}

/// The value of a line without labels, or with these.
#[track_caller]
fn value(text: &str, name: &str) -> f64 {
    let line = text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    line.unwrap_or_else(|| panic!("no {name} in {text}")).parse().expect("a number")
}

#[tokio::test]
async fn without_the_token_there_is_no_such_page_whoever_asks() {
    let app = app().await;
    let missing = app.browser().send("GET", "/no-such-page", &[("Authorization", "Bearer x")], "").await.seen();
    let almost = format!("Bearer {}", &TOKEN[..TOKEN.len() - 1]);
    for header in ["", "Bearer ", "Bearer nonsense", almost.as_str(), "Basic YTpi", TOKEN] {
        assert_eq!(asked(&app, header).await.seen(), missing, "{header}");
    }
    assert_eq!(app.browser().get("/metrics").await.seen(), app.browser().get("/no-such-page").await.seen());
    assert_eq!(app.signed_in(Role::Administrator).await.get("/metrics").await.status, 404);
    app.stop().await;
    // Where no token is set, nothing opens it.
    let closed = TestApp::start().await;
    for header in ["Bearer ", "Bearer None"] {
        assert_eq!(asked(&closed, header).await.status, 404);
    }
    closed.stop().await;
}

#[tokio::test]
async fn requests_are_counted_by_pattern_and_nothing_that_anybody_sent_is_a_label() {
    let app = app().await;
    let mut browser = app.signed_in(Role::Administrator).await;
    let secrets = ["an-invitations-secret", "a-calendars-secret", "no-such-place-at-all", "a-status-word"];
    browser.get(&format!("/invitation/{}", secrets[0])).await;
    browser.get(&format!("/calendar/{}.ics?{}", secrets[1], secrets[3])).await;
    browser.get(&format!("/{}", secrets[2])).await;
    browser.send("BREW", "/people", &[], "").await;
    browser.get("/people").await;
    browser.get("/people").await;
    let reply = asked(&app, &format!("bearer {TOKEN}")).await;
    assert_eq!(reply.header("content-type"), Some("application/openmetrics-text; version=1.0.0; charset=utf-8"));
    let text = reply.body.as_str();
    // Source: OpenMetrics 1.0, section "Overall Structure": the text ends with this line, and only with it.
    assert!(text.ends_with("# EOF\n") && text.matches("# EOF").count() == 1, "{text}");
    for (route, method, status, count) in [
        ("/invitation/{token}", "GET", "4xx", 1.0),
        ("/calendar/{secret}.ics", "GET", "4xx", 1.0),
        ("(none)", "GET", "4xx", 1.0),
        ("/people", "other", "4xx", 1.0),
        ("/people", "GET", "2xx", 2.0),
        ("/sign-in", "POST", "3xx", 1.0),
    ] {
        let name = format!("sootmark_requests_total{{route=\"{route}\",method=\"{method}\",status=\"{status}\"}}");
        assert!((value(text, &name) - count).abs() < 0.1, "{name} {text}");
    }
    let timed = "sootmark_request_duration_seconds_count{route=\"/people\",method=\"GET\"}";
    assert!((value(text, timed) - 2.0).abs() < 0.1);
    let email = address_of(Role::Administrator);
    for never in secrets.into_iter().chain([email.as_str(), "Test administrator", "BREW", TOKEN]) {
        assert!(!text.contains(never), "{never}: {text}");
    }
    for (name, is) in [
        ("sootmark_database_up", 1.0),
        ("sootmark_sittings_open", 0.0),
        ("sootmark_letters_waiting", 0.0),
        ("sootmark_letters_left", 0.0),
        ("sootmark_passwords_waiting", 0.0),
        ("sootmark_answers_saved_total", 0.0),
        ("sootmark_database_commit_unknown_total", 0.0),
    ] {
        assert!((value(text, name) - is).abs() < 0.1, "{name} {text}");
    }
    let build = format!("sootmark_build_info{{version=\"0.1.0\",model=\"{MODEL_VERSION}\",schema=\"m0");
    assert!(text.contains(&build), "{text}");
    app.stop().await;
}

#[tokio::test]
async fn a_backup_from_the_future_says_nothing_about_how_old_the_newest_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let settings = Settings {
        secure_cookies: false,
        metrics_token: Some(Secret::new(TOKEN.to_owned())),
        backup_folder: Some(folder.path().to_owned()),
        ..Settings::default()
    };
    let app = TestApp::start_with(settings).await;
    let make = |name: &str| std::fs::write(folder.path().join(name), "").expect("a file");
    make("sootmark-20300101T000000Z.sqlite");
    let text = asked(&app, &format!("Bearer {TOKEN}")).await.body;
    assert!(text.contains("\nsootmark_backups_kept 1\n") && !text.contains("\nsootmark_backup_age_seconds "), "{text}");
    // Two days before the test's clock.
    make("sootmark-20261122T080000Z.sqlite");
    let text = asked(&app, &format!("Bearer {TOKEN}")).await.body;
    assert!((value(&text, "sootmark_backup_age_seconds") - 172_800.0).abs() < 0.1, "{text}");
    app.stop().await;
}
