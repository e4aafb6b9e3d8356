//! `/invigilate`: the newest invigilations of the reader's branch, and the form that opens another.

use super::{invigilator, scheme_title};
use crate::actions::Token;
use crate::actions::invigilate::{CODE_HOLDS_S, Opened, open_invigilation};
use crate::store::invigilations;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/invigilate/list.html";
/// How many are listed; chosen by us: some weeks of one branch.
const LISTED: u64 = 30;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    href: String,
    title: String,
    note: Option<String>,
    state: String,
}

#[derive(Serialize)]
struct List {
    page: Page,
    branch: String,
    schemes: Vec<Choice>,
    scheme: String,
    hours: i64,
    key: String,
    rows: Vec<Row>,
}

/// The list and the form.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    reply::page(&app, TEMPLATE, &read(&app, &reader, "", Vec::new()).await?)
}

/// Opens one.
///
/// # Errors
/// The program cannot do it now.
pub async fn open(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to open with"))?;
    let scheme = fields.typed("scheme");
    match open_invigilation(&app.deeds, invigilator(&reader), scheme, key.as_str()).await? {
        Opened::Open(id) => Ok(reply::see_other(&format!("/invigilate/{id}"))),
        Opened::NoSuchScheme => {
            let message = "Choose an examination that somebody watches.".to_owned();
            let errors = vec![FieldError { field: "scheme".to_owned(), message }];
            reply::form_again(&app, TEMPLATE, &read(&app, &reader, scheme, errors).await?)
        }
    }
}

async fn read(app: &App, reader: &SignedIn, scheme: &str, errors: Vec<FieldError>) -> Result<List, PageError> {
    let (in_use, now) = (app.deeds.bank.now(), app.deeds.clock.now());
    let watched = in_use.bank.schemes().filter(|entry| entry.scheme.invigilated);
    let schemes = watched.map(|entry| Choice { value: entry.scheme.id.clone(), text: entry.scheme.title.clone() });
    let mut rows = Vec::new();
    for one in invigilations::of_branch(&app.deeds.db, reader.branch, LISTED).await? {
        rows.push(Row {
            href: format!("/invigilate/{}", one.id),
            title: scheme_title(app, &one.scheme_key),
            note: Some(crate::web::dates::day_and_time(one.opened_at, &reader.time_zone)?),
            state: if one.is_open(now) { "open".to_owned() } else { "closed".to_owned() },
        });
    }
    let mut page = reader.page("Invigilate", "/invigilate");
    page.errors = errors;
    Ok(List {
        page,
        branch: reader.branch_name.clone(),
        schemes: schemes.collect(),
        scheme: scheme.to_owned(),
        hours: CODE_HOLDS_S / 3600,
        key: Token::fresh()?.as_str().to_owned(),
        rows,
    })
}
