//! Signing out.

use super::{ActionError, Deeds, Token};
use crate::store::{StoreError, sessions, write};

/// Ends a session. Ending one that has ended is no fault.
///
/// # Errors
/// When the store does not answer.
pub async fn sign_out(deeds: &Deeds, token: &Token) -> Result<(), ActionError> {
    let hash = token.hash();
    Ok(write::<_, StoreError, _>(&deeds.db, async |tx| sessions::delete(tx, &hash).await).await?)
}
