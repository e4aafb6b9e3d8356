//! One person's record and sittings, for whoever decides where they may be sent.

use super::super::record::{Seen, history_page, person_page, sitting_page};
use crate::store::{AttemptId, PersonId, people};
use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use actix_web::{HttpResponse, web};

/// A person's record.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn person(app: web::Data<App>, reader: SignedIn, id: web::Path<i64>) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, PersonId(id.into_inner())).await?;
    person_page(&app, &reader, person, Seen::ByAManager).await
}

/// A person's whole history in order.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn history(app: web::Data<App>, reader: SignedIn, id: web::Path<i64>) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, PersonId(id.into_inner())).await?;
    history_page(&app, &reader, person).await
}

/// One of the person's graded sittings.
///
/// # Errors
/// No such sitting of this person, or the program cannot do it now.
pub async fn sitting(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(i64, i64)>,
) -> Result<HttpResponse, PageError> {
    let (person, attempt) = path.into_inner();
    let person = people::by_id(&app.deeds.db, PersonId(person)).await?;
    sitting_page(&app, &reader, person, AttemptId(attempt), Seen::ByAManager).await
}
