//! The guard before every handler: who is asking, may they, and does what they send come from our own page.
//!
//! A handler never asks these questions. It takes [`SignedIn`] when it needs to know for whom it works. Never tells "not
//! allowed" from "not there": both are [`PageError::NotFound`].

use super::error::PageError;
use super::form::Fields;
use super::halfway::{self, Halfway};
use super::held::Held;
use super::reply::see_other;
use super::routes::{Access, RouteRow, TABLE, Verb};
use super::view::{Me, Page, Place};
use super::{App, address, problem, program, session};
use crate::domain::people::{Permission, Role, allows};
use crate::domain::units::TemperatureUnit;
use crate::store::sessions::WaitsFor;
use crate::store::{BranchId, PersonId, noticing};
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::header::{CONTENT_TYPE, HeaderMap};
use actix_web::middleware::Next;
use actix_web::{Error, FromRequest, HttpMessage as _, HttpRequest, web};
use futures_util::StreamExt as _;
use std::future::{Ready, ready};

/// The person a handler works for.
#[derive(Clone, Debug)]
pub struct SignedIn {
    /// Who.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// Their address.
    pub email: String,
    /// Their role.
    pub role: Role,
    /// Their branch.
    pub branch: BranchId,
    /// Their branch's name.
    pub branch_name: String,
    /// The time zone that dates and times are shown in: the branch's.
    pub time_zone: String,
    /// The scale that temperatures are shown in.
    pub temperature_unit: TemperatureUnit,
    /// What the person is working towards, if anything.
    pub scheme_key: Option<String>,
    /// What each form of this session carries.
    pub form_token: String,
    /// The hash under which the store knows this session.
    pub session: String,
}

impl SignedIn {
    /// Whether this person may do something; for what a page offers. Routes have their own row.
    #[must_use]
    pub const fn may(&self, permission: Permission) -> bool {
        allows(self.role, permission)
    }

    /// The frame of a page: its title, who reads it, the places they may go to. `place` is the address of the place
    /// that the page belongs to, such as `/people`.
    #[must_use]
    pub fn page(&self, title: &str, place: &str) -> Page {
        let reachable = |href: &str| TABLE.iter().any(|row| row.path == href && row.access.admits(self.role));
        let places = PLACES.into_iter().filter(|(_, href)| reachable(href)).map(|(label, href)| Place {
            label: label.to_owned(),
            href: href.to_owned(),
            current: href == place,
        });
        let me = Me {
            id: self.person.to_string(),
            name: self.name.clone(),
            role_name: self.role.name().to_owned(),
            form_token: self.form_token.clone(),
            places: places.collect(),
        };
        Page { title: title.to_owned(), me: Some(me), ..Page::default() }
    }
}

/// The line at the top, in its order. A place is shown to whom its route admits.
const PLACES: [(&str, &str); 17] = [
    ("Learn", "/learn"),
    ("Practise", "/practise"),
    ("Examine", "/examine"),
    ("Record", "/record"),
    ("Bench", "/bench"),
    ("Machines", "/machines"),
    ("Scenarios", "/templates"),
    ("Debriefs", "/debriefs"),
    ("Invigilate", "/invigilate"),
    ("Observe", "/observe"),
    ("Qualified", "/qualified"),
    ("Assignments", "/assignments"),
    ("Decisions", "/decisions"),
    ("Refreshers", "/refreshers"),
    ("People", "/people"),
    ("Branches", "/branches"),
    ("Letters", "/letters"),
];

impl FromRequest for SignedIn {
    type Error = PageError;
    type Future = Ready<Result<Self, PageError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let found = request.extensions().get::<Self>().cloned();
        ready(found.ok_or_else(|| PageError::Fault("a public route wants to know who is signed in".to_owned())))
    }
}

/// Where somebody signs out.
const SIGN_OUT: &str = "/sign-out";
/// Where whoever has signed out is led to.
pub(super) const SIGNED_OUT: &str = "/sign-in?after=sign-out";

/// Runs before the handler of `row`.
///
/// # Errors
/// Only what the inner service raises.
pub(crate) async fn guard(
    row: &'static RouteRow,
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    if row.access != Access::Public && names_zero(&request) {
        return Ok(request.error_response(PageError::NotFound));
    }
    match admit(row, &mut request).await {
        Ok(()) => {
            let (reply, committed) = noticing(next.call(request)).await;
            let reply = reply?.map_into_boxed_body();
            if committed {
                reply.request().extensions_mut().insert(Committed);
            } else {
                let fields = reply.request().extensions().get::<Fields>().cloned();
                keep(reply.request(), fields, reply.response().error().and_then(Error::as_error));
            }
            Ok(reply)
        }
        Err(Turned::ToSignIn) => {
            let wanted = request.uri().path_and_query().map_or("/", |path| path.as_str());
            let target = match address::own_path(wanted) {
                Some(path) if path != "/" => format!("/sign-in?next={}", address::in_query(path)),
                _ => "/sign-in".to_owned(),
            };
            Ok(request.into_response(see_other(&target)))
        }
        Err(Turned::To(place)) => Ok(request.into_response(see_other(&place))),
        Err(Turned::Away(error @ PageError::Busy(_))) if row.method == Verb::POST => {
            // The body was not looked at yet: who sends it could not be asked for.
            let fields = take_body(row.body_limit, &mut request).await.unwrap_or_default();
            keep(request.request(), fields, Some(&error));
            Ok(request.error_response(error))
        }
        Err(Turned::Away(error)) => Ok(request.error_response(error)),
    }
}

/// Whether U+0000 stands in the path or the query, which are decoded once: nothing of ours has it in its name, and PostgreSQL takes
/// no text with it. Public pages look for nothing but what they have read as a token, a code or a number.
fn names_zero(request: &ServiceRequest) -> bool {
    request.uri().path_and_query().is_some_and(|wanted| wanted.as_str().contains("%00"))
}

/// Keeps what was typed for the page of what went wrong, where that is the program's or the database's fault.
fn keep(request: &HttpRequest, fields: Option<Fields>, error: Option<&PageError>) {
    if let Some(PageError::Busy(_) | PageError::Unknown(_)) = error
        && let Some(held) = fields.and_then(|fields| Held::again(request.path(), &fields))
    {
        request.extensions_mut().insert(held);
    }
}

/// Stands in a request whose handler has saved something, whatever came of it afterwards.
#[derive(Clone, Copy, Debug)]
pub(super) struct Committed;

/// Why a request does not reach its handler.
enum Turned {
    ToSignIn,
    To(String),
    Away(PageError),
}

impl<E: Into<PageError>> From<E> for Turned {
    fn from(error: E) -> Self {
        Self::Away(error.into())
    }
}

async fn admit(row: &RouteRow, request: &mut ServiceRequest) -> Result<(), Turned> {
    let form_token = match row.access {
        Access::Public => None,
        Access::Keyed(_) if program::brings_key(request.request()) => {
            let program = program::recognised(request).await?;
            request.extensions_mut().insert(program);
            None
        }
        Access::Halfway => {
            let half = match who(request).await? {
                Some(Known::Half(half)) => half,
                Some(Known::Whole(_)) => return Err(Turned::To("/".to_owned())),
                None if row.method == Verb::GET => return Err(Turned::ToSignIn),
                None => {
                    return Err(Turned::Away(PageError::SignedOut(held_before_sign_in(row, request).await?)));
                }
            };
            let form_token = half.form_token.clone();
            request.extensions_mut().insert(half);
            Some(form_token)
        }
        Access::SignedIn | Access::Needs(_) | Access::Keyed(_) => {
            let known = who(request).await?;
            if let (Some(Known::Half(half)), Verb::GET) = (&known, row.method) {
                let wanted = request.uri().path_and_query().map_or("/", |path| path.as_str());
                return Err(Turned::To(halfway::step(half.waits_for, wanted)));
            }
            let Some(Known::Whole(reader)) = known else {
                let by_a_program = matches!(row.access, Access::Keyed(_)) && problem::wanted(request.request());
                return Err(match row.method {
                    Verb::GET if by_a_program => PageError::Key { brought: false }.into(),
                    Verb::GET => Turned::ToSignIn,
                    // Two clicks sign out once, and the second is no reason to be asked to sign in.
                    Verb::POST if row.path == SIGN_OUT => Turned::To(SIGNED_OUT.to_owned()),
                    Verb::POST => Turned::Away(PageError::SignedOut(held_before_sign_in(row, request).await?)),
                });
            };
            if !row.access.admits(reader.role) {
                tracing::info!(person = reader.person.0, "somebody was refused what is not for their role");
                return Err(PageError::NotFound.into());
            }
            let form_token = reader.form_token.clone();
            request.extensions_mut().insert(reader);
            Some(form_token)
        }
    };
    if row.method == Verb::POST {
        let fields = take_body(row.body_limit, request).await?;
        let brought = brought_token(request.headers(), fields.as_ref());
        if let Some(expected) = form_token.filter(|expected| !same(expected, &brought)) {
            let held = fields.filter(|_| holds(row));
            return Err(PageError::Foreign(held.and_then(|f| Held::new(request.path(), &f, Some(expected)))).into());
        }
        if let Some(fields) = fields {
            request.extensions_mut().insert(fields);
        }
    }
    Ok(())
}

/// Whether a route takes long texts, which are given back when they cannot be taken.
const fn holds(row: &RouteRow) -> bool {
    row.body_limit >= super::routes::UPLOAD
}

/// What somebody typed before their session ended.
async fn held_before_sign_in(row: &RouteRow, request: &mut ServiceRequest) -> Result<Option<Held>, PageError> {
    if !holds(row) {
        return Ok(None);
    }
    let fields = take_body(row.body_limit, request).await?;
    Ok(fields.and_then(|fields| Held::new(request.path(), &fields, None)))
}

/// Somebody whose cookie names a session.
enum Known {
    Whole(SignedIn),
    /// The password was right, and that was not all.
    Half(Halfway),
}

/// The person whose session the cookie names: one query, and rarely a second that keeps the session alive.
async fn who(request: &ServiceRequest) -> Result<Option<Known>, PageError> {
    let app = request.app_data::<web::Data<App>>().ok_or_else(|| PageError::Fault("no application".to_owned()))?;
    let Some(token) = session::brought(request.request(), &app.settings) else { return Ok(None) };
    let Some(known) = app.deeds.recognise(&token).await? else { return Ok(None) };
    if known.session.waits_for != WaitsFor::Nothing {
        return Ok(Some(Known::Half(Halfway::of(token, known))));
    }
    Ok(Some(Known::Whole(SignedIn {
        person: known.person.id,
        name: known.person.display_name,
        email: known.person.email,
        role: known.person.role,
        branch: known.branch.id,
        branch_name: known.branch.name,
        time_zone: known.branch.time_zone,
        temperature_unit: known.person.temperature_unit,
        scheme_key: known.person.scheme_key,
        form_token: known.session.form_token,
        session: known.session.token_hash,
    })))
}

/// Reads the body up to the route's limit and puts it back for the handler; a form's fields are read on the way.
async fn take_body(limit: usize, request: &mut ServiceRequest) -> Result<Option<Fields>, PageError> {
    let mut stream = request.take_payload();
    let mut body = web::BytesMut::new();
    while let Some(chunk) = stream.next().await {
        let chunk = chunk.map_err(|_| PageError::Malformed("the body broke off"))?;
        if body.len() + chunk.len() > limit {
            return Err(PageError::TooLarge);
        }
        body.extend_from_slice(&chunk);
    }
    let body = body.freeze();
    let kind = request.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let fields = if kind.starts_with("application/x-www-form-urlencoded") {
        let text = std::str::from_utf8(&body).map_err(|_| PageError::Malformed("the form is not UTF-8"))?;
        Some(Fields::from_text(text)?)
    } else {
        None
    };
    request.set_payload(Payload::from(body));
    Ok(fields)
}

fn brought_token(headers: &HeaderMap, fields: Option<&Fields>) -> String {
    let in_header = headers.get("x-form-token").and_then(|value| value.to_str().ok());
    in_header.or_else(|| fields.map(|fields| fields.typed("form_token"))).unwrap_or_default().to_owned()
}

/// Compares in the same time whatever the texts are; only their lengths may show.
pub(super) fn same(expected: &str, brought: &str) -> bool {
    let differences = expected.bytes().zip(brought.bytes()).fold(0_u8, |sum, (a, b)| sum | (a ^ b));
    expected.len() == brought.len() && differences == 0 && !expected.is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::routes::TABLE;

    #[test]
    fn form_tokens_are_compared_whole() {
        assert!(same("abc", "abc"));
        for brought in ["abd", "ab", "abcd", ""] {
            assert!(!same("abc", brought), "{brought}");
        }
        assert!(!same("", ""));
    }

    #[test]
    fn no_address_stands_twice_in_the_table() {
        for (at, row) in TABLE.iter().enumerate() {
            let again = TABLE[at + 1..].iter().any(|other| other.method == row.method && other.path == row.path);
            assert!(!again, "{:?} {}", row.method, row.path);
        }
    }
}
