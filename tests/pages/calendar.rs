//! The calendar of what lapses and what is due: held against RFC 5545, read by a general parser, at a secret address.

use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use crate::support::sittings::certify;
use ical::IcalParser;
use ical::parser::ical::component::IcalEvent;
use sootmark::domain::people::Role;
use std::collections::BTreeMap;

/// Opens the page and asks for a new address.
async fn renewed(reader: &mut Client) -> Reply {
    let page = reader.get("/calendar").await;
    let click = page.between("name=\"click\" value=\"", "\"").expect("a sign of the click").to_owned();
    reader.post("/calendar", &[("click", &click)]).await
}

/// Every event with its properties, after the rules that any text of this kind keeps.
fn checked(text: &str) -> Vec<BTreeMap<String, String>> {
    // Source: RFC 5545, 3.1: lines end with CRLF and are at most 75 octets long.
    assert!(text.ends_with("\r\n") && !text.replace("\r\n", "").contains(['\r', '\n']), "{text}");
    assert!(text.split("\r\n").all(|line| line.len() <= 75), "{text}");
    let calendars: Vec<_> = IcalParser::new(text.as_bytes()).collect();
    assert_eq!(calendars.len(), 1);
    let calendar = calendars.into_iter().next().expect("a calendar").expect("it is read");
    // Source: RFC 5545, 3.6: PRODID and VERSION, once each.
    for needed in ["PRODID", "VERSION"] {
        assert_eq!(calendar.properties.iter().filter(|property| property.name == needed).count(), 1, "{needed}");
    }
    let event = |event: &IcalEvent| {
        // Source: RFC 5545, 3.6.1: UID and DTSTAMP are required, DTSTART without METHOD; none more than once.
        for needed in ["UID", "DTSTAMP", "DTSTART"] {
            assert_eq!(event.properties.iter().filter(|property| property.name == needed).count(), 1, "{needed}");
        }
        let value = |name: &str| {
            let found = event.properties.iter().find(|property| property.name == name);
            found.and_then(|property| property.value.clone()).unwrap_or_default()
        };
        // Source: RFC 5545, 3.3.5 form 2 (UTC) and 3.3.4 (DATE).
        let stamp = value("DTSTAMP");
        assert!(stamp.len() == 16 && stamp.as_bytes()[8] == b'T' && stamp.ends_with('Z'), "{stamp}");
        let start = value("DTSTART");
        assert!(start.len() == 8 && start.bytes().all(|byte| byte.is_ascii_digit()), "{start}");
        event.properties.iter().map(|p| (p.name.clone(), p.value.clone().unwrap_or_default())).collect()
    };
    let events: Vec<BTreeMap<String, String>> = calendar.events.iter().map(event).collect();
    let mut uids: Vec<&String> = events.iter().map(|event| &event["UID"]).collect();
    uids.sort();
    uids.dedup();
    assert_eq!(uids.len(), events.len(), "every UID is its own");
    events
}

#[tokio::test]
async fn the_calendar_shows_what_lapses_and_what_is_due_until_its_address_is_renewed() {
    let app = TestApp::start_with_bank().await;
    let name = "Inès Varga, née Ó Súilleabháin; from the machinery yard behind the straw barn at Coldbrook";
    let ines = app.person_towards(name, "ines@example.org", "first-day").await;
    let number = certify(&app, ines, "first-day").await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    reader.get("/assignments").await;
    let key = "a".repeat(64);
    let group = format!("branch:{}", app.branch);
    let fields =
        [("key", key.as_str()), ("thing", "module:lamps"), ("group", &group), ("email", ""), ("due", "2026-12-01")];
    assert_eq!(reader.post("/assignments", &fields).await.status, 303);

    assert!(reader.get("/calendar").await.text().contains("You have no address yet."));
    let made = renewed(&mut reader).await;
    let address = made.between("id=\"address\">", "<").expect("the address, once").replace("&#x2F;", "/");
    let path = format!("/calendar/{}", address.rsplit('/').next().expect("a name"));
    assert!(path.len() > 64, "{path}");
    let mut anybody = app.browser();
    let reply = anybody.get(&path).await;
    assert_eq!((reply.status, reply.header("content-type")), (200, Some("text/calendar; charset=utf-8")));
    let events = checked(&reply.body);
    assert_eq!(events.len(), 2, "{events:?}");
    assert_eq!((events[0]["DTSTART"].as_str(), events[1]["DTSTART"].as_str()), ("20261201", "20291124"));
    assert!(events[0]["SUMMARY"].starts_with("Due: Module") && events[0]["SUMMARY"].ends_with("everyone at Coldbrook"));
    assert!(events[1]["UID"].starts_with(&format!("certificate-{number}@")), "{events:?}");
    let summary = events[1]["SUMMARY"].replace("\\,", ",").replace("\\;", ";");
    assert_eq!(summary, format!("Lapses: {name}, First day on site"));

    // The same things keep their UIDs and stamps, whenever it is read.
    app.clock.advance(3600);
    assert_eq!(anybody.get(&path).await.body, reply.body);

    let mut reader = app.signed_in(Role::ServiceManager).await;
    assert_eq!(renewed(&mut reader).await.status, 200);
    let gone = anybody.get(&path).await;
    assert_eq!((gone.status, gone.body), (404, anybody.get(&format!("/calendar/{}.ics", "0".repeat(64))).await.body));
    assert_eq!(anybody.get("/calendar/x.ics").await.status, 404);
    assert_eq!(app.deeds_about("service_manager@example.org").await, ["calendar_renewed", "calendar_renewed"]);
    app.stop().await;
}
