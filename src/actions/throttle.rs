//! How long somebody waits after wrong passwords and codes: longer each time, never for good, and never so that a stranger's
//! guesses keep somebody from an account where they usually sign in, or from their own deeds while they are signed in.
//!
//! The rule. Each wrong try counts one; each full minute without another takes one off, and an hour without forgets all. A right
//! try leaves every count as it was, but for that of the place it came from, which is forgotten. What costs no waiting, and after
//! it 2, 4, 8, 16, 32 and from then on 60 seconds:
//!
//! - 4 wrong tries for one account from one network address, or in one browser: its place;
//! - 20 for one account from everywhere. A single address never gets there: slowed to one guess a minute, it adds no more than
//!   time takes off;
//! - 30 from one address for all accounts: a whole branch may sit behind it.
//!
//! A browser is a place too, by a cookie. From a browser, or else an address, with which the account was rightly signed in to
//! in the last 90 days, only the count of that place is waited for: the others hold strangers up, however many they are. What
//! remains: in a new browser a person has to take turns with whoever guesses at their own account from their own address, and,
//! at an address that is not known, with whoever guesses from many. The letter for a forgotten password is the way in that no
//! guess closes, and whoever came in by it is known there.
//!
//! Whoever is signed in is counted apart, by who types for whom: 4 for one person, 30 for all. So are codes, by whose they are.
//!
//! Counted in the database, so that every server on it counts together and a restart forgets nothing. No transaction is open while
//! a password is hashed, and what is asked of the database hangs on no account: it is the same whether there is one.

mod source;

pub(super) use source::{Source, signed_in, signing_in};

use super::{ActionError, Deeds, Token};
use crate::domain::units::Moment;
use crate::store::wrong_tries::{self, Tries};
use crate::store::{Db, StoreError, known_places, sessions, settings, write};
use sea_orm::ConnectionTrait;
use std::sync::{Arc, OnceLock};

/// Wrong tries of one who tries for one account that cost no waiting.
const FREE_OF_ONE: i64 = 4;
/// Wrong tries for one account from everywhere that cost no waiting: more than one place can bring together.
const FREE_PER_ACCOUNT: i64 = 20;
/// Wrong tries from one address, or by one person, for everybody that cost no waiting.
const FREE_FOR_ALL: i64 = 30;
/// The longest wait, in seconds: one guess a minute finds no password, and nobody is kept out of their shift.
const LONGEST_WAIT_S: i64 = 60;
/// Quiet seconds that take one wrong try off. Not shorter than the longest wait: nobody guesses faster than is forgotten.
const ONE_LESS_AFTER_S: i64 = 60;
/// After this many quiet seconds all is forgotten.
const FORGOTTEN_AFTER_S: i64 = 3600;
/// How long a place stays known, in seconds: a session lasts thirty days, and after it a holiday may come.
pub const KNOWN_FOR_S: i64 = 90 * 24 * 3600;
/// The setting under which the key of the hashes is kept.
const KEY: &str = "wrong_try_key";

/// The key under which accounts and addresses are hashed: the installation's, read once. Without it nobody who sees the table
/// tries addresses out on it.
#[derive(Clone, Debug, Default)]
pub struct Throttle(Arc<OnceLock<Token>>);

impl Source {
    const fn free(&self) -> i64 {
        match self {
            Self::Place { .. } | Self::Person(_) => FREE_OF_ONE,
            Self::Account(_) => FREE_PER_ACCOUNT,
            Self::Everybody(_) => FREE_FOR_ALL,
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
}

/// One more, after what time has taken off.
fn and_one(tries: Tries, now: Moment) -> Tries {
    let quiet = now.seconds_since(tries.last).max(0);
    let left = if quiet >= FORGOTTEN_AFTER_S { 0 } else { (tries.count - quiet / ONE_LESS_AFTER_S).max(0) };
    Tries { count: left.saturating_add(1), last: now }
}

/// Whether somebody may try now.
pub(super) enum MayTry {
    /// Yes; the try is counted as a wrong one until it is said what it was.
    Now(Tried),
    /// Not before so many seconds.
    In(i64),
}

/// A try as it was counted.
#[derive(Debug)]
pub(super) struct Tried {
    at: Moment,
    counted: Vec<Counted>,
}

#[derive(Debug)]
struct Counted {
    source: Source,
    /// Whether its wait holds here: beside a place that is known no other does.
    holds: bool,
    hash: String,
    before: Tries,
    after: Tries,
}

impl Tried {
    /// The places that it came from, each with the account, as they stand in the database.
    fn places(&self) -> impl Iterator<Item = (&str, &str)> {
        let account = self.counted.iter().find(|one| matches!(one.source, Source::Account(_)));
        let places = self.counted.iter().filter(|one| matches!(one.source, Source::Place { .. }));
        places.filter_map(move |place| Some((place.hash.as_str(), account?.hash.as_str())))
    }
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
    /// Whether somebody may try now; then this try is counted as wrong until [`Deeds::was_right`] says otherwise: so that of many
    /// guesses at once not all come through.
    pub(super) async fn may_try(&self, sources: &[Source], now: Moment) -> Result<MayTry, ActionError> {
        let key = self.throttle.key(&self.db).await?;
        let sources: Vec<(&Source, String)> = sources.iter().map(|source| (source, source.hashed(key))).collect();
        let known = self.known_place(&sources, now).await?;
        let holds = |source: &Source| known.is_none_or(|place| place == source);
        let wait_s = |source: &Source, tries: Tries| if holds(source) { source.wait_s(tries, now) } else { 0 };
        // Read first: whoever is told to wait makes nobody else wait for the writer.
        let mut wait = 0;
        for (source, hash) in &sources {
            let tries = wrong_tries::find(&self.db, hash).await?;
            wait = wait.max(tries.map_or(0, |tries| wait_s(source, tries)));
        }
        if wait > 0 {
            return Ok(MayTry::In(wait));
        }
        write(&self.db, async |tx| {
            let (mut wait, mut counted) = (0, Vec::new());
            for (source, hash) in &sources {
                let before = wrong_tries::held(tx, hash, now).await?;
                wait = wait.max(wait_s(source, before));
                let after = and_one(before, now);
                let source = (*source).clone();
                counted.push(Counted { holds: holds(&source), source, hash: hash.clone(), before, after });
            }
            if wait > 0 {
                return Ok(MayTry::In(wait));
            }
            for one in &counted {
                wrong_tries::set(tx, &one.hash, one.after).await?;
            }
            Ok(MayTry::Now(Tried { at: now, counted }))
        })
        .await
    }

    /// The first place that is known; every place is looked for, whether there is such an account or not.
    async fn known_place<'s>(
        &self,
        sources: &[(&'s Source, String)],
        now: Moment,
    ) -> Result<Option<&'s Source>, StoreError> {
        let mut known = None;
        for (source, hash) in sources.iter().filter(|(source, _)| matches!(source, Source::Place { .. })) {
            let last = known_places::find(&self.db, hash).await?;
            known = known.or(last.filter(|last| now.seconds_since(*last) < KNOWN_FOR_S).map(|_| *source));
        }
        Ok(known)
    }

    /// The try was right after all: those of its place are forgotten, and the place is known; everywhere else it never was. Whoever
    /// comes in by a known browser leaves the count of others at the same address as it was.
    pub(super) async fn was_right(&self, tried: &Tried) -> Result<(), ActionError> {
        write(&self.db, async |tx| {
            for one in &tried.counted {
                match one.source {
                    Source::Place { .. } | Source::Person(_) if one.holds => wrong_tries::forget(tx, &one.hash).await?,
                    _ => take_back(tx, one).await?,
                }
            }
            for (place, account) in tried.places() {
                known_places::keep(tx, place, account, tried.at).await?;
            }
            Ok(())
        })
        .await
    }

    /// The try was none, neither right nor wrong: a second click, whose first was right. It is taken back.
    pub(super) async fn was_none(&self, tried: &Tried) -> Result<(), ActionError> {
        write(&self.db, async |tx| {
            for one in &tried.counted {
                take_back(tx, one).await?;
            }
            Ok(())
        })
        .await
    }

    /// What one person tried was right by an earlier click: their wrong tries are forgotten.
    pub(super) async fn forget_wrong_tries(&self, sources: &[Source]) -> Result<(), ActionError> {
        let key = self.throttle.key(&self.db).await?;
        write(&self.db, async |tx| {
            for source in sources {
                wrong_tries::forget(tx, &source.hashed(key)).await?;
            }
            Ok(())
        })
        .await
    }

    /// Whoever has begun this session with a password or the link of a letter is known at this address and in this browser from now
    /// on; gives what the browser is known by. One that `brought` nothing gets what two clicks both get and nobody works out: it
    /// hangs on the key, the account and the address.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn known_from(
        &self,
        session: &Token,
        address: &str,
        brought: Option<Token>,
    ) -> Result<Token, ActionError> {
        let now = self.clock.now();
        let key = self.throttle.key(&self.db).await?;
        write(&self.db, async |tx| {
            // It may have ended meanwhile, and its person be gone: then nothing of them is kept.
            let found = sessions::find(tx, &session.hash(), now).await?;
            let account = found.as_ref().map(|found| found.person.email.to_lowercase()).unwrap_or_default();
            let browser = brought.unwrap_or_else(|| key.derived(&format!("browser\n{address}\n{account}")));
            if found.is_none() {
                return Ok(browser);
            }
            let sources = signing_in(&account, address, Some(&browser));
            let account = Source::Account(account).hashed(key);
            for place in sources.iter().filter(|source| matches!(source, Source::Place { .. })) {
                known_places::keep(tx, &place.hashed(key), &account, now).await?;
            }
            Ok(browser)
        })
        .await
    }

    /// What stands for an account beside the places from where it was signed in to; to forget them by.
    pub(super) async fn account_hash(&self, account: &str) -> Result<String, ActionError> {
        Ok(Source::Account(account.to_owned()).hashed(self.throttle.key(&self.db).await?))
    }

    /// Forgets wrong tries that are so old that they count no more, and places that are known no more; gives how many sources of
    /// wrong tries.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn sweep_wrong_tries(&self) -> Result<u64, ActionError> {
        let now = self.clock.now();
        write(&self.db, async |tx| {
            known_places::sweep(tx, now.plus_seconds(-KNOWN_FOR_S)).await?;
            Ok(wrong_tries::sweep(tx, now.plus_seconds(-FORGOTTEN_AFTER_S)).await?)
        })
        .await
    }
}

async fn take_back(tx: &impl ConnectionTrait, one: &Counted) -> Result<(), StoreError> {
    wrong_tries::put_back(tx, &one.hash, one.after, one.before).await
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEGINNING: Tries = Tries { count: 0, last: Moment(0) };

    fn place() -> Source {
        Source::Place { account: "ann@example.org".to_owned(), from: "192.0.2.7".to_owned() }
    }

    /// Tries once more after having waited; gives the wait after each of so many.
    fn waits(source: &Source, count: usize) -> Vec<i64> {
        let (mut now, mut tries) = (Moment(0), BEGINNING);
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
        assert_eq!(waits(&place(), 14), [0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60, 60, 60, 60]);
        assert_eq!(waits(&Source::Account("ann@example.org".to_owned()), 22)[19..], [0, 2, 4]);
        let many = Tries { count: i64::MAX, last: Moment(0) };
        assert_eq!(place().wait_s(many, Moment(0)), 60);
        assert_eq!(place().wait_s(many, Moment(-7_200_000_000)), 60, "nor by a clock that is behind");
        let hour = Moment(0).plus_seconds(FORGOTTEN_AFTER_S);
        assert_eq!(place().wait_s(and_one(many, hour), hour), 0, "an hour later it begins anew");
    }

    #[test]
    fn one_address_may_miss_more_often() {
        let address = Source::Everybody("192.0.2.7".to_owned());
        assert_eq!(waits(&address, 32)[29..], [0, 2, 4]);
    }

    #[test]
    fn each_minute_takes_one_off() {
        let five = Tries { count: 5, last: Moment(0) };
        for (seconds, count) in [(0, 6), (59, 6), (60, 5), (119, 5), (120, 4), (300, 1), (3000, 1), (-60, 6)] {
            assert_eq!(and_one(five, Moment(0).plus_seconds(seconds)).count, count, "after {seconds} s");
        }
        // The typos of a day: one in ten minutes never adds up.
        let (mut now, mut tries) = (Moment(0), BEGINNING);
        for _ in 0..100 {
            tries = and_one(tries, now);
            now = now.plus_seconds(600);
        }
        assert_eq!(tries.count, 1);
    }

    /// What the header says of a single address: it tries as often as it may, for ten hours, at every step of a second.
    #[test]
    fn one_place_alone_never_fills_the_count_of_the_account() {
        let account = Source::Account("ann@example.org".to_owned());
        let (mut of_place, mut of_account) = (BEGINNING, BEGINNING);
        let mut guesses = 0;
        for second in 0..36_000 {
            let now = Moment(0).plus_seconds(second);
            assert_eq!(account.wait_s(of_account, now), 0, "after {second} s");
            if place().wait_s(of_place, now) == 0 {
                (of_place, of_account) = (and_one(of_place, now), and_one(of_account, now));
                guesses += 1;
            }
        }
        assert!((600..=610).contains(&guesses), "one a minute, and those that cost less: {guesses}");
    }
}
