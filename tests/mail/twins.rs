//! What each letter says, as text and as HTML: the same in both, nothing of a person in a subject, nothing that a name can break.

use crate::support::app::BEGINNING;
use sootmark::domain::letters::Kind;
use sootmark::mail::digest::{self, Digest, Line, Part};
use sootmark::mail::letter::About;
use sootmark::mail::notices::{self, Assigned, Decision, Expiry, Granted, Reminder, Waits};
use sootmark::store::outbox::NewMail;
use sootmark::web::view::Views;

const NAME: &str = "Ada <Größe>";
const SCHEME: &str = "Field technician";
const ZONE: &str = "Europe/Berlin";
const LINK: &str = "https://training.example.org/examine";
const STOP: &str = "https://training.example.org/letters/stop/SECRET";

fn about() -> About<'static> {
    About { to: "ada@example.org", name: NAME, branch_name: "Coldbrook", now: BEGINNING }
}

fn decided(certificate: Option<Granted<'_>>, appeal: bool) -> NewMail {
    let link = "https://training.example.org/record/sitting/7";
    let of = Decision { name: NAME, scheme: SCHEME, appeal, certificate, zone: ZONE, link };
    notices::decision(&Views::load().expect("the templates"), about(), &of).expect("a letter")
}

fn reminded(waits: Waits, thing: &str) -> NewMail {
    let of = Reminder { name: NAME, waits, thing, at: BEGINNING.0, zone: ZONE, link: LINK, stop: STOP };
    notices::reminder(&Views::load().expect("the templates"), about(), &of).expect("a letter")
}

fn every_letter() -> Vec<(&'static str, NewMail)> {
    let views = Views::load().expect("the templates");
    let scope = ["lamps and messages".to_owned(), "machine tarrel-60".to_owned()];
    let granted = Granted { number: "2026-00001-3", until: BEGINNING.0, scope: &scope };
    let (number, until) = ("2026-00001-3", BEGINNING.0);
    let ends = Expiry { name: NAME, scheme: SCHEME, number, until, zone: ZONE, days: 7, link: LINK, stop: STOP };
    let due = Assigned { name: NAME, thing: "Module \"Lamps\"", due: BEGINNING.0, zone: ZONE, link: LINK };
    let line = |who: &str| Line { who: who.to_owned(), what: SCHEME.to_owned(), at: BEGINNING.0 };
    let parts = [
        Part {
            title: "Certificates that end in the next 60 days",
            when: "ends on",
            place: "/qualified/lapsing?days=60&branch=1".to_owned(),
            lines: vec![line("Ines Varga"), line("Jost Ahlers")],
            more: 3,
        },
        Part {
            title: "Waits for your decision",
            when: "since",
            place: "/decisions".to_owned(),
            lines: vec![line("Ines & Co")],
            more: 0,
        },
    ];
    let origin = "https://training.example.org";
    let week = Digest { name: NAME, branch: "Coldbrook", parts: &parts, origin, zone: ZONE, stop: STOP };
    vec![
        ("granted", decided(Some(granted), false)),
        ("refused", decided(None, false)),
        ("appeal", decided(None, true)),
        ("expiry", notices::expiry(&views, about(), &ends).expect("a letter")),
        ("refresher", reminded(Waits::Refresher, SCHEME)),
        ("sitting", reminded(Waits::Sitting, SCHEME)),
        ("due_day", reminded(Waits::DueDay, "Module \"Lamps\"")),
        ("assignment", notices::assignment(&views, about(), &due).expect("a letter")),
        ("week", digest::digest(&views, about(), &week).expect("a letter")),
    ]
}

/// The words of a letter in HTML, as a person reads them, without the links' addresses.
fn words(html: &str) -> String {
    let body = html.split_once("<body>").expect("a body").1;
    let mut text = String::new();
    for (at, part) in body.split('<').enumerate() {
        let shown = if at == 0 { part } else { part.split_once('>').map_or("", |(_, shown)| shown) };
        text.push_str(shown);
        text.push(' ');
    }
    let text = text.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">").replace("&#x27;", "'");
    text.replace("&#x2F;", "/").replace("&amp;", "&").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn each_letter_reads_as_a_person_would_write_it() {
    for (name, letter) in every_letter() {
        insta::assert_snapshot!(format!("{name}_text"), format!("{}\n\n{}", letter.subject, letter.text_body));
        insta::assert_snapshot!(format!("{name}_html"), letter.html_body);
    }
}

#[test]
fn the_twins_say_the_same() {
    for (name, letter) in every_letter() {
        let html = words(&letter.html_body);
        let dates = letter.text_body.matches("24 Nov 2026").count();
        assert_eq!(html.matches("24 Nov 2026").count(), dates, "{name}: {html}");
        for said in ["Ada <Größe>,", "2026-00001-3", SCHEME, "Module \"Lamps\"", "Ines & Co", "Coldbrook", "3 more"] {
            assert_eq!(letter.text_body.contains(said), html.contains(said), "{name}: {said} in {html}");
        }
        for address in letter.text_body.split_whitespace().filter(|word| word.starts_with("https://")) {
            assert!(
                letter.html_body.replace("&amp;", "&").replace("&#x2F;", "/").contains(address),
                "{name}: {address}"
            );
        }
        // A name never becomes markup.
        assert!(!letter.html_body.contains("<Größe>"), "{name}");
    }
}

#[test]
fn a_subject_tells_a_locked_screen_nothing_about_the_person() {
    for (name, letter) in every_letter() {
        for secret in ["Ada", SCHEME, "2026", "granted", "refused", "Lamps", "Ines", "Coldbrook"] {
            assert!(!letter.subject.contains(secret), "{name}: {}", letter.subject);
        }
    }
}

#[test]
fn what_may_be_refused_says_how_in_both_twins_and_nothing_else_does() {
    for (name, letter) in every_letter() {
        let says = (letter.text_body.contains(STOP), letter.html_body.replace("&#x2F;", "/").contains(STOP));
        let may = letter.kind.may_be_refused();
        assert_eq!(says, (may, may), "{name}");
        assert_eq!(may, matches!(letter.kind, Kind::Expiry | Kind::Reminder | Kind::Digest), "{name}");
    }
}
