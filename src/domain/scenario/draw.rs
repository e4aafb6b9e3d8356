//! Random draws that are the same on every machine and for ever.
//!
//! Ranges and shuffles are our own, because a library may change how it samples; the generator's words are fixed by
//! its published algorithm (ChaCha8). A golden-value test holds this file still.

use rand::rngs::ChaCha8Rng;
use rand::{Rng as _, SeedableRng as _};

/// A source of draws for one question: the sitting's secret seed and the question's own stream.
#[derive(Debug)]
pub struct Draws(ChaCha8Rng);

impl Draws {
    /// The draws of one stream of a seed. Different streams of one seed never overlap.
    #[must_use]
    pub fn new(seed: [u8; 32], stream: u64) -> Self {
        let mut generator = ChaCha8Rng::from_seed(seed);
        generator.set_stream(stream);
        Self(generator)
    }

    /// A whole number from 0 up to but not including `count`; every one equally likely. 0 when `count` is 0.
    pub fn below(&mut self, count: usize) -> usize {
        let count = count as u64;
        if count <= 1 {
            return 0;
        }
        // Words beyond the last whole multiple of `count` would favour the low numbers.
        let zone = u64::MAX - (u64::MAX % count + 1) % count;
        loop {
            let word = self.0.next_u64();
            if word <= zone {
                #[expect(clippy::cast_possible_truncation, reason = "smaller than `count`, which was a usize")]
                return (word % count) as usize;
            }
        }
    }

    /// One of the items; `None` when there are none.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> Option<&'a T> {
        if items.is_empty() { None } else { items.get(self.below(items.len())) }
    }

    /// Puts the items in a random order (Fisher-Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_draws_never_change() {
        // Golden values: a change here would change every recorded question. They hold the ranges and the shuffle still.
        let mut draws = Draws::new([7; 32], 3);
        let numbers: Vec<usize> = (0..8).map(|_| draws.below(100)).collect();
        let mut items = [0, 1, 2, 3, 4, 5];
        draws.shuffle(&mut items);
        insta::assert_snapshot!(format!("{numbers:?} {items:?}"), @"[77, 38, 5, 20, 27, 83, 97, 99] [2, 0, 1, 3, 5, 4]");
    }

    #[test]
    fn every_item_is_equally_likely() {
        let mut draws = Draws::new([1; 32], 0);
        let mut counts = [0u32; 7];
        for _ in 0..70_000 {
            counts[draws.below(7)] += 1;
        }
        // Chi-squared with 6 degrees of freedom: 22.46 is passed once in a thousand.
        // Source: NIST/SEMATECH e-Handbook 1.3.6.7.4 (from memory, not confirmed).
        let chi_squared: f64 = counts.iter().map(|count| (f64::from(*count) - 10_000.0).powi(2) / 10_000.0).sum();
        assert!(chi_squared < 22.46, "{counts:?}");
    }
}
