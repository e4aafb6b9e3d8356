//! Taking somebody's one-time codes away, who lost both the phone and the recovery codes.

use super::person;
use crate::actions::set_up_codes::{CodesReset, reset_codes as take_away};
use crate::domain::visible::says_something;
use crate::store::PersonId;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};

/// What a reason has at most, in characters.
const LONGEST_REASON: usize = 500;

/// Takes them away, with a reason that goes on record.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn reset_codes(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let id = PersonId(id.into_inner());
    let mut read = Reader::new(&fields);
    let reason = read.line("codes_reason", |typed| match typed.trim() {
        reason if !says_something(reason) => Err("Say how you know that it is this person."),
        long if long.chars().count() > LONGEST_REASON => Err("Use at most 500 characters."),
        reason => Ok(reason),
    });
    if let Some(reason) = reason {
        match take_away(&app.deeds, reader.person, id, reason).await? {
            CodesReset::Done => return Ok(reply::see_other(&format!("/people/{id}?done=codes"))),
            CodesReset::Own => read.wrong("codes_reason", "Another administrator takes your one-time codes away."),
            CodesReset::None => read.wrong("codes_reason", "This person has no one-time codes."),
        }
    }
    let reason = fields.typed("codes_reason").to_owned();
    person::again_with(&app, &reader, id, read.into_errors(), reason).await
}
