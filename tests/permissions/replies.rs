//! What every reply of every address carries: what its body is, and what keeps a browser from taking it for something else.

use super::{ask, path_of, start};
use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use sootmark::domain::people::Role;
use sootmark::web::routes::{Access, TABLE, Verb};
use sootmark::web::view::assets;

/// Whether a body looks like what its header says.
fn looks_like(kind: &str, bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    let json = || serde_json::from_slice::<serde_json::Value>(bytes).is_ok();
    match kind {
        "text/html" => text.to_lowercase().starts_with("<!doctype html>"),
        "text/calendar" => text.starts_with("BEGIN:VCALENDAR\r\n"),
        "text/plain" | "text/css" | "text/csv" | "text/javascript" => !text.trim_start().starts_with('<'),
        "application/json" | "application/vc" | "application/cid" | "application/problem+json" => json(),
        "application/pdf" => bytes.starts_with(b"%PDF-"),
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet" => bytes.starts_with(b"PK"),
        "font/woff2" => bytes.starts_with(b"wOF2"),
        "image/svg+xml" => text.starts_with("<svg"),
        _ => false,
    }
}

/// What is wrong with a reply's headers. Source: OWASP ASVS 5.0.0, 3.4.2 to 3.4.6, 4.1.1, 14.3.2.
fn wrong(reply: &Reply, open_to_other_sites: bool) -> Vec<String> {
    let header = |name: &str| reply.header(name).unwrap_or_default();
    let mut found = Vec::new();
    let full = header("content-type");
    let kind = full.split(';').next().unwrap_or_default().trim();
    let needs_charset = kind.starts_with("text/") || kind.ends_with("+xml") || kind.ends_with("/xml");
    if !reply.bytes.is_empty() && !looks_like(kind, &reply.bytes) {
        found.push(format!("the body is no {full:?}"));
    }
    if needs_charset && !full.to_lowercase().contains("charset=utf-8") {
        found.push(format!("no charset in {full:?}"));
    }
    let policy = header("content-security-policy");
    for part in ["default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"] {
        if !policy.contains(part) {
            found.push(format!("no {part} in {policy:?}"));
        }
    }
    for (name, value) in [("x-content-type-options", "nosniff"), ("referrer-policy", "same-origin")] {
        if header(name) != value {
            found.push(format!("{name} is {:?}", header(name)));
        }
    }
    if header("cache-control").is_empty() {
        found.push("nothing says who may keep it".to_owned());
    }
    if reply.header("access-control-allow-origin").is_some() != open_to_other_sites {
        found.push("wrong about other sites".to_owned());
    }
    found
}

/// Addresses whose example in the walk is none that is there, or that show more than one kind of thing.
async fn more(app: &TestApp) -> Vec<(Client, String)> {
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let before = manager.get("/calendar").await;
    let click = before.between("name=\"click\" value=\"", "\"").expect("a sign of the click").to_owned();
    let feed = manager.post("/calendar", &[("click", &click)]).await;
    let address = feed.between("id=\"address\">", "<").expect("the address of a calendar").replace("&#x2F;", "/");
    let name = address.rsplit('/').next().expect("a name");
    let mut all = vec![(app.browser(), format!("/calendar/{name}"))];
    for path in ["/qualified/who?machine=tarrel-60", "/qualified/who?machine=none", "/no-such-page"] {
        all.push((manager.clone(), path.to_owned()));
    }
    all.extend(assets::names().map(|name| (app.browser(), format!("/assets/{}/{name}", assets::hash()))));
    all
}

#[tokio::test]
async fn every_reply_says_what_it_is_and_what_a_browser_may_do_with_it() {
    let app = start().await;
    let mut found = Vec::new();
    let mut bodies = 0;
    for row in TABLE {
        // Nobody first: where that is not enough, they are sent to sign in, and that is a reply too.
        let roles = Role::ALL.into_iter().filter(|role| row.access.admits(*role) && row.access != Access::Public);
        let mut askers = vec![(app.browser(), Role::Technician)];
        for role in roles {
            askers.push((app.signed_in(role).await, role));
        }
        let open = ["/issuer", "/status/{list}"].contains(&row.path);
        for (mut browser, role) in askers {
            let reply = ask(&mut browser, row, &path_of(row, role)).await;
            bodies += usize::from(!reply.bytes.is_empty());
            let open = open && reply.status == 200;
            let told = |what| format!("{:?} {} by {role}, {}: {what}", row.method, row.path, reply.status);
            found.extend(wrong(&reply, open).into_iter().map(told));
        }
    }
    for (mut browser, path) in more(&app).await {
        let reply = browser.get(&path).await;
        bodies += usize::from(!reply.bytes.is_empty());
        found.extend(wrong(&reply, false).into_iter().map(|what| format!("{path}, {}: {what}", reply.status)));
    }
    let reading = TABLE.iter().filter(|row| row.method == Verb::GET).count();
    assert!(bodies > 2 * reading, "only {bodies} bodies were looked at");
    assert_eq!(found, [] as [String; 0]);
    app.stop().await;
}

#[test]
fn a_reply_that_says_nothing_of_itself_is_found() {
    let whole = || Reply {
        status: 200,
        headers: [
            ("content-type", "text/html; charset=utf-8"),
            (
                "content-security-policy",
                "default-src 'none'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
            ),
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "same-origin"),
            ("cache-control", "no-store"),
        ]
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .to_vec(),
        body: String::new(),
        bytes: b"<!doctype html><title>a</title>".to_vec(),
    };
    assert_eq!(wrong(&whole(), false), [] as [String; 0]);
    for at in 0..whole().headers.len() {
        let mut without = whole();
        without.headers.remove(at);
        assert!(!wrong(&without, false).is_empty(), "{:?}", whole().headers[at]);
    }
    let mut bare = whole();
    bare.headers[0].1 = "text/html".to_owned();
    assert_eq!(wrong(&bare, false), ["no charset in \"text/html\""]);
    let mut other = whole();
    other.headers[0].1 = "application/json".to_owned();
    assert_eq!(wrong(&other, false), ["the body is no \"application/json\""]);
    assert_eq!(wrong(&whole(), true), ["wrong about other sites"]);
}
