//! Random histories: people begin, answer, hand in, come too late, are ended by who watches, get more time, flag, are talked to
//! and change roles, certificates are granted, suspended and withdrawn, trainers change the bank; each step against a model of a few lines that knows nothing of the database, and at the end the record is whole
//! and every attempt comes out again.

mod certified;
mod model;
mod taught;
mod watched;
mod world;

use model::Model;
use world::{Prepared, World};

/// Steps of one history.
const STEPS: usize = 40;
/// Histories of one test; there are four.
const EACH: u64 = 250;

/// Numbers that look random and come again.
struct Dice(u64);

impl Dice {
    /// One of 0..sides. The generator is SplitMix64.
    fn below(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (mixed ^ (mixed >> 31)) % sides
    }

    fn place(&mut self, of: usize) -> usize {
        usize::try_from(self.below(of as u64)).expect("small")
    }
}

/// How often things came about: a history in which nothing happens proves nothing.
#[derive(Debug, Default)]
struct Tally {
    begun: usize,
    passed: usize,
    failed: usize,
    by_the_clock: usize,
    ended: usize,
    talks: usize,
    refused: usize,
    practised: usize,
    changed: usize,
    certificates_changed: usize,
}

async fn histories(first: u64) {
    let prepared = Prepared::new().await;
    let mut tally = Tally::default();
    for number in first..first + EACH {
        let mut world = World::open(&prepared).await;
        let mut model = Model::new(&world);
        let mut dice = Dice(number);
        for _ in 0..STEPS {
            model.step(&mut world, &mut dice, &mut tally).await;
        }
        model.compare(&world, number, &mut tally).await;
        world.close().await;
    }
    let Tally { begun, passed, failed, by_the_clock, ended, talks, refused, practised, changed, certificates_changed } =
        tally;
    for (what, times) in [
        ("begun", begun),
        ("passed", passed),
        ("failed", failed),
        ("handed in by the clock", by_the_clock),
        ("ended by who watched", ended),
        ("talked about", talks),
        ("refused", refused),
        ("practised", practised),
        ("changed in the bank", changed),
        ("certificates changed", certificates_changed),
    ] {
        assert!(times >= 15, "{what}: only {times} times in {EACH} histories");
    }
}

#[tokio::test]
async fn histories_first_quarter() {
    histories(0).await;
}

#[tokio::test]
async fn histories_second_quarter() {
    histories(EACH).await;
}

#[tokio::test]
async fn histories_third_quarter() {
    histories(2 * EACH).await;
}

#[tokio::test]
async fn histories_last_quarter() {
    histories(3 * EACH).await;
}
