//! Random choices that a seed repeats.

use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};

/// Random choices, the same for the same seed.
#[derive(Debug)]
pub struct SeededChoice(ChaCha8Rng);

impl SeededChoice {
    /// Choices that begin at a seed.
    pub fn new(seed: u64) -> SeededChoice {
        SeededChoice(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A number below `count`, or 0 when `count` is 0.
    ///
    /// It scales one 32-bit draw itself, because the ranges of the `rand` crate may change with its version, and a seed
    /// must always give the same questions. The bias is below one in a million for a thousand choices.
    pub fn below(&mut self, count: usize) -> usize {
        ((u64::from(self.0.next_u32()) * count as u64) >> 32) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // ChaCha with 8 rounds, seeded as `rand` seeds it. When this fails, seeds have changed their meaning.
    #[test]
    fn what_a_seed_means_is_fixed() {
        let mut choice = SeededChoice::new(1);
        let drawn: Vec<usize> = (0..8).map(|_| choice.below(100)).collect();
        assert_eq!(drawn, [54, 40, 98, 8, 21, 59, 38, 21]);
        assert_eq!(choice.below(0), 0);
    }
}
