//! The only place that asks what time it is.
//!
//! Never used by the domain: there, moments are arguments. Tests and the demo's histories set it by hand.

use crate::domain::units::Moment;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// Tells the time: the machine's, or one that is set by hand.
#[derive(Clone, Debug, Default)]
pub struct Clock(Option<Arc<AtomicI64>>);

impl Clock {
    /// The clock of this machine.
    #[must_use]
    pub const fn system() -> Self {
        Self(None)
    }

    /// A clock that stands at `start` until it is moved. Clones of it move together.
    #[must_use]
    pub fn manual(start: Moment) -> Self {
        Self(Some(Arc::new(AtomicI64::new(start.0))))
    }

    /// The moment now, in whole microseconds, as the databases keep it.
    #[must_use]
    pub fn now(&self) -> Moment {
        match &self.0 {
            None => Moment(jiff::Timestamp::now().as_microsecond()),
            Some(at) => Moment(at.load(Ordering::SeqCst)),
        }
    }

    /// Moves a clock that is set by hand; the machine's own goes on by itself.
    pub fn advance(&self, seconds: i64) {
        if let Some(at) = &self.0 {
            at.fetch_add(seconds.saturating_mul(1_000_000), Ordering::SeqCst);
        }
    }

    /// Sets a clock that is set by hand.
    pub fn set(&self, moment: Moment) {
        if let Some(at) = &self.0 {
            at.store(moment.0, Ordering::SeqCst);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clones_of_a_clock_set_by_hand_move_together() {
        let clock = Clock::manual(Moment(1_000_000));
        let same = clock.clone();
        clock.advance(60);
        assert_eq!(same.now(), Moment(61_000_000));
        same.set(Moment(5));
        assert_eq!(clock.now(), Moment(5));
    }

    #[test]
    fn the_machines_clock_is_past_the_day_this_was_written() {
        let clock = Clock::system();
        clock.advance(-1_000_000_000);
        assert!(clock.now() > Moment(1_700_000_000_000_000));
    }
}
