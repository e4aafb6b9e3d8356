//! How long somebody waits after wrong passwords: longer each time, per account and per network address, and never for
//! good, so that nobody can lock another person out.
//!
//! Counted in the database, so that every server on it counts together and a restart forgets nothing. No transaction is open while
//! a password is hashed, and what is asked of the database hangs on no account: it is the same whether there is one.

use super::{ActionError, Deeds, Token};
use crate::domain::units::Moment;
use crate::store::wrong_tries::{self, Tries};
use crate::store::{Db, settings, write};
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;
use std::fmt::Write as _;
use std::sync::{Arc, OnceLock};

/// Wrong passwords for one account that cost no waiting.
const FREE_PER_ACCOUNT: i64 = 4;
/// Wrong passwords from one address that cost no waiting: a whole branch may sit behind it.
const FREE_PER_ADDRESS: i64 = 30;
/// The longest wait, in seconds: one guess a minute finds no password, and nobody is kept out of their shift.
const LONGEST_WAIT_S: i64 = 60;
/// After this many quiet seconds all is forgotten.
const FORGOTTEN_AFTER_S: i64 = 3600;
/// The setting under which the key of the hashes is kept.
const KEY: &str = "wrong_try_key";

/// The key under which accounts and addresses are hashed: the installation's, read once. Without it nobody who sees the table
/// tries addresses out on it.
#[derive(Clone, Debug, Default)]
pub struct Throttle(Arc<OnceLock<Token>>);

/// Whose wrong passwords are counted together. Given account first, so that no two wait for each other's rows.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) enum Source {
    /// An account, whether it exists or not, by its folded address.
    Account(String),
    /// A network address.
    Address(String),
}

impl Source {
    const fn free(&self) -> i64 {
        match self {
            Self::Account(_) => FREE_PER_ACCOUNT,
            Self::Address(_) => FREE_PER_ADDRESS,
        }
    }

    /// The seconds to wait after such tries.
    fn wait_s(&self, tries: Tries, now: Moment) -> i64 {
        let over = tries.count - self.free();
        if over <= 0 {
            return 0;
        }
        let longer = 2_i64.saturating_pow(u32::try_from(over.min(10)).unwrap_or_default());
        let delay = longer.min(LONGEST_WAIT_S);
        // Another server's clock may be ahead of this one's: not even then is the wait longer.
        (delay - now.seconds_since(tries.last)).clamp(0, LONGEST_WAIT_S)
    }

    /// What stands for it in the database.
    fn hashed(&self, key: &Token) -> String {
        let (kind, text) = match self {
            Self::Account(text) => ("account", text),
            Self::Address(text) => ("address", text),
        };
        // HMAC takes a key of any length.
        let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(key.as_str().as_bytes()) else { return String::new() };
        mac.update(format!("{kind}\n{text}").as_bytes());
        mac.finalize().into_bytes().iter().fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
    }
}

/// One more.
fn and_one(tries: Tries, now: Moment) -> Tries {
    let quiet = now.seconds_since(tries.last) >= FORGOTTEN_AFTER_S;
    Tries { count: if quiet { 1 } else { tries.count.saturating_add(1) }, last: now }
}

impl Throttle {
    async fn key(&self, db: &Db) -> Result<&Token, ActionError> {
        if let Some(key) = self.0.get() {
            return Ok(key);
        }
        let fresh = Token::fresh()?;
        let kept = write(db, async |tx| Ok::<_, ActionError>(settings::find_or_set(tx, KEY, fresh.as_str()).await?));
        let key =
            Token::from_text(&kept.await?).ok_or(ActionError::Randomness(format!("the setting {KEY} is no key")))?;
        Ok(self.0.get_or_init(|| key))
    }
}

impl Deeds {
    /// The seconds that somebody has to wait before trying; when there are none, this try is counted as wrong until
    /// [`Deeds::was_right`] says otherwise: so that of many guesses at once not all come through.
    pub(super) async fn may_try(&self, sources: &[Source], now: Moment) -> Result<i64, ActionError> {
        let key = self.throttle.key(&self.db).await?;
        let sources: Vec<(&Source, String)> = sources.iter().map(|source| (source, source.hashed(key))).collect();
        // Read first: whoever is told to wait makes nobody else wait for the writer.
        let mut wait = 0;
        for (source, hash) in &sources {
            let tries = wrong_tries::find(&self.db, hash).await?;
            wait = wait.max(tries.map_or(0, |tries| source.wait_s(tries, now)));
        }
        if wait > 0 {
            return Ok(wait);
        }
        write(&self.db, async |tx| {
            let (mut wait, mut all) = (0, Vec::new());
            for (source, hash) in &sources {
                let tries = wrong_tries::held(tx, hash, now).await?;
                wait = wait.max(source.wait_s(tries, now));
                all.push((hash, and_one(tries, now)));
            }
            if wait == 0 {
                for (hash, tries) in all {
                    wrong_tries::set(tx, hash, tries).await?;
                }
            }
            Ok(wait)
        })
        .await
    }

    /// The try was right after all: the account's are forgotten, and the address has one less.
    pub(super) async fn was_right(&self, sources: &[Source]) -> Result<(), ActionError> {
        let key = self.throttle.key(&self.db).await?;
        write(&self.db, async |tx| {
            for source in sources {
                match source {
                    Source::Account(_) => wrong_tries::forget(tx, &source.hashed(key)).await?,
                    Source::Address(_) => wrong_tries::take_one_back(tx, &source.hashed(key)).await?,
                }
            }
            Ok(())
        })
        .await
    }

    /// The try was none, neither right nor wrong: a second click, whose first was right. It is taken back.
    pub(super) async fn was_none(&self, sources: &[Source]) -> Result<(), ActionError> {
        let key = self.throttle.key(&self.db).await?;
        write(&self.db, async |tx| {
            for source in sources {
                wrong_tries::take_one_back(tx, &source.hashed(key)).await?;
            }
            Ok(())
        })
        .await
    }

    /// Forgets wrong tries that are so old that they count no more; gives how many sources.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn sweep_wrong_tries(&self) -> Result<u64, ActionError> {
        let before = self.clock.now().plus_seconds(-FORGOTTEN_AFTER_S);
        write(&self.db, async |tx| Ok(wrong_tries::sweep(tx, before).await?)).await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tries once more after having waited; gives the wait after each of so many.
    fn waits(source: &Source, count: usize) -> Vec<i64> {
        let (mut now, mut tries) = (Moment(0), Tries { count: 0, last: Moment(0) });
        let mut waits = Vec::new();
        for _ in 0..count {
            tries = and_one(tries, now);
            let wait = source.wait_s(tries, now);
            waits.push(wait);
            now = now.plus_seconds(wait);
            assert_eq!(source.wait_s(tries, now), 0, "after waiting one may try again");
        }
        waits
    }

    #[test]
    fn the_wait_grows_is_bounded_and_passes() {
        let ann = Source::Account("ann@example.org".to_owned());
        assert_eq!(waits(&ann, 14), [0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60, 60, 60, 60]);
        let many = Tries { count: i64::MAX, last: Moment(0) };
        assert_eq!(ann.wait_s(many, Moment(0)), 60);
        assert_eq!(ann.wait_s(many, Moment(-7_200_000_000)), 60, "nor by a clock that is behind");
        let hour = Moment(0).plus_seconds(FORGOTTEN_AFTER_S);
        assert_eq!(ann.wait_s(and_one(many, hour), hour), 0, "an hour later it begins anew");
    }

    #[test]
    fn one_address_may_miss_more_often() {
        let address = Source::Address("192.0.2.7".to_owned());
        assert_eq!(waits(&address, 32)[29..], [0, 2, 4]);
    }

    #[test]
    fn what_is_kept_hangs_on_the_key_the_kind_and_the_text() {
        let (key, other) = (Token::fresh().unwrap(), Token::fresh().unwrap());
        let account = |text: &str| Source::Account(text.to_owned());
        let hash = account("ann@example.org").hashed(&key);
        assert_eq!(hash.len(), 64);
        assert_eq!(hash, account("ann@example.org").hashed(&key));
        assert_ne!(hash, account("ann@example.org").hashed(&other));
        assert_ne!(hash, account("ben@example.org").hashed(&key));
        assert_ne!(hash, Source::Address("ann@example.org".to_owned()).hashed(&key));
    }
}
