//! Another program that asks: which key it brought, and who asks a route that takes keys as well as people.
//!
//! A key only reads, and only what its routes give. Never tells why a key is not taken.

use super::App;
use super::error::PageError;
use super::guard::SignedIn;
use crate::actions::Token;
use crate::store::BranchId;
use actix_web::dev::{Payload, ServiceRequest};
use actix_web::http::header::AUTHORIZATION;
use actix_web::{FromRequest, HttpMessage as _, HttpRequest, web};
use std::future::{Ready, ready};

/// A program that brought a key that is good.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Program {
    /// The one branch that it may ask about; all when there is none.
    pub branch: Option<BranchId>,
}

/// Who asks.
#[derive(Clone, Debug)]
pub enum Asker {
    /// Somebody who is signed in.
    Person(Box<SignedIn>),
    /// A program.
    Program(Program),
}

impl FromRequest for Asker {
    type Error = PageError;
    type Future = Ready<Result<Self, PageError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let extensions = request.extensions();
        let program = extensions.get::<Program>().copied().map(Self::Program);
        let found = program.or_else(|| extensions.get::<SignedIn>().cloned().map(Box::new).map(Self::Person));
        ready(found.ok_or_else(|| PageError::Fault("a route wants to know who asks, and nobody does".to_owned())))
    }
}

/// Whether a request brings a key, good or bad.
pub(super) fn brings_key(request: &HttpRequest) -> bool {
    request.headers().contains_key(AUTHORIZATION)
}

/// The program whose key a request brings (RFC 6750 section 2.1).
pub(super) async fn recognised(request: &ServiceRequest) -> Result<Program, PageError> {
    let app = request.app_data::<web::Data<App>>().ok_or_else(|| PageError::Fault("no application".to_owned()))?;
    let header = request.headers().get(AUTHORIZATION).and_then(|header| header.to_str().ok()).unwrap_or_default();
    let (scheme, key) = header.split_once(' ').unwrap_or_default();
    let key = Token::from_text(key.trim()).filter(|_| scheme.eq_ignore_ascii_case("bearer"));
    let refused = PageError::Key { brought: true };
    let Some(key) = key else { return Err(refused) };
    let found = app.deeds.recognise_key(&key).await?.ok_or(refused)?;
    Ok(Program { branch: found.entry.branch_id })
}
