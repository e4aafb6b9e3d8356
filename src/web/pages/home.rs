//! `/`: what to do next, in a few lines, for each role.

mod assigned;

use crate::actions::begin_examination::{NotYet, what_is_missing};
use crate::domain::bank::Bank;
use crate::domain::certification::Standing;
use crate::domain::certification::decision::{Finding, Verdict};
use crate::domain::examination::scheme::Scheme;
use crate::domain::people::Role;
use crate::store::attempts::{self, Attempt, AttemptKind, AttemptState};
use crate::store::qualifications::{self, Qualification, standing};
use crate::store::read::certification;
use crate::store::read::debriefs::awaited;
use crate::store::read::decisions::lines;
use crate::store::read::matrix::{MatrixFilter, matrix};
use crate::store::{AttemptId, outbox, people};
use crate::web::App;
use crate::web::dates::{day, time_of_day};
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
        Role::Trainer => trainer(&app, &reader).await?,
        Role::ServiceManager => service_manager(&app, &reader).await?,
        Role::Administrator => administrator(&app, &reader).await?,
    };
    if matches!(reader.role, Role::Technician | Role::Trainer) {
        lines.extend(assigned::own(&app, &reader).await?);
    }
    if let Some(first) = lines.iter_mut().find(|line| line.link.is_some()) {
        first.main = true;
    }
    let page = reader.page("What to do next", "/");
    reply::page(&app, "pages/home/home.html", &Home { page, branch: reader.branch_name, lines })
}

/// Goes on where somebody stands on the way to their scheme.
async fn learner(app: &App, reader: &SignedIn) -> Result<Vec<Line>, PageError> {
    let read = app.deeds.bank.now();
    let sittings = attempts::of_person(&app.deeds.db, reader.person).await?;
    // Nothing else is worth saying while the time of an examination runs.
    if let Some(line) = under_way(app, &sittings) {
        return Ok(vec![line]);
    }
    let Some(entry) = reader.scheme_key.as_deref().and_then(|key| read.bank.scheme(key)) else {
        let mut lines: Vec<Line> = own_debrief(app, reader).await?.into_iter().collect();
        lines.push(Line::to_do(
            "Nobody has said yet what you work towards. Read the modules.",
            "/learn",
            "To the modules",
        ));
        return Ok(lines);
    };
    let missing =
        what_is_missing(&app.deeds.db, &read.bank, &entry.scheme, reader.person, app.deeds.clock.now()).await?;
    match missing {
        Some(not_yet) => Ok(vec![first(&read.bank, &entry.scheme, &not_yet, &reader.time_zone)?]),
        None => may_sit(app, reader, &entry.scheme, &sittings).await,
    }
}

/// The examination that somebody sits now, or that the clock is about to hand in.
fn under_way(app: &App, sittings: &[Attempt]) -> Option<Line> {
    let open = sittings
        .iter()
        .find(|sitting| sitting.kind == AttemptKind::Examination && sitting.state == AttemptState::Open)?;
    if open.is_overdue(app.deeds.clock.now()) {
        let says = "The time for your examination is over. What you had saved is graded now.";
        return Some(Line::to_do(says, "/examine", "To the examinations"));
    }
    let href = format!("/examine/sitting/{}/1", open.id);
    Some(Line::to_do("You are sitting an examination. Its time is running.", href, "Go on with it"))
}

/// What has to come before the next sitting.
fn first(bank: &Bank, scheme: &Scheme, not_yet: &NotYet, zone: &str) -> Result<Line, PageError> {
    Ok(match not_yet {
        NotYet::LessonsUnread(modules) => {
            let says = format!(
                "On the way to \"{}\": {} with lessons that you have not read.",
                scheme.title,
                counted(modules.len(), "module", "modules")
            );
            match modules.first().and_then(|id| bank.module(id)) {
                Some(module) => {
                    Line::to_do(says, format!("/learn/{}", module.id), format!("Go on with \"{}\"", module.title))
                }
                None => Line::to_do(says, "/learn", "To the modules"),
            }
        }
        NotYet::DebriefNeeded(attempt) => missed_safety(*attempt),
        NotYet::AwaitsDecision(_) => Line::to_do(
            format!("You passed \"{}\". A service manager decides about your certificate.", scheme.title),
            "/record",
            "See your record",
        ),
        NotYet::AttemptsUsedUp(until) => {
            let says = format!(
                "You have used up your attempts at \"{}\". You can sit it again on {}. Talk to your trainer.",
                scheme.title,
                day(*until, zone)?
            );
            Line::to_do(says, "/practise", "Practise")
        }
        NotYet::WaitUntil(until) => {
            let says = format!(
                "You can sit \"{}\" again on {} at {}. Practise until then.",
                scheme.title,
                day(*until, zone)?,
                time_of_day(*until, zone)?
            );
            Line::to_do(says, "/practise", "Practise")
        }
    })
}

fn missed_safety(attempt: AttemptId) -> Line {
    let says = "You missed a safety question. A trainer goes through it with you before you sit again.";
    Line::to_do(says, format!("/examine/sitting/{attempt}/result"), "Look at what was missed")
}

/// Somebody's own talk that is still to be held, whatever they work towards.
async fn own_debrief(app: &App, reader: &SignedIn) -> Result<Option<Line>, PageError> {
    let waiting = awaited(&app.deeds.db, None).await?;
    let own = waiting.iter().find(|each| each.person_id == reader.person);
    Ok(own.map(|own| missed_safety(own.attempt_id)))
}

/// For whom nothing has to come first: the examination, or what it gave and how long that holds.
async fn may_sit(app: &App, reader: &SignedIn, scheme: &Scheme, sittings: &[Attempt]) -> Result<Vec<Line>, PageError> {
    let title = &scheme.title;
    let last = sittings.iter().find(|sitting| sitting.scheme_key.as_deref() == Some(scheme.id.as_str()));
    let passed = match last {
        Some(last) => attempts::find_result(&app.deeds.db, last.id).await?.is_some_and(|result| result.passed),
        None => false,
    };
    if !passed {
        let says = match last {
            Some(_) => format!("You can sit \"{title}\" again."),
            None => format!("You have read everything for \"{title}\"."),
        };
        return Ok(vec![
            Line::to_do(says, "/examine", "To the examination"),
            Line::to_do("Not sure yet?", "/practise", "Practise first"),
        ]);
    }
    let own = qualifications::of_person(&app.deeds.db, reader.person).await?;
    let certification = certification::of_person(&app.deeds.db, reader.person).await?;
    let now = app.deeds.clock.now();
    let standings: Vec<Standing> = scheme
        .parts
        .iter()
        .map(|part| {
            let of_part = |found: &&Qualification| found.entry.competence_key == part.competence;
            let entries: Vec<Qualification> = own.iter().filter(of_part).cloned().collect();
            standing(&entries, &certification, &part.competence, now)
        })
        .collect();
    let record = |says: String| Line::to_do(says, "/record", "See your record");
    let lines = lines(&app.deeds.db, Some(reader.person)).await?;
    let refused = lines.iter().find(|line| line.scheme_key == scheme.id).is_some_and(|line| {
        matches!(line.decided, Some((Verdict::Refused, _))) && line.finding != Some(Finding::Upheld)
    });
    if refused && !standings.iter().all(|standing| standing.is_qualified()) {
        let says = format!("You passed \"{title}\", but the certificate was refused. Your record says why.");
        let again = Line::to_do("You can sit it again.", "/examine", "To the examination");
        return Ok(vec![record(says), again]);
    }
    Ok(if !standings.iter().all(|standing| standing.is_qualified()) {
        let says = format!("You passed \"{title}\", but you are not qualified in all of it now. Sit it again.");
        vec![Line::to_do(says, "/examine", "To the examination"), record("What holds and what does not:".to_owned())]
    } else if standings.iter().any(|standing| matches!(standing, Standing::RefresherDue { .. })) {
        let says = format!("Something happened after which you sit \"{title}\" again. Your record says by when.");
        vec![Line::to_do(says, "/examine", "To the examination"), record("Why, and by when:".to_owned())]
    } else if standings.iter().any(|standing| matches!(standing, Standing::Expiring { .. })) {
        let says = format!("Your qualification by \"{title}\" runs out soon. Sit it again before it does.");
        vec![Line::to_do(says, "/examine", "To the examination"), record("Until when it holds:".to_owned())]
    } else {
        vec![record(format!("You have passed \"{title}\". Your record says until when it holds."))]
    })
}

async fn trainer(app: &App, reader: &SignedIn) -> Result<Vec<Line>, PageError> {
    let sittings = attempts::of_person(&app.deeds.db, reader.person).await?;
    let mut lines: Vec<Line> = under_way(app, &sittings).into_iter().collect();
    let all = awaited(&app.deeds.db, None).await?;
    // Nobody goes through their own miss: it is no work for this trainer.
    let waiting = all.iter().filter(|each| each.person_id != reader.person).count();
    lines.push(match waiting {
        0 => Line::to_know("Nobody waits for you to talk about a missed safety question."),
        1 => Line::to_do("One person waits for a talk about a missed safety question.", "/debriefs", "Go through it"),
        more => {
            let says = format!("{more} people wait for a talk about a missed safety question.");
            Line::to_do(says, "/debriefs", "Go through them")
        }
    });
    lines.extend(own_debrief(app, reader).await?);
    let read = app.deeds.bank.now();
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

async fn service_manager(app: &App, reader: &SignedIn) -> Result<Vec<Line>, PageError> {
    let now = app.deeds.clock.now();
    let rows = matrix(&app.deeds.db, &MatrixFilter::default()).await?;
    let (mut suspended, mut expiring) = (0, 0);
    for row in &rows {
        let stands = |(competence, entries): (&String, &Vec<Qualification>)| {
            standing(entries, &row.certification, competence, now)
        };
        let standings: Vec<Standing> = row.cells.iter().map(stands).collect();
        suspended += usize::from(standings.iter().any(|standing| matches!(standing, Standing::Suspended { .. })));
        expiring += usize::from(standings.iter().any(|standing| matches!(standing, Standing::Expiring { .. })));
    }
    let mut lines = vec![Line::to_do("Whom may you send to which machine today?", "/qualified/who", "Ask")];
    lines.extend(decisions(app, reader).await?);
    lines.extend(assigned::overdue(app).await?);
    if suspended > 0 {
        let who = counted(suspended, "person is", "people are");
        lines.push(Line::to_do(format!("{who} suspended in something."), "/qualified?state=suspended", "See who"));
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

async fn administrator(app: &App, reader: &SignedIn) -> Result<Vec<Line>, PageError> {
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
    lines.extend(decisions(app, reader).await?);
    lines.push(Line::to_know(match unsent {
        0 => "Every letter has been sent.".to_owned(),
        1 => "One letter waits to be sent.".to_owned(),
        more => format!("{more} letters wait to be sent."),
    }));
    Ok(lines)
}

/// What waits for this reader to decide.
async fn decisions(app: &App, reader: &SignedIn) -> Result<Option<Line>, PageError> {
    let waiting = super::decisions::waiting_for(app, reader).await?;
    let says = match waiting {
        0 => return Ok(None),
        1 => "One examination or appeal waits for your decision.".to_owned(),
        more => format!("{more} examinations or appeals wait for your decision."),
    };
    Ok(Some(Line::to_do(says, "/decisions", "Decide")))
}

/// "1 module", "3 modules".
fn counted(count: usize, one: &str, more: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {more}") }
}
