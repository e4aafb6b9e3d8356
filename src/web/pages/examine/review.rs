//! `/examine/sitting/{id}/review`: what is open, what is flagged, what this device has not saved yet; from here it is handed in,
//! once.

use super::sitting::{Deadline, InRow, deadline, over, result, row};
use super::{no_stranger, note_made_up, own_examination, title_of};
use crate::actions::Token;
use crate::actions::submit_examination::submit_examination;
use crate::store::attempts;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// A way back to a question.
#[derive(Serialize)]
struct Back {
    position: i32,
    /// Nothing while the part of the case before it is not answered.
    href: Option<String>,
}

#[derive(Serialize)]
struct Review {
    page: Page,
    heading: String,
    row: Vec<InRow>,
    open: Vec<Back>,
    flagged: Vec<Back>,
    /// What the addresses of this sitting's questions begin with, for what the device has not saved.
    questions: String,
    has_cases: bool,
    /// How much more time than others, in minutes.
    extra_min: i64,
    submit: String,
    key: String,
    back: String,
    deadline: Option<Deadline>,
}

/// All questions at a glance, and the button that hands in.
///
/// # Errors
/// There is no such examination of the reader's own, or the program cannot do it now.
pub async fn review(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let attempt = own_examination(&app, reader.person, &id).await?;
    if let Some(over) = over(&app, &reader, &attempt)? {
        return Ok(over);
    }
    let places = attempts::places(&app.deeds.db, attempt.id).await?;
    let row = row(&attempt, &places, 0);
    let backs = |wanted: fn(&InRow) -> bool| {
        let back = |question: &InRow| Back { position: question.position, href: question.href.clone() };
        row.iter().filter(|question| wanted(question)).map(back).collect()
    };
    let deadline = deadline(&attempt, app.deeds.clock.now());
    let mut page = reader.page("Before you hand in", "/examine");
    page.notice = deadline.as_ref().and_then(|deadline| deadline.warning.clone());
    let review = Review {
        page,
        heading: title_of(&app, &attempt),
        open: backs(|question| !question.answered),
        flagged: backs(|question| question.flagged),
        questions: format!("/examine/sitting/{}/", attempt.id),
        has_cases: places.iter().any(|place| place.follows),
        extra_min: attempt.extra_s / 60,
        row,
        submit: format!("/examine/sitting/{}/submit", attempt.id),
        key: Token::fresh()?.as_str().to_owned(),
        back: format!("/examine/sitting/{}/1", attempt.id),
        deadline,
    };
    reply::page(&app, "pages/examine/review.html", &review)
}

/// Hands the examination in. Again with the same key, or from another page, changes nothing more.
///
/// # Errors
/// There is no such examination of the reader's own, or the program cannot do it now.
pub async fn submit(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<String>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let own = own_examination(&app, reader.person, &id).await;
    let attempt = no_stranger(&app, reader.person, &id, own).await?;
    let key = Token::from_text(fields.typed("submit_key")).ok_or(PageError::Malformed("no key to hand in with"))?;
    note_made_up(&app, &attempt, &fields).await?;
    submit_examination(&app.deeds, reader.person, attempt.id, key.as_str()).await?;
    Ok(reply::see_other(&result(&attempt)))
}
