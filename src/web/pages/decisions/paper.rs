//! A certificate to take away: on paper as a PDF, and as a signed file.
//!
//! Never gives out either for a certificate that does not stand, and never somebody else's to its holder's colleagues: that looks
//! as if it were not there.

use super::super::record::{Seen, competence_name, scheme_title};
use crate::actions::issuer::{Issuer, issuer};
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::Number;
use crate::domain::certification::decision::Verdict;
use crate::domain::people::Role;
use crate::exchange::credential::{Certified, credential};
use crate::exchange::paper::{Sheet, pdf};
use crate::store::certificates::{self, Certificate};
use crate::store::people::Person;
use crate::store::read::certification;
use crate::store::{PersonId, RecordEntryId, branches, decisions, people, qualifications, record};
use crate::web::dates::day;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;
use serde_json::Value;

/// In which form it is taken away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::web::pages) enum Form {
    /// On one sheet.
    Pdf,
    /// As a credential.
    SignedFile,
}

/// A certificate as a PDF, for those who decide.
///
/// # Errors
/// No such certificate, or the program cannot do it now.
pub async fn paper(
    app: web::Data<App>,
    reader: SignedIn,
    number: web::Path<String>,
) -> Result<HttpResponse, PageError> {
    paper_of(&app, &reader, &number, Seen::ByAManager, Form::Pdf).await
}

/// A certificate as a signed file, for those who decide.
///
/// # Errors
/// No such certificate, or the program cannot do it now.
pub async fn signed_file(
    app: web::Data<App>,
    reader: SignedIn,
    number: web::Path<String>,
) -> Result<HttpResponse, PageError> {
    paper_of(&app, &reader, &number, Seen::ByAManager, Form::SignedFile).await
}

/// A certificate in the form that is asked for.
pub(in crate::web::pages) async fn paper_of(
    app: &App,
    reader: &SignedIn,
    typed: &str,
    seen: Seen,
    form: Form,
) -> Result<HttpResponse, PageError> {
    let number = Number::parse(typed).ok_or(PageError::NotFound)?;
    let db = &app.deeds.db;
    let found = certificates::by_number(db, number).await?;
    if seen == Seen::ByThemselves && found.entry.person_id != reader.person {
        return Err(PageError::NotFound);
    }
    let state = certification::of_person(db, found.entry.person_id).await?.state_of(&found, app.deeds.clock.now());
    if !state.stands() {
        let href = seen.certificate(&number.to_string());
        let place = if seen == Seen::ByThemselves { "/record" } else { "/decisions" };
        let page = reader.page("No paper for this certificate", place);
        let context = NoPaper { page, number: number.to_string(), state: state.word(), href };
        return reply::gone(app, "pages/decisions/no_paper.html", &context);
    }
    let issuer = issuer(&app.deeds).await?;
    let ready = Ready::new(app, &issuer, found).await?;
    let (body, media_type, disposition, ending) = match form {
        Form::Pdf => (ready.pdf(app, &issuer).await?, "application/pdf", "inline", "pdf"),
        Form::SignedFile => (ready.signed_file.into_bytes(), "application/vc", "attachment", "json"),
    };
    Ok(HttpResponse::Ok()
        .content_type(media_type)
        .insert_header(("content-disposition", format!("{disposition}; filename=\"certificate-{number}.{ending}\"")))
        .body(body))
}

#[derive(Serialize)]
struct NoPaper {
    page: Page,
    number: String,
    state: &'static str,
    href: String,
}

/// The scope of a certificate in words: competences, then machine profiles.
pub(in crate::web::pages) async fn scope_of(
    app: &App,
    bank: &Bank,
    of: &Certificate,
) -> Result<(Vec<String>, Vec<String>), PageError> {
    let held = qualifications::of_attempt(&app.deeds.db, of.entry.attempt_id).await?;
    let competences = held.iter().map(|one| competence_name(bank, &one.entry.competence_key)).collect();
    let machines = of.entry.machines.iter().map(|on| {
        let name = bank.machine(&on.machine).map_or(on.machine.as_str(), |known| known.profile.name.as_str());
        format!("{name}, profile version {}", on.version)
    });
    Ok((competences, machines.collect()))
}

/// A certificate with all that its paper says.
struct Ready {
    certificate: Certificate,
    holder: Person,
    zone: String,
    scheme: String,
    competences: Vec<String>,
    machines: Vec<String>,
    check_address: String,
    signed_file: String,
}

impl Ready {
    async fn new(app: &App, issuer: &Issuer, certificate: Certificate) -> Result<Self, PageError> {
        let (db, in_use) = (&app.deeds.db, app.deeds.bank.now());
        let holder = people::by_id(db, certificate.entry.person_id).await?;
        let zone = branches::by_id(db, holder.branch_id).await?.time_zone;
        let (competences, machines) = scope_of(app, &in_use.bank, &certificate).await?;
        let entry = &certificate.entry;
        let scheme = scheme_title(&in_use.bank, Some(&entry.scheme_key));
        let check_address = format!("{}/check/{}", app.deeds.origin, issuer.code_of(certificate.id));
        let known = in_use.bank.scheme(&entry.scheme_key);
        let unsigned = credential(&Certified {
            origin: &app.deeds.origin,
            organisation: &app.settings.issuing_organisation(),
            check_address: &check_address,
            status_index: u64::try_from(certificate.id.0).unwrap_or_default(),
            email: &holder.email.to_lowercase(),
            salt: &issuer.salt_of(certificate.id),
            scheme: &entry.scheme_key,
            scheme_version: entry.scheme_version,
            title: &scheme,
            says: known.map_or(scheme.as_str(), |known| known.scheme.says.as_str()),
            competences: &competences,
            machines: &machines,
            valid_from: entry.valid_from,
            valid_until: entry.valid_until,
        });
        let signed = issuer.sign(unsigned, entry.valid_from);
        let text = serde_json::to_string_pretty(&signed).map_err(|error| PageError::Fault(error.to_string()))?;
        let signed_file = format!("{text}\n");
        Ok(Self { certificate, holder, zone, scheme, competences, machines, check_address, signed_file })
    }

    /// Drawn beside the server's own threads, which have others to answer meanwhile.
    async fn pdf(self, app: &App, issuer: &Issuer) -> Result<Vec<u8>, PageError> {
        let (organisation, issuer) = (app.settings.issuing_organisation(), issuer.name());
        let decided_by = decided_by(app, &self.certificate).await?;
        let entry = &self.certificate.entry;
        let [examined, valid_from, valid_until] =
            [entry.examined_at, entry.valid_from, entry.valid_until].map(|moment| day(moment, &self.zone));
        let (examined, valid_from, valid_until) = (examined?, valid_from?, valid_until?);
        let drawn = web::block(move || {
            pdf(&Sheet {
                number: &self.certificate.number.to_string(),
                organisation: &organisation,
                holder: &self.holder.display_name,
                scheme: &self.scheme,
                scheme_version: self.certificate.entry.scheme_version,
                competences: &self.competences,
                machines: &self.machines,
                examined: &examined,
                valid_from: &valid_from,
                valid_until: &valid_until,
                decided_by: &decided_by,
                decided_at: self.certificate.entry.valid_from,
                check_address: &self.check_address,
                issuer: &issuer,
                signed_file: &self.signed_file,
            })
        });
        let drawn = drawn.await.map_err(|error| PageError::Busy(error.to_string()))?;
        drawn.map_err(|error| PageError::Fault(error.to_string()))
    }
}

/// The role in which somebody granted it, at first or on appeal. Who it was stands in the record.
async fn decided_by(app: &App, of: &Certificate) -> Result<String, PageError> {
    let (db, attempt) = (&app.deeds.db, of.entry.attempt_id);
    let decision = decisions::find(db, attempt).await?.filter(|decision| decision.verdict == Verdict::Granted);
    let by = match decision {
        Some(decision) => decision.decided_by.map(|by| (by, decision.record_entry_id)),
        None => {
            decisions::find_appeal_decision(db, attempt).await?.map(|heard| (heard.decided_by, heard.record_entry_id))
        }
    };
    Ok(match by {
        Some((by, entry)) => match role_at(app, by, entry).await? {
            Some(role) => capitalised(role.name()),
            None => "A person, not the rules".to_owned(),
        },
        None => "The scheme's rules".to_owned(),
    })
}

/// The role that a person had at an entry of the record: what the first change after it changed, else today's. None where the
/// record does not say it.
async fn role_at(app: &App, person: PersonId, at: RecordEntryId) -> Result<Option<Role>, PageError> {
    let db = &app.deeds.db;
    // Today's is read first: a change that comes meanwhile is then among the entries.
    let today = people::by_id(db, person).await?.role;
    let entries = record::of_subject(db, "person", person.0).await?;
    let Some(change) = entries.iter().find(|entry| entry.id > at && entry.deed == "person_changed") else {
        return Ok(Some(today));
    };
    let detail: Value = serde_json::from_str(&change.detail).unwrap_or_default();
    Ok(detail["role"]["from"].as_str().and_then(Role::from_id))
}

fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
