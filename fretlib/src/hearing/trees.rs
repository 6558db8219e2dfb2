//! Odds as a sum over small decision trees.

/// A decision tree that asks the same questions on every way: the answers to them number its leaf.
pub struct Tree {
    /// Which measured value is asked about, and the limit above which the answer is yes.
    pub asks: [(usize, f32); 4],
    /// What each leaf adds to the logarithm of the odds; the answer to the first question is the highest bit.
    pub adds: [f32; 16],
}

/// The logarithm of the odds, from `start` on, by what was measured.
pub fn log_odds(start: f32, trees: &[Tree], measured: &[f32]) -> f32 {
    let of_trees = trees.iter().map(|tree| {
        let leaf = tree.asks.iter().fold(0, |leaf, &(value, limit)| {
            2 * leaf + usize::from(measured[value] > limit)
        });
        tree.adds[leaf]
    });
    start + of_trees.sum::<f32>()
}

/// The chance, from 0 to 1, that the logarithm of the odds stands for.
pub fn logistic(log_odds: f32) -> f32 {
    1.0 / (1.0 + (-log_odds).exp())
}
