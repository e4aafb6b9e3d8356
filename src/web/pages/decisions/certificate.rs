//! A certificate on screen and on paper: number, holder, scope, dates, state and what was done to it; for its holder and for
//! those who decide. Never offers what its state does not allow.

use super::super::record::{Seen, said, scheme_title, state_words};
use super::{decider, scope_of};
use crate::actions::change_certificate::{CertificateChange, change_certificate};
use crate::actions::issuer::issuer;
use crate::domain::certification::certificate::{EventKind, Number, State};
use crate::store::certificates::{self, Certificate};
use crate::store::read::certification;
use crate::store::{PersonId, branches, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/decisions/certificate.html";

#[derive(Serialize)]
struct EventRow {
    at: i64,
    what: &'static str,
    by: Option<String>,
    reason: String,
}

/// Something that the reader may do to it.
#[derive(Serialize)]
struct Deed {
    kind: &'static str,
    label: &'static str,
}

#[derive(Serialize)]
struct CertificatePage {
    page: Page,
    number: String,
    holder: String,
    branch: String,
    scheme: String,
    scheme_version: i32,
    state: &'static str,
    note: Option<String>,
    stands: bool,
    competences: Vec<String>,
    machines: Vec<String>,
    examined_at: i64,
    valid_from: i64,
    valid_until: i64,
    events: Vec<EventRow>,
    decision: Option<String>,
    entry: i64,
    deeds: Vec<Deed>,
    action: String,
    reason: String,
    back: Option<String>,
    /// Where its forms to take away stand.
    take: String,
    /// Its public page.
    check: String,
    zone: String,
}

/// A certificate, for those who decide.
///
/// # Errors
/// No such certificate, or the program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn, number: web::Path<String>) -> Result<HttpResponse, PageError> {
    certificate_page(&app, &reader, &number, Seen::ByAManager).await
}

/// Suspends, reinstates or withdraws it.
///
/// # Errors
/// No such certificate, or not this reader's to look after, or the program cannot do it now.
pub async fn change(
    app: web::Data<App>,
    reader: SignedIn,
    typed: web::Path<String>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let number = Number::parse(&typed).ok_or(PageError::NotFound)?;
    let kind = match fields.typed("deed") {
        "suspended" => EventKind::Suspended,
        "reinstated" => EventKind::Reinstated,
        "withdrawn" => EventKind::Withdrawn,
        _ => return Err(PageError::Malformed("a deed that nobody knows")),
    };
    let mut form = Reader::new(&fields);
    let reason = form.lines("reason", |typed| said(typed, "Write down why. It stays on record."));
    if let Some(reason) = reason {
        match change_certificate(&app.deeds, decider(&reader), number, kind, &reason).await? {
            CertificateChange::Done => return Ok(reply::see_other(&format!("/decisions/certificates/{number}"))),
            CertificateChange::NotNow(state) => {
                form.wrong("reason", format!("This certificate is {}: that cannot be done to it now.", state.word()))
            }
            CertificateChange::Own => form.wrong("reason", "This is your own certificate. Somebody else does that."),
        }
    }
    let kept = fields.typed("reason").to_owned();
    let errors = form.into_errors();
    let page = drawn(&app, &reader, number, Seen::ByAManager, kept, errors).await?;
    reply::form_again(&app, TEMPLATE, &page)
}

/// Draws a certificate.
pub(in crate::web::pages) async fn certificate_page(
    app: &App,
    reader: &SignedIn,
    typed: &str,
    seen: Seen,
) -> Result<HttpResponse, PageError> {
    let number = Number::parse(typed).ok_or(PageError::NotFound)?;
    reply::page(app, TEMPLATE, &drawn(app, reader, number, seen, String::new(), Vec::new()).await?)
}

async fn drawn(
    app: &App,
    reader: &SignedIn,
    number: Number,
    seen: Seen,
    reason: String,
    errors: Vec<FieldError>,
) -> Result<CertificatePage, PageError> {
    let (db, in_use, zone) = (&app.deeds.db, app.deeds.bank.now(), reader.time_zone.clone());
    let bank = &in_use.bank;
    let found = certificates::by_number(db, number).await?;
    let own = seen == Seen::ByThemselves;
    if own && found.entry.person_id != reader.person {
        return Err(PageError::NotFound);
    }
    let holder = people::by_id(db, found.entry.person_id).await?;
    let state = certification::of_person(db, holder.id).await?.state_of(&found, app.deeds.clock.now());
    let (competences, machines) = scope_of(app, bank, &found).await?;
    let yours = !own && holder.id != reader.person && decider(reader).looks_after(holder.branch_id);
    let mut page = reader.page(&format!("Certificate {number}"), if own { "/record" } else { "/decisions" });
    page.errors = errors;
    Ok(CertificatePage {
        page,
        number: number.to_string(),
        branch: branches::by_id(db, holder.branch_id).await?.name,
        scheme: scheme_title(bank, Some(&found.entry.scheme_key)),
        scheme_version: found.entry.scheme_version,
        state: state.word(),
        note: state_words(state, &zone)?,
        stands: state.stands(),
        competences,
        machines,
        examined_at: found.entry.examined_at.0,
        valid_from: found.entry.valid_from.0,
        valid_until: found.entry.valid_until.0,
        events: events(app, &found).await?,
        decision: yours.then(|| format!("/decisions/{}", found.entry.attempt_id)),
        entry: found.entry.record_entry_id.0,
        deeds: if yours { deeds(state) } else { Vec::new() },
        action: format!("/decisions/certificates/{number}"),
        reason,
        back: own.then(|| "/record".to_owned()),
        take: seen.certificate(&number.to_string()),
        check: format!("/check/{}", issuer(&app.deeds).await?.code_of(found.id)),
        holder: holder.display_name,
        zone,
    })
}

fn deeds(state: State) -> Vec<Deed> {
    let all = [
        (EventKind::Suspended, "suspended", "Suspend it"),
        (EventKind::Reinstated, "reinstated", "Let it stand again"),
        (EventKind::Withdrawn, "withdrawn", "Withdraw it for good"),
    ];
    all.into_iter().filter(|(of, ..)| state.allows(*of)).map(|(_, kind, label)| Deed { kind, label }).collect()
}

async fn events(app: &App, of: &Certificate) -> Result<Vec<EventRow>, PageError> {
    let mut rows = Vec::new();
    for kept in &of.events {
        let by: Option<PersonId> = kept.done_by;
        rows.push(EventRow {
            at: kept.event.at.0,
            what: match kept.event.kind {
                EventKind::Suspended => "suspended",
                EventKind::Reinstated => "reinstated",
                EventKind::Withdrawn => "withdrawn",
                EventKind::Renewed => "renewed",
            },
            by: match by {
                Some(by) => Some(people::by_id(&app.deeds.db, by).await?.display_name),
                None => None,
            },
            reason: kept.reason.clone(),
        });
    }
    Ok(rows)
}
