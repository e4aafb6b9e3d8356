//! Sends what lies in the outbox, and keeps trying while the mail server is away.
//!
//! Claims letters with a lease, so that several servers on one database do not send one twice; writes down what came of
//! each. A letter leaves the outbox only when the transport has taken it.

use super::transport::{MailError, ONE_LETTER, Transport};
use crate::actions::Deeds;
use crate::clock::Clock;
use crate::store::outbox::{self, ClaimedMail};
use crate::store::{Db, StoreError, write};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Notify;
use tokio_util::sync::CancellationToken;

/// How often the outbox is looked into when nobody says that a letter lies there (retries, letters of another server).
const LOOK_EVERY: Duration = Duration::from_secs(15);
/// Letters claimed at once.
const BATCH: u64 = 20;
/// How long a claim holds: longer than a batch takes when every letter of it takes its whole time.
const LEASE_S: i64 = 900;
const _: () = assert!(BATCH * ONE_LETTER.as_secs() < LEASE_S.unsigned_abs());

/// Sends letters from the outbox.
pub struct Sender {
    db: Db,
    clock: Clock,
    letters: Arc<Notify>,
    transport: Transport,
    stop: CancellationToken,
}

/// What one look into the outbox came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Round {
    /// Letters that were taken.
    pub sent: usize,
    /// Letters that will be tried again, or were left after being refused too often.
    pub put_off: usize,
}

/// What became of one letter.
enum Fate {
    Taken,
    /// It is tried again, or was left.
    PutOff,
    /// The program stopped before anybody said whether it was taken: its lease brings it back.
    CutOff,
}

impl Sender {
    /// A sender for the letters that deeds write, which works until `stop`.
    #[must_use]
    pub fn new(deeds: &Deeds, transport: Transport, stop: CancellationToken) -> Self {
        Self { db: deeds.db.clone(), clock: deeds.clock.clone(), letters: deeds.letters.clone(), transport, stop }
    }

    /// Sends until it is stopped. Nothing waits for a mail server then: a letter that it has not taken yet is given up, and goes
    /// again, as those still claimed, when the lease is over. When the fate of a commit is not known, it stops the whole
    /// program, as a page would.
    pub async fn run(self) {
        while !self.stop.is_cancelled() {
            match self.send_due().await {
                Ok(round) if round == Round::default() => {}
                Ok(round) => tracing::info!(sent = round.sent, put_off = round.put_off, "mail"),
                Err(error) => {
                    tracing::error!(cause = %error, "the outbox cannot be worked on");
                    if matches!(error, StoreError::CommitUnknown(_)) {
                        self.stop.cancel();
                    }
                }
            }
            tokio::select! {
                () = self.stop.cancelled() => {}
                () = self.letters.notified() => {}
                () = tokio::time::sleep(LOOK_EVERY) => {}
            }
        }
    }

    /// Sends every letter that is due now.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn send_due(&self) -> Result<Round, StoreError> {
        let mut round = Round::default();
        loop {
            let now = self.clock.now();
            let claim = async |tx: &_| outbox::claim_due(tx, now, LEASE_S, BATCH).await;
            let claimed = write::<_, StoreError, _>(&self.db, claim).await?;
            if claimed.is_empty() {
                return Ok(round);
            }
            for mail in claimed {
                if self.stop.is_cancelled() {
                    return Ok(round);
                }
                match self.send(mail).await? {
                    Fate::Taken => round.sent += 1,
                    Fate::PutOff => round.put_off += 1,
                    Fate::CutOff => return Ok(round),
                }
            }
        }
    }

    /// Sends one letter and writes down what came of it.
    async fn send(&self, mail: ClaimedMail) -> Result<Fate, StoreError> {
        let id = mail.id;
        let sent = tokio::select! {
            // One that is through counts, also when the program is told to stop in the same moment.
            biased;
            sent = self.transport.deliver(id.0, &mail.mail) => sent,
            () = self.stop.cancelled() => {
                tracing::info!(mail = id.0, "the program stops while a letter leaves; it goes again later");
                return Ok(Fate::CutOff);
            }
        };
        let now = self.clock.now();
        match sent {
            Ok(()) => {
                unless_gone(write(&self.db, async |tx| outbox::mark_sent(tx, id, now).await).await)?;
                Ok(Fate::Taken)
            }
            Err(error) => {
                tracing::warn!(mail = id.0, cause = error.without_addresses(), "a letter was not taken");
                let cause = error.to_string();
                let for_good = matches!(error, MailError::Refused(_) | MailError::Letter(_));
                let put_off = async |tx: &_| match for_good {
                    true => outbox::mark_refused(tx, id, &cause, now).await,
                    false => outbox::mark_failed(tx, id, &cause, now).await.map(Some),
                };
                unless_gone(write(&self.db, put_off).await)?;
                Ok(Fate::PutOff)
            }
        }
    }
}

/// The letters of somebody who is made anonymous are deleted, also while one of them leaves: nothing is left to write down.
fn unless_gone<T>(written: Result<T, StoreError>) -> Result<(), StoreError> {
    match written {
        Ok(_) | Err(StoreError::NotFound) => Ok(()),
        Err(error) => Err(error),
    }
}
