//! `/account/sessions`: where one is signed in, and signing out from there.

use crate::actions::ActionError;
use crate::actions::end_sessions::{Which, end_sessions};
use crate::store::StoreError;
use crate::store::sessions::{self, Device, Session, WaitsFor};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Row {
    /// What the form sends.
    id: String,
    device: &'static str,
    began: i64,
    last_seen: i64,
    /// This very one.
    own: bool,
    /// Only the password was given so far.
    half: bool,
}

#[derive(Serialize)]
struct Sessions {
    page: Page,
    rows: Vec<Row>,
    zone: String,
}

/// The list, the newest first.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let now = app.deeds.clock.now();
    let mut page = reader.page("Where you are signed in", "/account");
    if Fields::from_text(request.query_string())?.typed("done") == "ended" {
        page.notice = Some("Signed out there.".to_owned());
    }
    let all = sessions::of_person(&app.deeds.db, reader.person).await?;
    let lasting = all.into_iter().rev().filter(|session| session.expires_at > now);
    let rows = lasting.map(|session| row(session, &reader.session)).collect();
    reply::page(&app, "pages/account/sessions.html", &Sessions { page, rows, zone: reader.time_zone })
}

fn row(session: Session, own: &str) -> Row {
    let device = match session.device {
        Device::Phone => "a phone or tablet",
        Device::Computer => "a computer",
        Device::Unknown => "a device that does not say what it is",
    };
    let half = session.waits_for != WaitsFor::Nothing;
    let (began, last_seen) = (session.created_at.0, session.last_seen_at.0);
    Row { own: session.token_hash == own, id: session.token_hash, device, began, last_seen, half }
}

/// Ends one session, or all but this one.
///
/// # Errors
/// The program cannot do it now.
pub async fn end(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let which = match fields.typed("session") {
        "others" => Which::AllBut(&reader.session),
        one => Which::One(one),
    };
    match end_sessions(&app.deeds, reader.person, which).await {
        Ok(_) => Ok(reply::see_other("/account/sessions?done=ended")),
        // It ended meanwhile, or was never theirs: the list shows what there is.
        Err(ActionError::Store(StoreError::NotFound)) => Ok(reply::see_other("/account/sessions")),
        Err(error) => Err(error.into()),
    }
}
