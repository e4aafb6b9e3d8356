//! Somebody whose password was right and who is not signed in yet: what the routes of that step know of them.
//!
//! Opens nothing else: the guard lets a session that waits for something reach its own step only.

use super::error::PageError;
use super::{address, view::Page};
use crate::actions::Token;
use crate::store::PersonId;
use crate::store::sessions::{Device, SessionOfPerson, WaitsFor};
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage as _, HttpRequest};
use std::future::{Ready, ready};

/// Who is half-way in.
#[derive(Clone, Debug)]
pub struct Halfway {
    /// Their session so far.
    pub token: Token,
    /// Who.
    pub person: PersonId,
    /// What each form of this session carries.
    pub form_token: String,
    /// What the session waits for.
    pub waits_for: WaitsFor,
    /// What they sit at.
    pub device: Device,
}

impl Halfway {
    /// From what the store knows of a session.
    pub(super) fn of(token: Token, known: SessionOfPerson) -> Self {
        Self {
            token,
            person: known.person.id,
            form_token: known.session.form_token,
            waits_for: known.session.waits_for,
            device: known.session.device,
        }
    }

    /// The frame of their page: nobody's places, since none is open to them yet.
    #[must_use]
    pub fn page(&self, title: &str) -> Page {
        Page { title: title.to_owned(), ..Page::default() }
    }
}

/// Where somebody goes on whose password was right.
#[must_use]
pub fn step(waits_for: WaitsFor, next: &str) -> String {
    let place = match waits_for {
        WaitsFor::Nothing => return if next.is_empty() { "/".to_owned() } else { next.to_owned() },
        WaitsFor::Code => "/sign-in/code",
        WaitsFor::SetUp => "/sign-in/set-up",
    };
    match address::own_path(next) {
        Some(path) if path != "/" => format!("{place}?next={}", address::in_query(path)),
        _ => place.to_owned(),
    }
}

impl FromRequest for Halfway {
    type Error = PageError;
    type Future = Ready<Result<Self, PageError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let found = request.extensions().get::<Self>().cloned();
        ready(found.ok_or_else(|| PageError::Fault("a route of another kind asks who is half-way in".to_owned())))
    }
}
