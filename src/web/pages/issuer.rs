//! What other programs need to check a certificate's signed file: the issuer's public keys, and the state of certificates as lists of bits.
//!
//! Never who holds what. Pages of other origins may read both, since anyone may.

use crate::actions::issuer::issuer;
use crate::domain::certification::certificate::State;
use crate::exchange::credential::{Bits, LIST_LENGTH, status_list};
use crate::store::read::certification;
use crate::web::App;
use crate::web::error::PageError;
use actix_web::{HttpResponse, web};
use serde_json::Value;

/// For how long a verifier may keep what it was told, in seconds. Chosen by us: a withdrawal is seen within five minutes.
const KEPT: &str = "public, max-age=300";

/// Every public key that ever signed here.
///
/// # Errors
/// The program cannot do it now.
pub async fn document(app: web::Data<App>) -> Result<HttpResponse, PageError> {
    served(&issuer(&app.deeds).await?.document(), "application/cid")
}

/// One list of bits, signed.
///
/// # Errors
/// No such list, or the program cannot do it now.
pub async fn status(app: web::Data<App>, list: web::Path<u64>) -> Result<HttpResponse, PageError> {
    let list = list.into_inner();
    let now = app.deeds.clock.now();
    let everyone = certification::of_everyone(&app.deeds.db, None).await?;
    let (mut bits, mut last) = (Bits::default(), 0);
    for of in everyone.values() {
        for certificate in &of.certificates {
            let place = u64::try_from(certificate.id.0).unwrap_or_default();
            last = last.max(place / LIST_LENGTH);
            if place / LIST_LENGTH == list && is_set(of.state_of(certificate, now)) {
                bits.set(place % LIST_LENGTH);
            }
        }
    }
    if list > last {
        return Err(PageError::NotFound);
    }
    let unsigned = status_list(&app.deeds.origin, list, &bits, now);
    served(&issuer(&app.deeds).await?.sign(unsigned, now), "application/vc")
}

/// Whether a certificate's bit is set. A lapsed one's is not: its time stands in its signed file.
const fn is_set(state: State) -> bool {
    matches!(state, State::Withdrawn { .. } | State::Renewed { .. } | State::Suspended { .. })
}

fn served(document: &Value, media_type: &str) -> Result<HttpResponse, PageError> {
    let text = serde_json::to_string_pretty(document).map_err(|error| PageError::Fault(error.to_string()))?;
    Ok(HttpResponse::Ok()
        .content_type(media_type)
        .insert_header(("cache-control", KEPT))
        .insert_header(("access-control-allow-origin", "*"))
        .body(format!("{text}\n")))
}
