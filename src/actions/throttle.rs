//! How long somebody waits after wrong passwords: longer each time, per account and per network address, and never for
//! good, so that nobody can lock another person out.
//!
//! Lives in the memory of one server. Several servers on one database each count for themselves.

use crate::domain::units::Moment;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Wrong passwords for one account that cost no waiting.
const FREE_PER_ACCOUNT: u32 = 4;
/// Wrong passwords from one address that cost no waiting: a whole branch may sit behind it.
const FREE_PER_ADDRESS: u32 = 30;
/// The longest wait, in seconds: one guess a minute finds no password, and nobody is kept out of their shift.
const LONGEST_WAIT_S: i64 = 60;
/// After this many quiet seconds all is forgotten.
const FORGOTTEN_AFTER_S: i64 = 3600;
/// How many accounts and addresses are remembered before the quiet ones are dropped.
const REMEMBERED: usize = 20_000;

/// Counts wrong passwords. Clones count together.
#[derive(Clone, Debug, Default)]
pub struct Throttle(Arc<Mutex<HashMap<Source, Misses>>>);

/// Whose wrong passwords are counted together.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) enum Source {
    /// An account, whether it exists or not, by its folded address.
    Account(String),
    /// A network address.
    Address(String),
}

#[derive(Clone, Copy, Debug)]
struct Misses {
    count: u32,
    last: Moment,
}

impl Misses {
    fn wait_s(self, free: u32, now: Moment) -> i64 {
        let Some(over) = self.count.checked_sub(free).filter(|over| *over > 0) else { return 0 };
        let delay = 2_i64.saturating_pow(over.min(10)).min(LONGEST_WAIT_S);
        (delay - now.seconds_since(self.last)).max(0)
    }
}

impl Source {
    const fn free(&self) -> u32 {
        match self {
            Self::Account(_) => FREE_PER_ACCOUNT,
            Self::Address(_) => FREE_PER_ADDRESS,
        }
    }
}

impl Throttle {
    /// The seconds that somebody has to wait before trying again; 0 when they may.
    pub(super) fn wait_s(&self, sources: &[Source], now: Moment) -> i64 {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        sources.iter().filter_map(|of| Some(all.get(of)?.wait_s(of.free(), now))).max().unwrap_or(0)
    }

    /// Counts a wrong password.
    pub(super) fn miss(&self, sources: &[Source], now: Moment) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= REMEMBERED {
            all.retain(|_, misses| now.seconds_since(misses.last) < FORGOTTEN_AFTER_S);
        }
        for source in sources {
            let misses = all.entry(source.clone()).or_insert(Misses { count: 0, last: now });
            let quiet = now.seconds_since(misses.last) >= FORGOTTEN_AFTER_S;
            *misses = Misses { count: if quiet { 1 } else { misses.count.saturating_add(1) }, last: now };
        }
    }

    /// The password was right after all: the account's misses are forgotten, and the address has one less.
    pub(super) fn forgive(&self, sources: &[Source]) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for source in sources {
            match (source, all.get_mut(source)) {
                (Source::Address(_), Some(misses)) if misses.count > 1 => misses.count -= 1,
                _ => drop(all.remove(source)),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wait_grows_is_bounded_and_passes() {
        let throttle = Throttle::default();
        let ann = [Source::Account("ann@example.org".to_owned())];
        let mut now = Moment(0);
        let mut waits = Vec::new();
        for _ in 0..14 {
            throttle.miss(&ann, now);
            let wait = throttle.wait_s(&ann, now);
            waits.push(wait);
            now = now.plus_seconds(wait);
            assert_eq!(throttle.wait_s(&ann, now), 0, "after waiting one may try again");
        }
        assert_eq!(waits, [0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60, 60, 60, 60]);
        throttle.miss(&ann, now.plus_seconds(FORGOTTEN_AFTER_S));
        assert_eq!(throttle.wait_s(&ann, now.plus_seconds(FORGOTTEN_AFTER_S)), 0, "an hour later it begins anew");
    }

    #[test]
    fn one_account_does_not_slow_another_and_a_right_password_forgets() {
        let throttle = Throttle::default();
        let of = |name: &str| Source::Account(name.to_owned());
        (0..9).for_each(|_| throttle.miss(&[of("ann")], Moment(0)));
        assert_eq!(throttle.wait_s(&[of("ben")], Moment(0)), 0);
        throttle.forgive(&[of("ann")]);
        assert_eq!(throttle.wait_s(&[of("ann")], Moment(0)), 0);
    }

    #[test]
    fn one_address_may_miss_more_often() {
        let throttle = Throttle::default();
        let address = [Source::Address("192.0.2.7".to_owned())];
        (0..30).for_each(|_| throttle.miss(&address, Moment(0)));
        assert_eq!(throttle.wait_s(&address, Moment(0)), 0);
        throttle.miss(&address, Moment(0));
        assert_eq!(throttle.wait_s(&address, Moment(0)), 2);
        throttle.forgive(&address);
        assert_eq!(throttle.wait_s(&address, Moment(0)), 0, "a right password is no miss");
    }
}
