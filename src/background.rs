//! What the program does by itself while it serves: hands in examinations whose time is over, takes a bank into use that
//! another server has changed, writes the letters that are due, and backs up.
//!
//! Never answers anybody, and nobody waits for it: an answer that comes too late is refused whether or not this has run.

use crate::actions::close_overdue::close_overdue;
use crate::actions::keep_backups::{Keeping, keep_backups, note_try};
use crate::actions::load_bank::refresh_bank;
use crate::actions::write_due_letters::write_due_letters;
use crate::actions::{ActionError, Deeds};
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
pub async fn back_up_now_and_then(asked: Option<(Secret, Keeping)>, deeds: Deeds, stop: CancellationToken) {
    let Some((url, keeping)) = asked else { return };
    loop {
        let now = deeds.clock.now();
        // Half a backup goes with the future that makes it: a stop does not wait for it.
        let tried = tokio::select! {
            tried = keep_backups(url.reveal(), &keeping, now) => tried,
            () = stop.cancelled() => return,
        };
        let ended = match tried {
            Ok(None) => None,
            Ok(Some(of)) => {
                tracing::info!(entries = of.amount.entries, head = of.head, "backed up");
                Some(None)
            }
            Err(cause) => {
                tracing::error!(%cause, "no backup was made, the older ones are kept; it is tried again");
                Some(Some(cause.to_string()))
            }
        };
        if let Some(failed) = ended {
            match note_try(&deeds.db, now, failed).await {
                Ok(()) => {}
                Err(cause @ StoreError::CommitUnknown(_)) => {
                    tracing::error!(%cause, "the program stops: whether something was saved is unknown");
                    stop.cancel();
                }
                Err(cause) => tracing::warn!(%cause, "how the backup ended was not kept"),
            }
        }
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(BACKUPS_EVERY) => {}
        }
    }
}
