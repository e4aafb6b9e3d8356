//! `/record`: one's own standings and history, and one's own graded sittings. `/qualified/people` shows the same of others.
//!
//! Never shows a sitting that is not graded, and never one of somebody else.

mod appeal;
mod certified;
mod events;
mod frozen;
mod in_order;
mod observed;
mod of_person;
mod of_sitting;
pub(super) mod stood;
mod watched;

pub(super) use appeal::said;
pub use appeal::{appeal, appeal_form};
pub(super) use certified::{decided, found, state_words};
pub(super) use events::{competence_name, scheme_title};

pub(super) use in_order::history_page;
pub(super) use of_person::{Seen, person_page};
pub(super) use of_sitting::sitting_page;
pub(super) use watched::incidents_in;

use super::decisions::{Form, certificate_page, paper_of};
use crate::store::{AttemptId, people};
use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use actix_web::{HttpResponse, web};

/// One's own record.
///
/// # Errors
/// The program cannot do it now.
pub async fn own(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, reader.person).await?;
    person_page(&app, &reader, person, Seen::ByThemselves).await
}

/// One's own graded sitting.
///
/// # Errors
/// No such sitting of this person, or the program cannot do it now.
pub async fn own_sitting(
    app: web::Data<App>,
    reader: SignedIn,
    attempt: web::Path<i64>,
) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, reader.person).await?;
    sitting_page(&app, &reader, person, AttemptId(attempt.into_inner()), Seen::ByThemselves).await
}

/// One's own certificate.
///
/// # Errors
/// No such certificate of this person, or the program cannot do it now.
pub async fn certificate(
    app: web::Data<App>,
    reader: SignedIn,
    number: web::Path<String>,
) -> Result<HttpResponse, PageError> {
    certificate_page(&app, &reader, &number, Seen::ByThemselves).await
}

/// One's own certificate as a PDF.
///
/// # Errors
/// No such certificate of this person, or the program cannot do it now.
pub async fn paper(
    app: web::Data<App>,
    reader: SignedIn,
    number: web::Path<String>,
) -> Result<HttpResponse, PageError> {
    paper_of(&app, &reader, &number, Seen::ByThemselves, Form::Pdf).await
}

/// One's own certificate as a signed file.
///
/// # Errors
/// No such certificate of this person, or the program cannot do it now.
pub async fn signed_file(
    app: web::Data<App>,
    reader: SignedIn,
    number: web::Path<String>,
) -> Result<HttpResponse, PageError> {
    paper_of(&app, &reader, &number, Seen::ByThemselves, Form::SignedFile).await
}
