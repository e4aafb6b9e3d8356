//! Machine profiles: the sheet that everyone may read, the trainers' editor, what a change does, versions that never change.

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::{Sat, certify, sit};
use sootmark::domain::people::Role;
use sootmark::store::bank_documents::{Document, DocumentKind, by_version, versions};
use sootmark::store::{people, record};

const MACHINE: &str = "tarrel-60";

async fn published(app: &TestApp, id: &str) -> Vec<Document> {
    versions(&app.deeds.db, DocumentKind::Machine, id).await.expect("the store")
}

async fn first(app: &TestApp) -> Document {
    by_version(&app.deeds.db, DocumentKind::Machine, MACHINE, 1).await.expect("version 1")
}

/// Sends a text as the form does: every section in a field of its own, cut where the page has cut it.
async fn send(trainer: &mut Client, to: &str, id: &str, base: u32, text: &str, seen: &str) -> Reply {
    // Browsers end lines with CR LF. The whole text in one field is a form too.
    let typed = text.replace('\n', "\r\n");
    let base = base.to_string();
    let fields = [("id", id), ("base", &base), ("parts", "1"), ("part_0", &typed), ("seen", seen)];
    trainer.post(&format!("/machines/{to}"), &fields).await
}

fn seen(reply: &Reply) -> &str {
    reply.between("name=\"seen\" value=\"", "\"").expect("the page says what was seen")
}

/// Checks a text and publishes it: one press after what it does was shown.
async fn publish(trainer: &mut Client, id: &str, base: u32, text: &str) -> Reply {
    let checked = send(trainer, "check", id, base, text, "").await;
    assert_eq!(checked.status, 200, "{}", checked.text());
    send(trainer, "publish", id, base, text, seen(&checked)).await
}

#[tokio::test]
async fn everyone_reads_the_sheet_and_only_trainers_are_offered_to_change_it() {
    let app = TestApp::start_with_bank().await;
    for role in Role::ALL {
        let mut browser = app.signed_in(role).await;
        let list = browser.get("/machines").await;
        for name in ["Tarrel 60", "Hobrek 40", "Lunnock 9"] {
            assert!(list.text().contains(name), "{role}: {name}");
        }
        let sheet = browser.get("/machines/tarrel-60").await;
        let text = sheet.text();
        for part in [
            "Bands",
            "84 to 110 %",
            "Lamps",
            "The filter wants attention",
            "DANGER",
            "carbon monoxide",
            "Put the park brake on",
            "The outlet settles at",
            "one hour burns",
            "a week of work ends",
            "exhaust-hot lamp",
            "Its numbers",
            "min speed 1400 rpm",
            "interlocks standing, park brake",
            "retry after 30 min",
            "warm after 6 min",
            "Flow, mg/s over load",
            "Temperature, °C over load",
            "operator's manual",
            "Version in use 1",
            "the file machines/tarrel-60.toml",
        ] {
            assert!(text.to_lowercase().contains(&part.to_lowercase()), "{role}: {part}: {text}");
        }
        // The worst stands first (ANSI Z535), and each plot has its numbers in words.
        assert!(text.find("DANGER") < text.find("WARNING") && text.find("WARNING") < text.find("CAUTION"));
        assert_eq!(sheet.body.matches("figure-plot").count(), 3);
        let offered = sheet.body.contains("/machines/tarrel-60/edit") && list.body.contains("/machines/new");
        assert_eq!(offered, role == Role::Trainer, "{role}");
    }
    for nothing in ["/machines/nothing", "/machines/tarrel-60?version=9"] {
        assert_eq!(app.signed_in(Role::Technician).await.get(nothing).await.status, 404, "{nothing}");
    }
    app.stop().await;
}

#[tokio::test]
async fn the_sheet_speaks_the_readers_scale() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    assert_eq!(browser.post("/account/units", &[("unit", "fahrenheit")]).await.status, 303);
    let sheet = browser.get("/machines/tarrel-60").await.text();
    // From memory, not confirmed: NIST SP 811, F = 1.8 C + 32: 430 °C is 806 °F, 590 is 1094, 610 is 1130, 480 is 896.
    for part in
        ["exhaust hot at 806 °F", "temperature 1094 °F", "gas of up to 1130 °F", "Temperature, °F over load", "896"]
    {
        assert!(sheet.contains(part), "{part}: {sheet}");
    }
    assert!(!sheet.contains("°C"), "{sheet}");
    app.stop().await;
}

#[tokio::test]
async fn every_problem_stands_beside_its_section_and_nothing_typed_is_lost() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let form = trainer.get("/machines/tarrel-60/edit").await;
    assert_eq!(form.status, 200);
    for label in ["The machine", "Filter", "NO2", "Band", "Parked", "Caution"] {
        assert!(form.body.contains(&format!(">{label}</label>")), "{label}");
    }
    let source = first(&app).await.source;
    let broken = source
        .replace("volume = \"7.5 L\"", "volume = \"7.5 rpm\"\nvolmue = \"<b>typed</b>\"")
        .replace("hours_between = \"40 h\"", "hours_between = \"40\"")
        .replace("id = \"raised\"", "id = \"low\"");
    for to in ["check", "publish"] {
        let reply = send(&mut trainer, to, MACHINE, 1, &broken, "").await;
        assert_eq!(reply.status, 422);
        let text = reply.text();
        assert!(text.contains("4 things to put right"), "{text}");
        // The filter is the second section, and there the volume stands in the second line.
        for said in [
            "Filter, line 2: volume:",
            "Filter, line 3: volmue: nobody knows",
            "Parked, line 6: hours_between",
            "Band, line 11: band[2].id:",
        ] {
            assert!(text.contains(said), "{said}: {text}");
        }
        let beside = reply.between("id=\"part_1-error\">", "</p>").expect("beside the filter");
        assert!(beside.contains("Filter, line 2: volume") && !beside.contains("hours_between"), "{beside}");
        assert!(reply.body.contains("href=\"#part_1\""), "the summary leads there");
        assert!(reply.body.contains("volmue = &quot;&lt;b&gt;typed&lt;"), "what was typed is still there");
        assert!(!reply.body.contains("formaction"), "and nothing can be published");
    }
    let renamed =
        send(&mut trainer, "check", MACHINE, 1, &source.replace("id = \"tarrel-60\"", "id = \"tarrel-61\""), "").await;
    assert!(
        renamed.text().contains("The machine, line 4: id: the id of a machine never changes"),
        "{}",
        renamed.text()
    );
    assert_eq!(published(&app, MACHINE).await.len(), 1);
    app.stop().await;
}

#[tokio::test]
async fn what_a_change_does_is_shown_and_then_one_press_publishes_it() {
    let app = TestApp::start_with_bank().await;
    let before = first(&app).await;
    let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
    let technician = technician.expect("the store").expect("the technician").id;
    certify(&app, technician, "first-day").await;
    app.clock.advance(60);
    let failed = app.person("Test failed", "failed@example.org", Role::Technician).await;
    sit(&app, failed, "first-day", Sat::WithoutLamps).await;
    app.person("Test newcomer", "newcomer@example.org", Role::Technician).await;

    let mut trainer = app.signed_in(Role::Trainer).await;
    let text = before.source.replace("lamps = [\"filter\", \"warning\"]", "lamps = [\"filter\"]");
    let checked = send(&mut trainer, "check", MACHINE, 1, &text, "").await;
    assert_eq!(checked.status, 200);
    let said = checked.text();
    for part in [
        "Nothing is published yet",
        "What this change does",
        "Sections you changed Band",
        "all about the same situation",
        "Until now",
        "Amber warning lamp",
        "With your change",
        // One of its sentences is about the amber lamp: without it, none of the four is right.
        "Scenarios that do not fit 1",
        "What do those lamps say? Line 33: 0 options are right for one draw",
        "Certified on the old numbers 1 person",
        "Test technician Coldbrook",
        "24 Nov 2029",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    // Who holds nothing was certified on nothing.
    assert!(!said.contains("Test failed") && !said.contains("Test newcomer"), "{said}");
    assert_eq!(published(&app, MACHINE).await.len(), 1);

    // What was not seen is not published: another text, or none seen at all.
    let seen = seen(&checked).to_owned();
    for (text, seen) in [(text.replace("40 h", "41 h"), seen.as_str()), (text.clone(), "")] {
        let reply = send(&mut trainer, "publish", MACHINE, 1, &text, seen).await;
        assert_eq!(reply.status, 200);
        assert!(reply.text().contains("has changed since you looked") && reply.text().contains("With your change"));
    }
    assert_eq!(published(&app, MACHINE).await.len(), 1);

    let reply = send(&mut trainer, "publish", MACHINE, 1, &text, &seen).await;
    assert_eq!((reply.status, reply.location()), (303, "/machines/tarrel-60?done=published"), "{}", reply.text());
    let sheet = trainer.get("/machines/tarrel-60?done=published").await.text();
    for part in ["version 2 is in use", "Test trainer", "very high 84 to 110 % filter lamp parked"] {
        assert!(sheet.contains(part), "{part}: {sheet}");
    }
    // Whoever is certified on the old numbers needs a refresher now, and may work until it is due.
    let refreshers = trainer.get("/refreshers").await.text();
    let due = "First day on site valid, refresher due by 24 Dec 2026: changed machine profile";
    assert!(refreshers.contains("Test technician") && refreshers.contains(due), "{refreshers}");
    assert!(!refreshers.contains("Test failed"), "{refreshers}");
    assert_eq!(app.deeds.bank.now().bank.machine(MACHINE).map(|machine| machine.version), Some(2));
    assert_eq!(first(&app).await, before, "version 1 is as it was");
    let old = trainer.get("/machines/tarrel-60?version=1").await.text();
    assert!(old.contains("This is an earlier version") && old.contains("filter lamp, amber warning lamp"), "{old}");
    let id = published(&app, MACHINE).await[0].id.0;
    let entries = record::of_subject(&app.deeds.db, "bank_document", id).await.unwrap();
    assert_eq!(entries.iter().map(|entry| entry.deed.as_str()).collect::<Vec<_>>(), ["machine_published"]);

    let again = publish(&mut trainer, MACHINE, 2, &text).await;
    assert!(again.status == 200 && again.text().contains("This is the text of version 2 as it is"), "{}", again.text());
    app.stop().await;
}

#[tokio::test]
async fn who_no_longer_holds_the_qualification_is_not_named() {
    let app = TestApp::start_with_bank().await;
    let person = app.person("Test holder", "holder@example.org", Role::Technician).await;
    certify(&app, person, "first-day").await;
    let text = first(&app).await.source.replace("40 h", "41 h");
    let mut trainer = app.signed_in(Role::Trainer).await;
    let named =
        async |trainer: &mut Client| send(trainer, "check", MACHINE, 1, &text, "").await.text().contains("Test holder");
    assert!(named(&mut trainer).await);
    // The scheme's three years are over.
    app.clock.advance(3 * 366 * 24 * 3600);
    let mut trainer = app.signed_in(Role::Trainer).await;
    assert!(!named(&mut trainer).await);
    app.stop().await;
}

#[tokio::test]
async fn the_later_of_two_editors_is_shown_both_texts_and_decides() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let source = first(&app).await.source;
    let theirs =
        source.replace("hours_between = \"40 h\"", "hours_between = \"45 h\"").replace("[stop]", "# Ends.\n[stop]");
    let mine = source.replace("hours_between = \"40 h\"", "hours_between = \"50 h\"").replace("\"7.5 L\"", "\"8 L\"");
    // The later one has looked before the other one published.
    let looked = send(&mut trainer, "check", MACHINE, 1, &mine, "").await;
    assert_eq!(publish(&mut trainer, MACHINE, 1, &theirs).await.status, 303);
    for (to, seen) in [("check", ""), ("publish", seen(&looked)), ("publish", "")] {
        let reply = send(&mut trainer, to, MACHINE, 1, &mine, seen).await;
        assert_eq!(reply.status, 422, "{to}");
        let text = reply.text();
        for part in [
            "Somebody has published a version since you began",
            "50 h",
            "45 h",
            "Parked in version 2, published meanwhile",
            "Stop in version 2",
        ] {
            assert!(text.contains(part), "{to}: {part}: {text}");
        }
        assert!(!text.contains("Filter in version 2"), "what only the later one has changed is not in question");
        assert!(reply.body.contains("name=\"base\" value=\"2\""), "the next one follows theirs");
    }
    assert_eq!(published(&app, MACHINE).await.len(), 2);
    assert_eq!(publish(&mut trainer, MACHINE, 2, &mine).await.status, 303);
    assert_eq!(published(&app, MACHINE).await[0].source, mine);
    app.stop().await;
}

#[tokio::test]
async fn a_new_machine_begins_as_a_copy_and_needs_its_own_id() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let form = trainer.get("/machines/new?from=hobrek-40").await;
    assert!(form.body.contains("id = &quot;hobrek-40&quot;"), "{}", form.text());
    let source = first(&app).await.source;
    for (id, said) in [
        ("tarrel-60", "is another machine's id"),
        ("new", "is an address of this program"),
        ("Tarrel", "cannot be part"),
    ] {
        let text = source.replace("id = \"tarrel-60\"", &format!("id = \"{id}\""));
        let reply = send(&mut trainer, "check", "", 0, &text, "").await;
        assert!(reply.status == 422 && reply.text().contains(said), "{id}: {}", reply.text());
    }
    let text = source.replace("id = \"tarrel-60\"", "id = \"tarrel-75\"").replace("Tarrel 60", "Tarrel 75");
    let reply = publish(&mut trainer, "", 0, &text).await;
    assert_eq!((reply.status, reply.location()), (303, "/machines/tarrel-75?done=published"), "{}", reply.text());
    assert!(trainer.get("/machines/tarrel-75").await.text().contains("Tarrel 75"));
    // The same click once more publishes nothing more.
    let reply = send(&mut trainer, "publish", "", 0, &text, "").await;
    assert_eq!((reply.status, reply.location()), (303, "/machines/tarrel-75?done=published"), "{}", reply.text());
    assert_eq!(published(&app, "tarrel-75").await.len(), 1);
    // Who was about to take the same id keeps what they typed.
    let other = text.replace("Tarrel 75", "Tarrel 76");
    let reply = send(&mut trainer, "publish", "", 0, &other, "").await;
    assert!(reply.status == 422 && reply.body.contains("Tarrel 76"), "{}", reply.text());
    app.stop().await;
}
