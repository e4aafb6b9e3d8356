//! Every form that does something, sent twice: in a row, and at the same moment, as an impatient finger does. Whatever it does, it
//! does once; who sent it twice is led to where they would be after once.
//!
//! The forms are those of the pages, with their hidden fields. A route without a form in `cases.rs` fails.

mod cases;
mod form;
mod world;

use crate::support::app::{TestApp, address_of};
use crate::support::client::Reply;
use crate::support::database::OneDatabase;
use crate::support::rows::Rows;
use cases::{CASES, Case, ELSEWHERE};
use sootmark::actions::ask_for_password::ask_for_password;
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::web::routes::{TABLE, Verb};
use std::collections::BTreeMap;
use world::World;

/// A number for each table.
type Counts = BTreeMap<String, i64>;

/// Who sends a form.
#[derive(Clone, Copy, Debug)]
enum Who {
    /// Nobody who is known.
    Nobody,
    /// The branch's person of a role.
    Of(Role),
    /// The person of an address.
    As(&'static str),
    /// The same, who signs in with a one-time code.
    Coded(&'static str),
    /// Somebody whose password was right, and whose code is asked for.
    HalfWay(&'static str),
    /// Somebody whose password was right, and who has to set codes up.
    SettingUp(&'static str),
}

/// What the second click brings.
#[derive(Clone, Copy, Debug)]
enum Second {
    /// The same reply, and no change.
    Same,
    /// The same reply. Neither the first nor the second changes anything.
    Nothing,
    /// The same reply, and one more row of a table; why that is right.
    Anew(&'static str, &'static str),
    /// The same reply, and the one row of a table written once more; why that is right.
    Again(&'static str, &'static str),
    /// The session in which the form was sent ends with the first, on purpose; the second is told to sign in, and changes nothing.
    SignsOut,
}

/// How many rows each table has more than before, or fewer.
fn grown(before: &Counts, after: &Counts) -> Counts {
    let by = |(table, count): (&String, &i64)| (table.clone(), count - before.get(table).copied().unwrap_or_default());
    after.iter().map(by).filter(|(_, by)| *by != 0).collect()
}

/// The tables that do not hold what they held.
fn changed(before: &Rows, after: &Rows) -> Vec<String> {
    let mut tables: Vec<String> = before.keys().chain(after.keys()).cloned().collect();
    tables.sort();
    tables.dedup();
    tables.retain(|table| before.get(table) != after.get(table));
    tables
}

/// What a reader sees of a reply from afar: its status and where it leads.
fn led(reply: &Reply) -> (u16, String) {
    (reply.status, reply.location().to_owned())
}

/// What is wrong when the second reply is not what it should be.
fn reply_problem(case: &Case, first: &Reply, second: &Reply) -> Option<String> {
    let good = match case.second {
        Second::SignsOut => [303, 401].contains(&second.status) || led(second) == led(first),
        _ => led(second) == led(first),
    };
    (!good).then(|| format!("{:?} and then {:?}", led(first), led(second)))
}

/// Where a reply leads, whatever the numbers: PostgreSQL gives a number to what it then undoes.
fn whatever_number(reply: &Reply) -> (u16, String) {
    let (status, to) = led(reply);
    (status, to.split(|c: char| c.is_ascii_digit()).filter(|part| !part.is_empty()).collect::<Vec<_>>().join("#"))
}

/// Sends a form twice in a row; gives what is wrong.
async fn in_a_row(world: &World, case: &Case) -> Vec<String> {
    let form = match world.opened(case).await {
        Ok(form) => form,
        Err(problem) => return vec![problem],
    };
    let before = world.rows().await;
    let first = form.clone().send().await;
    let once = world.rows().await;
    let second = form.send().await;
    let twice = world.rows().await;
    let mut problems = Vec::new();
    if first.status >= 400 {
        problems.push(format!("refused: {}", first.text()));
    }
    let did_nothing = changed(&before, &once).is_empty();
    if did_nothing != matches!(case.second, Second::Nothing) {
        problems.push(format!("the first changed {:?}", changed(&before, &once)));
    }
    let more = changed(&once, &twice);
    let count = |rows: &Rows, table: &str| rows.get(table).map_or(0, Vec::len);
    let as_said = match case.second {
        Second::Again(table, _) => more == [table] && count(&once, table) == count(&twice, table),
        Second::Anew(table, _) => more == [table] && count(&once, table) + 1 == count(&twice, table),
        _ => more.is_empty(),
    };
    if !as_said {
        problems.push(format!("the second changed {more:?}"));
    }
    problems.extend(reply_problem(case, &first, &second));
    problems
}

/// Sends a form once in one world and twice at the same moment in its twin; gives what is wrong.
async fn at_once(alone: &World, twin: &World, case: &Case) -> Vec<String> {
    let (form, forms) = match (alone.opened(case).await, twin.opened(case).await) {
        (Ok(form), Ok(forms)) => (form, forms),
        (Err(problem), _) | (_, Err(problem)) => return vec![problem],
    };
    let before = alone.counts().await;
    let first = form.send().await;
    let once = grown(&before, &alone.counts().await);

    let before = twin.counts().await;
    let (one, other) = futures_util::future::join(forms.clone().send(), forms.send()).await;
    let mut twice = grown(&before, &twin.counts().await);
    if let Second::Anew(table, _) = case.second {
        *twice.entry(table.to_owned()).or_default() -= 1;
        twice.retain(|_, by| *by != 0);
    }
    let mut problems = Vec::new();
    if once != twice {
        problems.push(format!("once makes {once:?}, twice at once {twice:?}"));
    }
    let [as_once, done, again] = [&first, &one, &other].map(whatever_number);
    if done != as_once && again != as_once {
        problems.push(format!("neither reply is that of once, {as_once:?}: {done:?}, {again:?}"));
    }
    // Whichever of the two came first.
    let (done, again) = if done == as_once { (&one, &other) } else { (&other, &one) };
    problems.extend(reply_problem(case, done, again));
    problems
}

fn told(case: &Case, problems: Vec<String>) -> Vec<String> {
    problems.into_iter().map(|problem| format!("{}: {problem}", case.route)).collect()
}

#[test]
fn every_form_that_does_something_has_a_case() {
    for row in TABLE.iter().filter(|row| row.method == Verb::POST) {
        let here = CASES.iter().any(|case| case.route == row.path);
        let elsewhere = ELSEWHERE.iter().any(|(route, _)| *route == row.path);
        assert!(here != elsewhere, "{} needs a line in tests/permissions/twice/cases.rs", row.path);
    }
    for case in CASES {
        assert!(
            !matches!(case.second, Second::Anew(_, "") | Second::Again(_, "")),
            "{} does more, and nothing says why",
            case.route
        );
    }
    for route in CASES.iter().map(|case| case.route).chain(ELSEWHERE.iter().map(|(route, _)| *route)) {
        assert!(TABLE.iter().any(|row| row.method == Verb::POST && row.path == route), "{route} is no form");
    }
}

#[tokio::test]
async fn a_form_that_is_sent_twice_in_a_row_does_once_what_it_does() {
    let database = OneDatabase::fresh().await;
    let world = World::begin(database.db.clone()).await;
    let mut problems = Vec::new();
    for case in CASES {
        problems.extend(told(case, in_a_row(&world, case).await));
    }
    world.stop().await;
    assert_eq!(problems, [] as [String; 0]);
    database.close().await;
}

#[tokio::test]
async fn a_form_that_is_sent_twice_at_the_same_moment_does_once_what_it_does() {
    let (one, other) = (OneDatabase::fresh().await, OneDatabase::fresh().await);
    let (alone, twin) = (World::begin(one.db.clone()).await, World::begin(other.db.clone()).await);
    let mut problems = Vec::new();
    for case in CASES {
        problems.extend(told(case, at_once(&alone, &twin, case).await));
    }
    alone.stop().await;
    twin.stop().await;
    assert_eq!(problems, [] as [String; 0]);
    one.close().await;
    other.close().await;
}

#[tokio::test]
async fn of_two_who_forgot_at_once_one_letter_is_written() {
    let app = TestApp::start_with(Settings::default()).await;
    let email = address_of(Role::Technician);
    let asked = || ask_for_password(&app.deeds, &email);
    let (one, other) = futures_util::future::join(asked(), asked()).await;
    one.and(other).expect("the store");
    asked().await.expect("the store");
    assert_eq!(app.letters().await.len(), 1);
    app.stop().await;
}
