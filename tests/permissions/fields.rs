//! Who finds what is written about a person, and who is given which field to change: walked, and held against FIELDS.md.
//!
//! Something that nobody else writes is put into each field; then everybody opens every page that lets them in.

use super::{ask, start};
use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::observed::{BOTH, assessor, mark_all, open};
use crate::support::sittings::{Sat, decided, manager, sit};
use sootmark::actions::appeal::{Heard, Lodged, decide_appeal, lodge_appeal};
use sootmark::actions::decide::{Decided, Decider};
use sootmark::actions::observe::{StepSaved, mark_step};
use sootmark::actions::sign_observation::{Signing, sign_observation};
use sootmark::domain::certification::decision::{Finding, Verdict};
use sootmark::domain::examination::observation::{Mark, Marked, Task};
use sootmark::domain::people::Role;
use sootmark::store::{AttemptId, InvigilationId, ObservationId, PersonId, attempts, invigilations, people};
use sootmark::web::routes::{Access, RouteRow, TABLE, Verb};
use std::collections::{BTreeMap, BTreeSet};

/// Whom the fields are about, and who looks.
const THEIRS: &str = "third@example.org";
const VIEWERS: [&str; 5] = ["oneself", "another technician", "trainer", "service manager", "administrator"];

/// A field, and what stands in it here.
type Planted = Vec<(&'static str, String)>;

async fn set_time(app: &TestApp, person: PersonId, reason: &str) {
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let page = manager.get(&format!("/people/{person}/time")).await;
    let key = page.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let fields = [("kind", "percent"), ("amount", "50"), ("reason", reason), ("key", key.as_str())];
    assert_eq!(manager.post(&format!("/people/{person}/time"), &fields).await.status, 303);
}

async fn write_down(app: &TestApp, text: &str) {
    let mut trainer = app.signed_in(Role::Trainer).await;
    let page = trainer.get("/refreshers").await;
    let key = page.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let fields = [("key", key.as_str()), ("email", THEIRS), ("kind", "unsafe_act"), ("text", text)];
    assert_eq!(trainer.post("/refreshers", &fields).await.status, 303);
}

/// A task that the trainer watches, with a remark; signed by both.
async fn remark(app: &TestApp, person: PersonId, remark: &str) -> ObservationId {
    let by = assessor(app, Role::Trainer).await;
    let id = open(app, by, person, Task::DailyCheck).await;
    mark_all(app, by, id, &[]).await;
    let marked = Marked { mark: Mark::Seen, remark: remark.to_owned() };
    let saved = mark_step(&app.deeds, by, id, 1, &marked).await.expect("the store");
    assert!(matches!(saved, StepSaved::Saved(_)), "{saved:?}");
    assert!(matches!(sign_observation(&app.deeds, by, id, BOTH).await.expect("the store"), Signing::Done(_)));
    id
}

/// The debrief, the refusal, the appeal against it and what came of that; all about attempt 5 of the walk.
async fn decide_and_appeal(app: &TestApp, person: PersonId, planted: &Planted) {
    let text = |field: &str| planted.iter().find(|(name, _)| *name == field).expect("a field").1.as_str();
    let mut trainer = app.signed_in(Role::Trainer).await;
    trainer.get("/debriefs/5").await;
    assert_eq!(trainer.post("/debriefs/5", &[("note", text("note of the talk after a miss"))]).await.status, 303);
    let by = manager(app).await;
    let done = decided(app, by, AttemptId(5), Verdict::Refused, text("reason of a decision")).await;
    assert_eq!(done, Decided::Done(None));
    let lodged = lodge_appeal(&app.deeds, person, AttemptId(5), text("text of an appeal")).await.expect("the store");
    assert_eq!(lodged, Lodged::Done);
    let other = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Administrator)).await.expect("the store");
    let by = Decider { person: other.expect("an administrator").id, role: Role::Administrator, branch: app.branch };
    let reason = text("reason of what came of it");
    let heard = decide_appeal(&app.deeds, by, AttemptId(5), Finding::Dismissed, reason).await.expect("the store");
    assert!(matches!(heard, Heard::Done(None)), "{heard:?}");
}

/// Everything that is written about one person, and what no page may show.
async fn plant(app: &TestApp) -> (Planted, PersonId, ObservationId) {
    let person = people::find_by_email_norm(&app.deeds.db, THEIRS).await.expect("the store").expect("a person").id;
    let words = [
        "reason of more time",
        "what happened with somebody",
        "remark at a machine",
        "note of the talk after a miss",
        "reason of a decision",
        "text of an appeal",
        "reason of what came of it",
    ];
    let mut planted: Planted =
        words.iter().enumerate().map(|(at, field)| (*field, format!("Planted words number {at}."))).collect();
    set_time(app, person, &planted[0].1).await;
    write_down(app, &planted[1].1).await;
    let seen = remark(app, person, &planted[2].1).await;
    decide_and_appeal(app, person, &planted).await;
    planted.push(("address", THEIRS.to_owned()));
    let watched = invigilations::by_id(&app.deeds.db, app.branch, InvigilationId(1)).await.expect("the invigilation");
    planted.push(("code of an invigilation", watched.code.to_string()));
    let hash = people::find_password_phc(&app.deeds.db, person).await.expect("the store").expect("a hash");
    planted.push(("hash of a password", hash));
    let sitting = attempts::by_id(&app.deeds.db, person, AttemptId(5)).await.expect("the sitting");
    planted.push(("seed of a sitting", sitting.seed.iter().map(|byte| format!("{byte:02x}")).collect()));
    (planted, person, seen)
}

/// Every page that a row may show of that person or of the walk's own things.
fn addresses(row: &RouteRow, person: PersonId, seen: ObservationId) -> Vec<String> {
    // Sitting 8 waits for a talk and a decision; observation 3 is the trainer's to fill in and 4 the service manager's.
    let ids = [person.to_string(), seen.to_string(), "5".to_owned(), "1".to_owned(), "3".to_owned(), "4".to_owned()];
    let ids = [&ids[..], &["8".to_owned()]].concat();
    let of = |name: &str| match name {
        "{id}" => ids.clone(),
        "{attempt}" => vec!["5".to_owned(), "8".to_owned()],
        "{observation}" => vec![seen.to_string()],
        "{position}" => vec!["1".to_owned()],
        "{scheme}" => vec!["first-day".to_owned()],
        "{module}" => vec!["lamps".to_owned()],
        "{lesson}" => vec!["01-amber-and-red".to_owned()],
        "{topic}" => vec!["fire".to_owned()],
        "{name}" => vec!["straw-under-the-boom".to_owned()],
        "{number}" => vec!["2026-00001".to_owned()],
        other => vec![other.to_owned()],
    };
    row.path.split('/').skip(1).fold(vec![String::new()], |begun, part| {
        let ends = of(part);
        begun.iter().flat_map(|path| ends.iter().map(move |end| format!("{path}/{end}"))).collect()
    })
}

/// The forms of a page: where each is sent, and the names of its fields. What every form carries is left out.
fn forms(reply: &Reply) -> Vec<(String, BTreeSet<String>)> {
    let mut found = Vec::new();
    for form in reply.body.split("<form").skip(1).filter_map(|rest| rest.split("</form>").next()) {
        let (head, inside) = form.split_once('>').unwrap_or((form, ""));
        let value = |name: &str| head.split_once(&format!("{name}=\""))?.1.split('"').next();
        if value("method") != Some("post") {
            continue;
        }
        let names = inside.split("name=\"").skip(1).filter_map(|rest| rest.split('"').next());
        let carried = ["form_token", "key", "next", "submit_key"];
        // Fields that are counted are one kind of field.
        let kind = |name: &str| name.trim_end_matches(|letter: char| letter.is_ascii_digit()).to_owned();
        let names = names.filter(|name| !carried.contains(name)).map(kind).collect();
        found.push((value("action").unwrap_or_default().to_owned(), names));
    }
    found
}

/// The row that a form is sent to.
fn sent_to(action: &str) -> &'static str {
    let path = action.split('?').next().unwrap_or_default();
    let fits = |row: &&RouteRow| {
        let (pattern, given): (Vec<_>, Vec<_>) = (row.path.split('/').collect(), path.split('/').collect());
        let same = |(pattern, given): (&&str, &&str)| pattern.starts_with('{') || pattern == given;
        row.method == Verb::POST && pattern.len() == given.len() && pattern.iter().zip(&given).all(same)
    };
    // The one with the fewest changing parts is the one that answers.
    let row = TABLE.iter().filter(fits).min_by_key(|row| row.path.matches('{').count());
    row.unwrap_or_else(|| panic!("no row takes {action}")).path
}

/// Who saw what, and who was given which fields.
#[derive(Default)]
struct Walked {
    seen: BTreeSet<(&'static str, &'static str)>,
    given: BTreeMap<(&'static str, String), BTreeSet<&'static str>>,
}

async fn walk(
    app: &TestApp,
    viewer: &'static str,
    browser: &mut Client,
    of: (&Planted, PersonId, ObservationId),
) -> Walked {
    let (planted, person, seen) = of;
    let role = Role::ALL.into_iter().find(|role| viewer == role.name()).unwrap_or(Role::Technician);
    let mut walked = Walked::default();
    let admitted =
        |row: &&RouteRow| row.method == Verb::GET && ![Access::Public, Access::Halfway].contains(&row.access);
    for row in TABLE.iter().filter(admitted).filter(|row| row.access.admits(role)) {
        for path in addresses(row, person, seen) {
            let reply = ask(browser, row, &path).await;
            let text = reply.text();
            for (field, words) in planted.iter().filter(|(_, words)| text.contains(words) || reply.body.contains(words))
            {
                assert!(!words.is_empty(), "{field} is empty");
                walked.seen.insert((*field, viewer));
            }
            for (action, names) in forms(&reply) {
                let to = sent_to(&action);
                let names = names.into_iter().collect::<Vec<_>>().join(", ");
                walked.given.entry((to, names)).or_default().insert(viewer);
            }
        }
    }
    app.clock.advance(1);
    walked
}

fn table(planted: &Planted, walked: &Walked) -> String {
    let mut lines = vec![format!("| what | {} |", VIEWERS.join(" | ")), "|---|---|---|---|---|---|".to_owned()];
    for (field, _) in planted {
        let cell = |viewer: &&str| if walked.seen.contains(&(*field, *viewer)) { "sees" } else { "" };
        let cells: Vec<&str> = VIEWERS.iter().map(cell).collect();
        lines.push(format!("| {field} | {} |", cells.join(" | ")));
    }
    lines.push(String::new());
    lines.push("| sent to | fields | given to |".to_owned());
    lines.push("|---|---|---|".to_owned());
    for ((to, names), viewers) in &walked.given {
        let viewers: Vec<&str> = VIEWERS.into_iter().filter(|viewer| viewers.contains(viewer)).collect();
        lines.push(format!("| `{to}` | {names} | {} |", viewers.join(", ")));
    }
    lines.join("\n") + "\n"
}

#[tokio::test]
async fn who_sees_and_who_is_given_which_field_is_what_the_table_says() {
    let app = start().await;
    let (planted, person, seen) = plant(&app).await;
    let fourth = app.person("Test fourth", "fourth@example.org", Role::Technician).await;
    assert_eq!(sit(&app, fourth, "first-day", Sat::MissingFire).await.0, 8);
    let mut walked = Walked::default();
    for viewer in VIEWERS {
        let email = match viewer {
            "oneself" => THEIRS.to_owned(),
            "another technician" => "fourth@example.org".to_owned(),
            other => address_of(Role::ALL.into_iter().find(|role| role.name() == other).expect("a role")),
        };
        let mut browser = app.signed_in_as(&email).await;
        let more = walk(&app, viewer, &mut browser, (&planted, person, seen)).await;
        walked.seen.extend(more.seen);
        for (form, viewers) in more.given {
            walked.given.entry(form).or_default().extend(viewers);
        }
    }
    let now = table(&planted, &walked);
    let kept = include_str!("FIELDS.md");
    let kept = &kept[kept.find("| what |").expect("a table")..];
    assert!(kept == now, "tests/permissions/FIELDS.md says something else; it would be now:\n{now}");
    app.stop().await;
}
