//! How passwords are kept and checked: Argon2id, a few at a time, the same work for people who do not exist.
//!
//! Never keeps a password, and never tells "no such person" from "wrong password" by the time it takes.

use super::ActionError;
use argon2::password_hash::phc::{Output, PasswordHash, Salt};
use argon2::password_hash::{PasswordHasher as _, PasswordVerifier as _};
use argon2::{Algorithm, Argon2, Params, Version};
use rand::TryRng as _;
use rand::rngs::SysRng;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::sync::{Semaphore, SemaphorePermit};

/// How many passwords are hashed at once; each takes 19 MiB and a core.
const AT_ONCE: usize = 4;
/// How many wait for their turn at most: at 20 to 100 a second these are a few seconds. Whoever comes then is told to come back.
const WAITING_AT_MOST: usize = 200;
/// How long somebody waits for their turn before being told to come back.
const PATIENCE: Duration = Duration::from_secs(15);

/// The way passwords are kept. Cheap to clone; clones share the turns.
#[derive(Clone)]
pub struct Hashing {
    params: Params,
    turns: Arc<Semaphore>,
    waiting: Arc<AtomicUsize>,
    /// How often the work of a password was done.
    worked: Arc<AtomicU64>,
    /// The hash of a password that nobody has, checked in place of a person's.
    nobodys: Arc<str>,
}

impl Hashing {
    /// Argon2id with 19 MiB, 2 passes, 1 lane. Source: OWASP ASVS 5.0 appendix C (the floor that it names).
    ///
    /// # Errors
    /// When the system gives no random bytes.
    pub fn new() -> Result<Self, ActionError> {
        Self::with(19_456, 2)
    }

    /// The same with almost no work, so that tests are quick. Worthless for keeping passwords.
    ///
    /// # Errors
    /// When the system gives no random bytes.
    pub fn worthless_for_tests() -> Result<Self, ActionError> {
        Self::with(8, 1)
    }

    fn with(memory_kib: u32, passes: u32) -> Result<Self, ActionError> {
        let params = Params::new(memory_kib, passes, 1, None).map_err(failed)?;
        let nobodys = of_nobody(&params)?.into();
        Ok(Self {
            params,
            turns: Arc::new(Semaphore::new(AT_ONCE)),
            waiting: Arc::default(),
            worked: Arc::default(),
            nobodys,
        })
    }

    /// The hash of a new password, with its salt and parameters, as text (PHC string).
    ///
    /// # Errors
    /// When too many wait for their turn.
    pub async fn hash(&self, password: String) -> Result<String, ActionError> {
        let _turn = self.turn().await?;
        self.worked.fetch_add(1, Ordering::Relaxed);
        let params = self.params.clone();
        tokio::task::spawn_blocking(move || hashed(&params, &password)).await.map_err(failed)?
    }

    /// Whether a password is the one whose hash is kept. Without a hash the same work is done, and the answer is no.
    ///
    /// # Errors
    /// When too many wait for their turn, or the kept text is no hash.
    pub async fn verify(&self, password: String, kept: Option<String>) -> Result<bool, ActionError> {
        let _turn = self.turn().await?;
        self.worked.fetch_add(1, Ordering::Relaxed);
        let exists = kept.is_some();
        let kept = kept.unwrap_or_else(|| self.nobodys.to_string());
        let same = tokio::task::spawn_blocking(move || {
            let kept = PasswordHash::new(&kept).map_err(failed)?;
            // The kept text names its own parameters; those of this instance are for new hashes.
            Ok::<_, ActionError>(Argon2::default().verify_password(password.as_bytes(), &kept).is_ok())
        });
        Ok(same.await.map_err(failed)?? && exists)
    }

    /// Whether a kept hash was made with other work than new ones are: it is made anew when its password is typed.
    #[must_use]
    pub fn is_dated(&self, kept: &str) -> bool {
        let work = |of: &Params| (of.m_cost(), of.t_cost(), of.p_cost());
        let made_with = PasswordHash::new(kept).ok().and_then(|kept| Params::try_from(&kept).ok());
        made_with.is_some_and(|params| work(&params) != work(&self.params))
    }

    /// How often the work of a password was done, whether or not there was somebody who had it.
    #[must_use]
    pub fn worked(&self) -> u64 {
        self.worked.load(Ordering::Relaxed)
    }

    /// How many passwords are being hashed, and how many wait for that.
    #[must_use]
    pub fn queue(&self) -> (u64, u64) {
        let at_work = AT_ONCE.saturating_sub(self.turns.available_permits());
        (at_work as u64, self.waiting.load(Ordering::Relaxed) as u64)
    }

    async fn turn(&self) -> Result<SemaphorePermit<'_>, ActionError> {
        const BUSY: ActionError = ActionError::Busy("too many passwords at once");
        let _waiting = Waiting::begin(&self.waiting).ok_or(BUSY)?;
        let turn = tokio::time::timeout(PATIENCE, self.turns.acquire()).await;
        turn.map_err(|_| BUSY)?.map_err(failed)
    }
}

/// Somebody who waits for their turn; also one who goes away meanwhile is not counted on.
struct Waiting<'c>(&'c AtomicUsize);

impl<'c> Waiting<'c> {
    /// Nothing when enough wait already.
    fn begin(count: &'c AtomicUsize) -> Option<Self> {
        let before = count.fetch_add(1, Ordering::Relaxed);
        let waiting = Self(count);
        (before < WAITING_AT_MOST).then_some(waiting)
    }
}

impl Drop for Waiting<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

fn hashed(params: &Params, password: &str) -> Result<String, ActionError> {
    let argon = Argon2::new(Algorithm::Argon2id, Version::V0x13, params.clone());
    Ok(argon.hash_password(password.as_bytes()).map_err(failed)?.to_string())
}

/// A text in the form of a hash that no password has: 256 random bits where the hash stands. To check a password against it
/// is the same work as against a person's, and to make it is none, so that the program starts at once.
fn of_nobody(params: &Params) -> Result<String, ActionError> {
    let (mut salt, mut tag) = ([0_u8; 16], [0_u8; 32]);
    SysRng.try_fill_bytes(&mut salt).map_err(failed)?;
    SysRng.try_fill_bytes(&mut tag).map_err(failed)?;
    let phc = PasswordHash {
        algorithm: Algorithm::Argon2id.ident(),
        version: Some(Version::V0x13.into()),
        params: params.try_into().map_err(failed)?,
        salt: Some(Salt::new(&salt).map_err(failed)?),
        hash: Some(Output::new(&tag).map_err(failed)?),
    };
    Ok(phc.to_string())
}

fn failed(error: impl std::fmt::Display) -> ActionError {
    ActionError::Hashing(error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use futures_util::FutureExt as _;

    #[tokio::test]
    async fn of_a_thousand_at_once_some_wait_and_the_others_are_turned_away_at_once() {
        let hashing = Hashing::worthless_for_tests().unwrap();
        let all_turns = hashing.turns.acquire_many(u32::try_from(AT_ONCE).unwrap()).await.unwrap();
        let (mut turned_away, mut waiting) = (0, Vec::new());
        for _ in 0..1000 {
            let mut one = Box::pin(hashing.hash("straw barn".to_owned()));
            match one.as_mut().now_or_never() {
                Some(Err(ActionError::Busy(_))) => turned_away += 1,
                Some(other) => panic!("{other:?}"),
                None => waiting.push(one),
            }
        }
        assert_eq!((turned_away, waiting.len()), (1000 - WAITING_AT_MOST, WAITING_AT_MOST));
        drop(all_turns);
        for one in waiting {
            one.await.unwrap();
        }
        assert!(hashing.hash("straw barn".to_owned()).await.is_ok(), "nobody waits any more");
        let worked = u64::try_from(WAITING_AT_MOST).unwrap() + 1;
        assert_eq!(hashing.worked(), worked, "who was turned away cost nothing");
    }

    #[tokio::test]
    async fn the_right_password_and_only_it_is_accepted() {
        let hashing = Hashing::worthless_for_tests().unwrap();
        let kept = hashing.hash("straw barn lamp".to_owned()).await.unwrap();
        assert!(hashing.verify("straw barn lamp".to_owned(), Some(kept.clone())).await.unwrap());
        assert!(!hashing.verify("straw barn".to_owned(), Some(kept.clone())).await.unwrap());
        assert!(!hashing.verify("straw barn lamp".to_owned(), None).await.unwrap());
        assert_ne!(hashing.hash("straw barn lamp".to_owned()).await.unwrap(), kept, "salted");
    }

    #[tokio::test]
    async fn nobodys_hash_is_checked_like_a_persons_and_is_no_ones() {
        let hashing = Hashing::new().unwrap();
        let (nobodys, kept) = (hashing.nobodys.to_string(), hashing.hash("straw barn lamp".to_owned()).await.unwrap());
        let form = |phc: &str| phc.rsplitn(3, '$').map(str::len).collect::<Vec<_>>();
        assert_eq!(form(&nobodys), form(&kept), "{nobodys}");
        assert_eq!(nobodys.rsplitn(3, '$').last(), kept.rsplitn(3, '$').last(), "the same work");
        for password in ["", "straw barn lamp"] {
            assert!(!hashing.verify(password.to_owned(), Some(nobodys.clone())).await.unwrap());
        }
        assert_ne!(nobodys, Hashing::new().unwrap().nobodys.to_string(), "random");
    }

    #[tokio::test]
    async fn what_is_kept_names_the_floor_of_the_standard() {
        // Source: OWASP ASVS 5.0 appendix C: Argon2id with at least 19 MiB, 2 passes, 1 lane.
        let kept = Hashing::new().unwrap().hash("straw barn lamp".to_owned()).await.unwrap();
        assert!(kept.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{kept}");
    }

    #[tokio::test]
    async fn a_hash_made_with_other_work_is_dated() {
        let (now, before) = (Hashing::with(16, 1).unwrap(), Hashing::with(8, 1).unwrap());
        let password = || "straw barn lamp".to_owned();
        let (kept, fresh) = (before.hash(password()).await.unwrap(), now.hash(password()).await.unwrap());
        assert!(now.is_dated(&kept) && !now.is_dated(&fresh) && !now.is_dated("no hash"));
        assert!(now.verify(password(), Some(kept)).await.unwrap(), "and still good");
    }

    #[test]
    fn argon2id_gives_the_tag_of_the_standard() {
        // Source: RFC 9106 section 5.3 (inputs from memory, tag recomputed).
        let params = argon2::ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon = Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0_u8; 32];
        argon.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        let tag: String = tag.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(tag, "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659");
    }
}
