//! The list of letters: to everyone for administrators, to the people of the own branch for service managers.
//!
//! Never shows what a letter says or where its links lead.

use crate::domain::letters::Kind;
use crate::domain::people::Permission;
use crate::store::read::letters::{LetterLine, LettersFilter, State, Wanted, letters};
use crate::store::{BranchId, branches};
use crate::web::dates::day_and_time;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, address, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// Letters on one page.
const PAGE: u64 = 50;
/// What is shown of a mail server's words, in characters; chosen by us.
const LONGEST_CAUSE: usize = 300;
/// What became of letters, as it is chosen.
const STATES: [(&str, &str, Wanted); 3] = [
    ("waiting", "Waiting", Wanted::Waiting),
    ("sent", "Sent", Wanted::Sent),
    ("failed", "Failed and given up", Wanted::Left),
];

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    name: String,
    /// The person's page; nothing of letters from before that was kept.
    href: Option<String>,
    address: String,
    branch: String,
    kind: &'static str,
    written: String,
    state: &'static str,
    note: String,
}

#[derive(Serialize)]
struct Sent {
    page: Page,
    rows: Vec<Row>,
    search: String,
    kinds: Vec<Choice>,
    kind: String,
    states: Vec<Choice>,
    state: String,
    /// None for who sees one branch only.
    branches: Vec<Choice>,
    branch: String,
    branch_name: String,
    from: u64,
    to: u64,
    total: u64,
    before: Option<String>,
    after: Option<String>,
}

/// The list: the newest first, of one kind or of all, of those that wait, were sent or failed.
///
/// # Errors
/// The program cannot do it now.
pub async fn sent(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let everyone = reader.may(Permission::ManageBranches);
    let chosen = query.typed("branch").parse::<BranchId>().ok();
    let branch = if everyone { chosen } else { Some(reader.branch) };
    let kind = Kind::from_id(query.typed("kind"));
    let state = STATES.into_iter().find(|(word, ..)| *word == query.typed("state"));
    let search: String = query.typed("search").chars().filter(|c| !c.is_control()).take(100).collect();
    let number = query.typed("page").parse::<u64>().unwrap_or(1).clamp(1, 1_000_000);
    let filter = LettersFilter { branch, kind, state: state.map(|(.., wanted)| wanted), search: Some(search.clone()) };
    let found = letters(&app.deeds.db, &filter, number, PAGE).await?;

    let shown = found.letters.len() as u64;
    let skipped = (number - 1) * PAGE;
    let in_branch = chosen.filter(|_| everyone).map(|branch| branch.to_string()).unwrap_or_default();
    let (in_kind, in_state) = (kind.map_or("", Kind::id), state.map_or("", |(word, ..)| word));
    let href = |number: u64| {
        let search = address::in_query(&search);
        format!("/letters?search={search}&kind={in_kind}&state={in_state}&branch={in_branch}&page={number}")
    };
    let known = if everyone { branches::list(&app.deeds.db).await? } else { Vec::new() };
    let branch_choices = known.into_iter().map(|branch| choice(branch.id, branch.name));
    let rows = found.letters.into_iter().map(|line| row(line, &reader)).collect::<Result<_, _>>()?;
    let context = Sent {
        page: reader.page("Letters", "/letters"),
        rows,
        kinds: with_all("All kinds", Kind::ALL.into_iter().map(|kind| choice(kind.id(), kind.name()))),
        kind: in_kind.to_owned(),
        states: with_all("All", STATES.into_iter().map(|(word, text, _)| choice(word, text))),
        state: in_state.to_owned(),
        branches: if everyone { with_all("All branches", branch_choices) } else { Vec::new() },
        branch: in_branch.clone(),
        branch_name: reader.branch_name.clone(),
        from: if shown == 0 { 0 } else { skipped + 1 },
        to: if shown == 0 { 0 } else { skipped + shown },
        total: found.total,
        before: (number > 1).then(|| href(number - 1)),
        after: (skipped + shown < found.total).then(|| href(number + 1)),
        search,
    };
    reply::page(&app, "pages/letters/sent.html", &context)
}

fn choice(value: impl ToString, text: impl Into<String>) -> Choice {
    Choice { value: value.to_string(), text: text.into() }
}

fn with_all(all: &str, each: impl Iterator<Item = Choice>) -> Vec<Choice> {
    std::iter::once(choice("", all)).chain(each).collect()
}

fn row(line: LetterLine, reader: &SignedIn) -> Result<Row, PageError> {
    let at = |moment| day_and_time(moment, &reader.time_zone);
    let (state, note) = match line.state {
        State::Sent { at: when } if line.tries > 1 => ("sent", format!("{}, at try {}", at(when)?, line.tries)),
        State::Sent { at: when } => ("sent", at(when)?),
        State::Waiting { .. } if line.tries == 0 => ("waiting", "not tried yet".to_owned()),
        State::Waiting { next_at } => {
            ("waiting", format!("{}, next on {}{}", tries(line.tries), at(next_at)?, because(line.cause.as_deref())))
        }
        State::Left { at: when } => {
            ("failed", format!("{}, given up on {}{}", tries(line.tries), at(when)?, because(line.cause.as_deref())))
        }
    };
    Ok(Row {
        name: line.name,
        href: line.person_id.map(|person| format!("/people/{person}")),
        address: line.address,
        branch: line.branch_name.unwrap_or_default(),
        kind: line.kind.name(),
        written: at(line.written_at)?,
        state,
        note,
    })
}

fn tries(count: i32) -> String {
    if count == 1 { "tried once".to_owned() } else { format!("tried {count} times") }
}

/// Why it failed, in the mail server's words.
fn because(cause: Option<&str>) -> String {
    let cause: String = cause.unwrap_or_default().chars().filter(|c| !c.is_control()).take(LONGEST_CAUSE).collect();
    if cause.is_empty() { cause } else { format!(": {cause}") }
}
