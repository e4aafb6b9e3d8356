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
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

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
    // Where a roster or a scenario is taken, more is: what stood in a form when a session ended comes back with the sign-in.
    for (bytes, status) in [(1_000_000, 303), (1_100_000, 413)] {
        let (email, pad) = (address_of(Role::Technician), "x".repeat(bytes));
        let padded = [("email", email.as_str()), ("password", PASSWORD), ("pad", pad.as_str())];
        assert_eq!(app.browser().post("/sign-in", &padded).await.status, status, "{bytes}");
    }
    assert_eq!(browser.get("/people/import?x=%zz").await.status, 404);
    let folder = format!("/assets/{}/", sootmark::web::view::assets::hash());
    for path in ["/assets", "/assets/", &folder, "/assets/0/../../Cargo.toml"] {
        assert_eq!(browser.get(path).await.status, 404, "{path}");
    }
    app.stop().await;
}

/// Everything that comes back for bytes as they are, until the server hangs up.
async fn raw(address: std::net::SocketAddr, bytes: &str) -> String {
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    stream.write_all(bytes.as_bytes()).await.expect("sent");
    stream.shutdown().await.expect("no more is sent");
    let mut back = Vec::new();
    stream.read_to_end(&mut back).await.expect("a reply");
    String::from_utf8_lossy(&back).into_owned()
}

#[tokio::test]
async fn a_message_whose_end_is_not_plain_is_refused_and_hides_no_other() {
    let app = TestApp::start().await;
    let ours = format!("Host: {0}\r\nOrigin: http://{0}\r\n", app.address);
    let hidden = format!("GET /health HTTP/1.1\r\nHost: {}\r\n\r\n", app.address);
    // Two plain ones, one behind the other, are two: what is looked for below would be found.
    let two = raw(app.address, &format!("GET /ready HTTP/1.1\r\n{ours}\r\n{hidden}")).await;
    assert_eq!(two.matches("HTTP/1.1 200").count(), 2, "{two}");
    // Source: RFC 9112, section 6.3: a length beside an encoding, two lengths, a length that is none, an encoding that is not known.
    for ends in [
        "Content-Length: 6\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        "Transfer-Encoding: chunked\r\nContent-Length: 5\r\n\r\n0\r\n\r\n",
        "Content-Length: 0\r\nContent-Length: 44\r\n\r\n",
        "Content-Length: +5\r\n\r\n0\r\n\r\n",
        "Content-Length: 5, 5\r\n\r\n0\r\n\r\n",
        "Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
        "Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n\r\n0\r\n\r\n",
    ] {
        let back = raw(app.address, &format!("POST /sign-in HTTP/1.1\r\n{ours}{ends}{hidden}")).await;
        assert!(back.starts_with("HTTP/1.1 400"), "{ends:?}: {back}");
        assert_eq!(back.matches("HTTP/1.1").count(), 1, "{ends:?}: {back}");
    }
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
        for part in ["frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"] {
            assert!(policy.contains(part), "{part} in {policy}");
        }
        assert_eq!(reply.header("cross-origin-opener-policy"), Some("same-origin"));
        assert_eq!(reply.header("cross-origin-resource-policy"), Some("same-origin"));
        assert_eq!(reply.header("access-control-allow-origin"), None, "no other site reads a page");
        assert_eq!(reply.header("strict-transport-security"), None, "nothing is promised about plain http");
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
    // Source: RFC 6265bis section 4.1.3.2: a __Host- cookie is Secure, has the path / and no domain.
    for part in ["HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }
    assert!(!cookie.contains("Domain"), "{cookie}");
    app.stop().await;
}

#[tokio::test]
async fn where_people_come_by_https_browsers_are_told_to_use_nothing_else() {
    let settings = Settings { public_address: Some("https://training.example.org".to_owned()), ..Settings::default() };
    let app = TestApp::start_with(settings).await;
    for path in ["/sign-in", "/no-such-page", "/"] {
        let reply = app.browser().get(path).await;
        // Source: OWASP ASVS 5.0.0, 3.4.1: at least a year, and subdomains.
        let told = reply.header("strict-transport-security");
        assert_eq!(told, Some("max-age=31536000; includeSubDomains"), "{path}");
    }
    app.stop().await;
}

#[tokio::test]
async fn methods_that_no_page_has_do_nothing() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Administrator).await;
    for method in ["TRACE", "PUT", "DELETE", "PATCH", "OPTIONS"] {
        let reply = browser.send(method, "/account", &FORM, "").await;
        assert!([403, 404, 405].contains(&reply.status), "{method}: {}", reply.status);
    }
    app.stop().await;
}

#[tokio::test]
async fn a_line_end_in_a_name_or_an_address_begins_no_new_line_anywhere() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Administrator).await;
    let branch = app.branch.to_string();
    for (name, email) in [
        ("Ada\r\nBcc: x@example.org", "ada@example.org"),
        ("Ada\nLovell", "ada@example.org"),
        ("Ada", "ada@example.org\r\nBcc: x@example.org"),
        ("Ada\u{0}", "ada@example.org"),
    ] {
        let fields = [("name", name), ("email", email), ("branch", branch.as_str()), ("role", "technician")];
        let reply = browser.post("/people/invite", &fields).await;
        assert_eq!(reply.status, 422, "{name:?} {email:?}");
    }
    assert!(app.letters().await.is_empty(), "no letter was written");
    let next = app.browser().get("/sign-in?next=/people%0d%0aSet-Cookie:x=1").await;
    assert_eq!((next.status, next.header("set-cookie")), (200, None));
    app.stop().await;
}

#[tokio::test]
async fn a_field_that_is_sent_twice_counts_once_and_one_that_no_form_has_counts_nothing() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let twice = [("unit", "celsius"), ("unit", "fahrenheit"), ("role", "administrator"), ("branch", "1")];
    assert_eq!(browser.post("/account/units", &twice).await.status, 303);
    assert!(browser.get("/account").await.body.contains("<option value=\"celsius\" selected>"));
    assert_eq!(browser.get("/people").await.status, 404, "still a technician");
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
