//! `/`: what to do next, in a few lines, for each role.

use crate::actions::begin_examination::{NotYet, what_is_missing};
use crate::domain::certification::Standing;
use crate::domain::people::Role;
use crate::store::attempts::{self, AttemptKind};
use crate::store::qualifications::standing;
use crate::store::read::debriefs::awaited;
use crate::store::read::matrix::{MatrixFilter, matrix};
use crate::store::{outbox, people};
use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::reply;
use crate::web::view::Page;
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// Something to do, or to know.
#[derive(Debug, PartialEq, Eq, Serialize)]
struct Line {
    says: String,
    /// Where to do it, and what the link says.
    link: Option<(String, String)>,
    /// The page's one main link.
    main: bool,
}

impl Line {
    fn to_do(says: impl Into<String>, href: impl Into<String>, label: impl Into<String>) -> Self {
        Self { says: says.into(), link: Some((href.into(), label.into())), main: false }
    }

    fn to_know(says: impl Into<String>) -> Self {
        Self { says: says.into(), link: None, main: false }
    }
}

#[derive(Serialize)]
struct Home {
    page: Page,
    branch: String,
    lines: Vec<Line>,
}

/// What this reader should do next.
///
/// # Errors
/// The program cannot find it out now.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let mut lines = match reader.role {
        Role::Technician => learner(&app, &reader).await?,
        Role::Trainer => trainer(&app).await?,
        Role::ServiceManager => service_manager(&app).await?,
        Role::Administrator => administrator(&app).await?,
    };
    if let Some(first) = lines.iter_mut().find(|line| line.link.is_some()) {
        first.main = true;
    }
    let page = reader.page("What to do next", "/");
    reply::page(&app, "pages/home/home.html", &Home { page, branch: reader.branch_name, lines })
}

/// Goes on where somebody stands on the way to their scheme.
async fn learner(app: &App, reader: &SignedIn) -> Result<Vec<Line>, PageError> {
    let db = &app.deeds.db;
    let read = app.deeds.bank.now();
    let sittings = attempts::of_person(db, reader.person).await?;
    let open =
        sittings.iter().find(|sitting| sitting.kind == AttemptKind::Examination && sitting.submitted_at.is_none());
    let mut lines = Vec::new();
    if let Some(open) = open {
        let href = format!("/examine/sitting/{}/1", open.id);
        lines.push(Line::to_do("You are sitting an examination. Its time is running.", href, "Go on with it"));
    }
    let Some(entry) = reader.scheme_key.as_deref().and_then(|key| read.bank.scheme(key)) else {
        lines.push(Line::to_do("Start with the first module.", "/learn", "To the modules"));
        return Ok(lines);
    };
    let scheme = &entry.scheme;
    let passed = passed_last(app, &sittings, &scheme.id).await?;
    match what_is_missing(db, &read.bank, scheme, reader.person, app.deeds.clock.now()).await? {
        Some(NotYet::LessonsUnread(modules)) => {
            let next = modules.first().and_then(|id| read.bank.module(id));
            let says = format!(
                "On the way to \"{}\": {} with lessons that you have not read.",
                scheme.title,
                counted(modules.len(), "module", "modules")
            );
            let (href, label) = next.map_or_else(
                || ("/learn".to_owned(), "To the modules".to_owned()),
                |module| (format!("/learn/{}", module.id), format!("Go on with \"{}\"", module.title)),
            );
            lines.push(Line::to_do(says, href, label));
        }
        Some(NotYet::DebriefNeeded(attempt)) => {
            let href = format!("/examine/sitting/{attempt}/result");
            lines.push(Line::to_do(
                "You missed a safety question. Your trainer goes through it with you before you sit again.",
                href,
                "Look at what was missed",
            ));
        }
        Some(NotYet::WaitUntil(_)) => {
            lines.push(Line::to_do("You can sit again soon. Practise until then.", "/practise", "Practise"));
        }
        None if passed => {
            let says = format!("You have passed \"{}\". Your record says until when it holds.", scheme.title);
            lines.push(Line::to_do(says, "/record", "See your record"));
        }
        None => {
            let says = format!("You have read everything for \"{}\".", scheme.title);
            lines.push(Line::to_do(says, "/examine", "To the examination"));
            lines.push(Line::to_do("Not sure yet?", "/practise", "Practise first"));
        }
    }
    Ok(lines)
}

async fn passed_last(app: &App, sittings: &[attempts::Attempt], scheme: &str) -> Result<bool, PageError> {
    let last = sittings.iter().find(|sitting| sitting.scheme_key.as_deref() == Some(scheme));
    Ok(match last {
        Some(last) => attempts::find_result(&app.deeds.db, last.id).await?.is_some_and(|result| result.passed),
        None => false,
    })
}

async fn trainer(app: &App) -> Result<Vec<Line>, PageError> {
    let waiting = awaited(&app.deeds.db, None).await?.len();
    let read = app.deeds.bank.now();
    let mut lines = Vec::new();
    match waiting {
        0 => lines.push(Line::to_know("Nobody waits for a talk about a missed safety question.")),
        1 => lines.push(Line::to_do(
            "One person waits for a talk about a missed safety question.",
            "/debriefs",
            "Go through it",
        )),
        more => lines.push(Line::to_do(
            format!("{more} people wait for a talk about a missed safety question."),
            "/debriefs",
            "Go through them",
        )),
    }
    let templates = counted(read.bank.templates().count(), "scenario is", "scenarios are");
    lines.push(match read.problems.len() {
        0 => Line::to_do(format!("{templates} in use, without a problem."), "/templates", "To the scenarios"),
        problems => Line::to_do(
            format!("{templates} in use. {} in the bank to look at.", counted(problems, "problem", "problems")),
            "/templates",
            "Look at them",
        ),
    });
    Ok(lines)
}

async fn service_manager(app: &App) -> Result<Vec<Line>, PageError> {
    let now = app.deeds.clock.now();
    let rows = matrix(&app.deeds.db, &MatrixFilter::default()).await?;
    let (mut suspended, mut expiring) = (0, 0);
    for row in &rows {
        let standings: Vec<Standing> = row.cells.values().map(|entries| standing(entries, now)).collect();
        suspended += usize::from(standings.iter().any(|standing| matches!(standing, Standing::Suspended { .. })));
        expiring += usize::from(standings.iter().any(|standing| matches!(standing, Standing::Expiring { .. })));
    }
    let mut lines =
        vec![Line::to_do("Whom may you send to which machine today?", "/qualified", "See who is qualified")];
    if suspended > 0 {
        let who = counted(suspended, "person is", "people are");
        lines.push(Line::to_do(
            format!("{who} suspended in something after a missed safety question."),
            "/qualified?state=suspended",
            "See who",
        ));
    }
    lines.push(match expiring {
        0 => Line::to_know("Nothing lapses in the next 60 days."),
        some => Line::to_do(
            format!("{} with something that lapses in the next 60 days.", counted(some, "person", "people")),
            "/qualified?state=expiring",
            "See who",
        ),
    });
    Ok(lines)
}

async fn administrator(app: &App) -> Result<Vec<Line>, PageError> {
    let db = &app.deeds.db;
    let unsent = outbox::waiting(db).await?;
    let without = people::count_without_password(db).await?;
    let mut lines = vec![Line::to_do(
        match without {
            0 => "Everyone who may sign in has chosen a password.".to_owned(),
            1 => "One person has not chosen a password yet.".to_owned(),
            more => format!("{more} people have not chosen a password yet."),
        },
        "/people",
        "To the people",
    )];
    lines.push(Line::to_know(match unsent {
        0 => "Every letter has been sent.".to_owned(),
        1 => "One letter waits to be sent.".to_owned(),
        more => format!("{more} letters wait to be sent."),
    }));
    Ok(lines)
}

/// "1 module", "3 modules".
fn counted(count: usize, one: &str, more: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {more}") }
}
