//! Where the secret seeds of examinations and practice come from: the system's random source.
//!
//! Only the demo's history, which is invented anyway, counts its seeds up from a number of its own, so that it comes out
//! the same each time. Whoever serves people uses [`Seeds::system`].

use super::ActionError;
use rand::TryRng as _;
use rand::rngs::SysRng;
use sha2::{Digest as _, Sha256};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Gives a seed for each sitting. Clones share one count.
#[derive(Clone, Debug, Default)]
pub struct Seeds(Option<Arc<Counted>>);

#[derive(Debug)]
struct Counted {
    from: [u8; 32],
    given: AtomicU64,
}

impl Seeds {
    /// 256 random bits from the system for each seed.
    #[must_use]
    pub const fn system() -> Self {
        Self(None)
    }

    /// Seeds that anyone can work out who knows `from`. Never for people's real sittings.
    #[must_use]
    pub fn counted(from: [u8; 32]) -> Self {
        Self(Some(Arc::new(Counted { from, given: AtomicU64::new(0) })))
    }

    /// The next seed.
    ///
    /// # Errors
    /// When the system gives no random bytes.
    pub(super) fn fresh(&self) -> Result<[u8; 32], ActionError> {
        let Some(counted) = &self.0 else {
            let mut seed = [0_u8; 32];
            SysRng.try_fill_bytes(&mut seed).map_err(|error| ActionError::Randomness(error.to_string()))?;
            return Ok(seed);
        };
        let number = counted.given.fetch_add(1, Ordering::SeqCst);
        Ok(Sha256::new().chain_update(counted.from).chain_update(number.to_be_bytes()).finalize().into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counted_seeds_come_again_and_the_systems_do_not() {
        let of = |seeds: &Seeds| [seeds.fresh().unwrap(), seeds.fresh().unwrap()];
        let (once, again) = (of(&Seeds::counted([7; 32])), of(&Seeds::counted([7; 32])));
        assert_eq!(once, again);
        assert_ne!(once[0], once[1]);
        assert_ne!(once, of(&Seeds::counted([8; 32])));
        let [one, other] = of(&Seeds::system());
        assert_ne!(one, other);
    }
}
