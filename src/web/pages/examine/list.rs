//! `/examine`: the schemes, where one stands in each, and the button that begins.

use crate::actions::begin_examination::{Begun, NotYet, begin_with_code, what_is_missing};
use crate::actions::invigilate::{CodeRefused, Typed};
use crate::domain::bank::{Bank, SchemeEntry};
use crate::domain::examination::extra_time::ExtraTime;
use crate::domain::units::Moment;
use crate::store::attempts::{self, Attempt, AttemptKind};
use crate::store::extra_times;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, address, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/examine/list.html";

/// A link to something that must be done first.
#[derive(Serialize)]
struct Before {
    href: String,
    title: String,
}

/// Where the reader stands, one of the words that the template knows.
#[derive(Serialize)]
#[serde(rename_all = "snake_case", tag = "state")]
enum Stand {
    /// The sitting is open.
    Open { href: String },
    /// Its time is over; the clock is about to hand it in.
    Over,
    /// Lessons first.
    Lessons { before: Vec<Before> },
    /// A talk with a trainer first.
    Debrief { result: String },
    /// The waiting time is not over.
    Wait { until: i64 },
    /// The attempts allowed are used up.
    UsedUp { until: i64 },
    /// Passed; the decision is still to come.
    Decision,
    /// May begin.
    Ready,
}

#[derive(Serialize)]
struct SchemeShown {
    id: String,
    title: String,
    says: String,
    own: bool,
    questions: usize,
    minutes: i64,
    /// How much of that is the reader's own, in words.
    extra: Option<String>,
    needed: usize,
    /// The name of the field for the code, where somebody watches.
    code_field: Option<String>,
    /// The code that was typed and refused.
    code: String,
    mandatory: Vec<String>,
    stand: Stand,
    last: Option<Last>,
}

/// The last sitting that was handed in.
#[derive(Serialize)]
struct Last {
    href: String,
    passed: bool,
    at: i64,
}

#[derive(Serialize)]
struct List {
    page: Page,
    zone: String,
    schemes: Vec<SchemeShown>,
}

/// The list.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let list = list(&app, &reader, None).await?;
    reply::page(&app, TEMPLATE, &list)
}

/// Begins an examination, or goes on with the open one.
///
/// # Errors
/// There is no such scheme, or the program cannot do it now.
pub async fn begin(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    scheme: web::Path<String>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let field = code_field(&scheme);
    let typed = Typed { code: fields.typed(&field), address: &address::of_reader(&request, &app.settings) };
    match begin_with_code(&app.deeds, reader.person, reader.temperature_unit, &scheme, typed).await? {
        Begun::Sitting(attempt) => Ok(reply::see_other(&format!("/examine/sitting/{attempt}/1"))),
        Begun::NoSuchScheme => Err(PageError::NotFound),
        Begun::NotYet(_) => {
            let notice = "Not begun: something has to come first. It stands below.";
            reply::form_again(&app, TEMPLATE, &list(&app, &reader, Some(notice)).await?)
        }
        Begun::CodeRefused(refused) => {
            let mut again = list(&app, &reader, None).await?;
            if let Some(shown) = again.schemes.iter_mut().find(|shown| shown.id == *scheme) {
                fields.typed(&field).clone_into(&mut shown.code);
            }
            again.page.errors = vec![FieldError { field, message: why_refused(refused) }];
            reply::form_again(&app, TEMPLATE, &again)
        }
        Begun::NoForm(message) => {
            tracing::error!(scheme = %scheme, cause = message, "no form could be made");
            let notice = "Not begun: there are too few questions for this examination. Tell your trainer.";
            reply::form_again(&app, TEMPLATE, &list(&app, &reader, Some(notice)).await?)
        }
    }
}

fn code_field(scheme: &str) -> String {
    format!("code-{scheme}")
}

fn why_refused(refused: CodeRefused) -> String {
    match refused {
        CodeRefused::Missing => {
            "Not begun: somebody watches this examination. Type the code that they read out.".to_owned()
        }
        CodeRefused::Wrong => {
            "Not begun: this code does not open this examination at your branch. Read it again, or ask for it."
                .to_owned()
        }
        CodeRefused::Over => {
            "Not begun: this code has run out or was closed. Ask whoever watches for a new one.".to_owned()
        }
        CodeRefused::Wait(seconds) => {
            format!("Not begun: the code was wrong several times. Wait {seconds} s, then try again.")
        }
    }
}

async fn list(app: &App, reader: &SignedIn, notice: Option<&str>) -> Result<List, PageError> {
    let read = app.deeds.bank.now();
    let now = app.deeds.clock.now();
    let sittings = attempts::of_person(&app.deeds.db, reader.person).await?;
    let extra = extra_times::counts_for(&app.deeds.db, reader.person).await?;
    let mut schemes = Vec::new();
    for entry in read.bank.schemes() {
        let mut shown = scheme(app, reader, &read.bank, entry, &sittings, now).await?;
        shown.minutes = (entry.scheme.time_limit_s + extra.seconds(entry.scheme.time_limit_s)) / 60;
        shown.extra = (extra != ExtraTime::None).then(|| extra.words());
        schemes.push(shown);
    }
    // What the reader works towards comes first.
    schemes.sort_by_key(|scheme| !scheme.own);
    let mut page = reader.page("Examinations", "/examine");
    page.notice = notice.map(str::to_owned);
    Ok(List { page, zone: reader.time_zone.clone(), schemes })
}

async fn scheme(
    app: &App,
    reader: &SignedIn,
    bank: &Bank,
    entry: &SchemeEntry,
    sittings: &[Attempt],
    now: Moment,
) -> Result<SchemeShown, PageError> {
    let scheme = &entry.scheme;
    let db = &app.deeds.db;
    let mut own = sittings
        .iter()
        .filter(|sitting| sitting.kind == AttemptKind::Examination)
        .filter(|sitting| sitting.scheme_key.as_deref() == Some(scheme.id.as_str()));
    let newest = own.next();
    let open = newest.filter(|sitting| sitting.submitted_at.is_none());
    let closed = if open.is_some() { own.next() } else { newest };
    let stand = match open {
        Some(open) if open.is_overdue(now) => Stand::Over,
        Some(open) => Stand::Open { href: format!("/examine/sitting/{}/1", open.id) },
        None => match what_is_missing(db, bank, scheme, reader.person, now).await? {
            None => Stand::Ready,
            Some(NotYet::LessonsUnread(modules)) => Stand::Lessons {
                before: modules
                    .iter()
                    .filter_map(|id| bank.module(id))
                    .map(|module| Before { href: format!("/learn/{}", module.id), title: module.title.clone() })
                    .collect(),
            },
            Some(NotYet::DebriefNeeded(attempt)) => {
                Stand::Debrief { result: format!("/examine/sitting/{attempt}/result") }
            }
            Some(NotYet::AttemptsUsedUp(until)) => Stand::UsedUp { until: until.0 },
            Some(NotYet::AwaitsDecision(_)) => Stand::Decision,
            Some(NotYet::WaitUntil(until)) => Stand::Wait { until: until.0 },
        },
    };
    let last = match closed {
        Some(closed) => attempts::find_result(db, closed.id).await?.map(|result| Last {
            href: format!("/examine/sitting/{}/result", closed.id),
            passed: result.passed,
            at: result.graded_at.0,
        }),
        None => None,
    };
    let mandatory = scheme.parts.iter().filter_map(|part| bank.competence(&part.competence));
    Ok(SchemeShown {
        id: scheme.id.clone(),
        title: scheme.title.clone(),
        says: scheme.says.clone(),
        own: reader.scheme_key.as_deref() == Some(scheme.id.as_str()),
        questions: scheme.questions(),
        minutes: scheme.time_limit_s / 60,
        extra: None,
        code_field: scheme.invigilated.then(|| code_field(&scheme.id)),
        code: String::new(),
        needed: scheme.right_answers_needed(),
        mandatory: mandatory
            .filter(|competence| competence.mandatory)
            .map(|competence| competence.name.clone())
            .collect(),
        stand,
        last,
    })
}
