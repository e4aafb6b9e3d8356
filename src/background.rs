//! What the program does by itself while it serves: hands in examinations whose time is over, takes a bank into use that
//! another server has changed, writes the letters that are due, and backs up.
//!
//! Never answers anybody, and nobody waits for it: an answer that comes too late is refused whether or not this has run.

use crate::actions::close_overdue::close_overdue;
use crate::actions::keep_backups::{Keeping, keep_backups};
use crate::actions::load_bank::refresh_bank;
use crate::actions::write_due_letters::write_due_letters;
use crate::actions::{ActionError, Deeds};
use crate::clock::Clock;
use crate::config::Secret;
use crate::store::StoreError;
use std::time::Duration;
use tokio_util::sync::CancellationToken;

/// How often it looks; chosen by us, short enough that a result is there when somebody comes back to the page.
const EVERY: Duration = Duration::from_secs(5);

/// In how many rounds it looks for due letters once: ten minutes, since they count in days.
const LETTERS_EVERY: u64 = 120;

/// Looks once.
///
/// # Errors
/// When the store does not answer.
pub async fn look(deeds: &Deeds) -> Result<(), ActionError> {
    let closed = close_overdue(deeds).await?;
    if closed > 0 {
        tracing::info!(closed, "examinations handed in by the clock");
    }
    refresh_bank(deeds).await
}

/// Writes the letters that are due.
///
/// # Errors
/// When the store does not answer.
pub async fn look_at_letters(deeds: &Deeds) -> Result<(), ActionError> {
    let written = write_due_letters(deeds).await?;
    if written > 0 {
        tracing::info!(written, "letters that were due");
    }
    Ok(())
}

/// Looks again and again until it is stopped. A commit whose fate is unknown stops the whole program.
pub async fn run(deeds: Deeds, stop: CancellationToken) {
    for round in 0_u64.. {
        let looked = match look(&deeds).await {
            Ok(()) if round.is_multiple_of(LETTERS_EVERY) => look_at_letters(&deeds).await,
            other => other,
        };
        match looked {
            Ok(()) => {}
            Err(ActionError::Store(cause @ StoreError::CommitUnknown(_))) => {
                tracing::error!(%cause, "the program stops: whether something was saved is unknown");
                stop.cancel();
            }
            Err(cause) => tracing::warn!(%cause, "what the program does by itself failed; it is tried again"),
        }
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(EVERY) => {}
        }
    }
}

/// How often it looks whether a backup is due; chosen by us, since they count in hours.
const BACKUPS_EVERY: Duration = Duration::from_secs(300);

/// Backs up whenever a backup is due, until it is stopped; nothing when none are asked for. One that fails is tried again.
pub async fn back_up_now_and_then(asked: Option<(Secret, Keeping)>, clock: Clock, stop: CancellationToken) {
    let Some((url, keeping)) = asked else { return };
    loop {
        match keep_backups(url.reveal(), &keeping, clock.now()).await {
            Ok(Some(of)) => tracing::info!(entries = of.amount.entries, head = of.head, "backed up"),
            Ok(None) => {}
            Err(cause) => tracing::error!(%cause, "no backup was made; it is tried again"),
        }
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(BACKUPS_EVERY) => {}
        }
    }
}
