//! `/keys`: the access keys with which other programs ask who is qualified: making one, which is shown once, and revoking.

use super::record::said;
use crate::actions::Token;
use crate::actions::access_key::{make_access_key, revoke_access_key, still_vouched_for};
use crate::store::access_keys::{self, AccessKey};
use crate::store::branches;
use crate::store::{AccessKeyId, BranchId};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/keys/list.html";

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    id: i64,
    label: String,
    branch: String,
    by: String,
    made_at: i64,
    state: &'static str,
    usable: bool,
}

#[derive(Serialize)]
struct Keys {
    page: Page,
    rows: Vec<Row>,
    /// The key that has just been made.
    fresh: Option<String>,
    /// What the form carries, so that two clicks make one key.
    click: String,
    branches: Vec<Choice>,
    label: String,
    branch: String,
    origin: String,
    zone: String,
}

/// The keys and the form.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let mut keys = drawn(&app, &reader, &Fields::default(), Vec::new()).await?;
    keys.page.notice = (query.typed("done") == "revoked").then(|| "Revoked. It opens nothing any more.".to_owned());
    reply::page(&app, TEMPLATE, &keys)
}

/// Makes a key and shows it, this once.
///
/// # Errors
/// The program cannot do it now.
pub async fn make(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let known = branches::list(&app.deeds.db).await?;
    let mut form = Reader::new(&fields);
    let label = form.line("label", |typed| said(typed, "Write down which program the key is for."));
    let label = label.filter(|label| {
        let short = label.chars().count() <= 100;
        if !short {
            form.wrong("label", "Write at most 100 characters.");
        }
        short
    });
    let branch = form.line("branch", |typed| match typed.parse::<BranchId>() {
        _ if typed.is_empty() => Ok(None),
        Ok(id) if known.iter().any(|branch| branch.id == id) => Ok(Some(id)),
        _ => Err("Choose a branch, or all of them."),
    });
    let click = fields.click()?;
    if let (Some(label), Some(branch)) = (label, branch) {
        let key = make_access_key(&app.deeds, reader.person, &label, branch, &click).await?;
        let mut keys = drawn(&app, &reader, &Fields::default(), Vec::new()).await?;
        keys.page.notice = Some("Made. Copy the key now: it is not shown again.".to_owned());
        keys.fresh = Some(key.as_str().to_owned());
        // Shown in the reply itself: a page of its own at another address would have to keep the key.
        return reply::page(&app, TEMPLATE, &keys);
    }
    let errors = form.into_errors();
    reply::form_again(&app, TEMPLATE, &drawn(&app, &reader, &fields, errors).await?)
}

/// Revokes a key.
///
/// # Errors
/// No such key, or the program cannot do it now.
pub async fn revoke(app: web::Data<App>, reader: SignedIn, id: web::Path<i64>) -> Result<HttpResponse, PageError> {
    revoke_access_key(&app.deeds, reader.person, AccessKeyId(id.into_inner())).await?;
    Ok(reply::see_other("/keys?done=revoked"))
}

async fn drawn(app: &App, reader: &SignedIn, typed: &Fields, errors: Vec<FieldError>) -> Result<Keys, PageError> {
    let known = branches::list(&app.deeds.db).await?;
    let row = |key: AccessKey| {
        let of = key.entry.branch_id.and_then(|id| known.iter().find(|branch| branch.id == id));
        let vouched = still_vouched_for(&key);
        Row {
            id: key.id.0,
            branch: of.map_or_else(|| "all branches".to_owned(), |branch| branch.name.clone()),
            state: match (key.revoked_at, vouched) {
                (Some(_), _) => "revoked",
                (None, true) => "in use",
                (None, false) => "opens nothing: who made it has left",
            },
            usable: key.revoked_at.is_none(),
            label: key.entry.label,
            by: key.maker.display_name,
            made_at: key.entry.made_at.0,
        }
    };
    let mut page = reader.page("Access keys", "/keys");
    page.errors = errors;
    let all = Choice { value: String::new(), text: "All branches".to_owned() };
    let each = known.iter().map(|branch| Choice { value: branch.id.to_string(), text: branch.name.clone() });
    Ok(Keys {
        page,
        branches: std::iter::once(all).chain(each).collect(),
        rows: access_keys::all(&app.deeds.db).await?.into_iter().map(row).collect(),
        fresh: None,
        click: Token::fresh()?.as_str().to_owned(),
        label: typed.typed("label").to_owned(),
        branch: typed.typed("branch").to_owned(),
        origin: app.deeds.origin.clone(),
        zone: reader.time_zone.clone(),
    })
}
