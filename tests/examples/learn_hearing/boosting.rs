//! Gradient boosting of small trees for odds (J. Friedman, Annals of Statistics 29, 2001).
//!
//! All nodes of one level ask the same question, so a tree is four questions and sixteen answers.

use std::fmt;

/// Questions of a tree.
const DEPTH: usize = 4;
/// The share of each step that is taken.
const RATE: f32 = 0.15;
/// How much evidence for nothing is added to each leaf.
const RIDGE: f64 = 1.0;
/// Limits tried for each value: quantiles of all rows, and of those with a struck note.
const LIMITS: usize = 31;

/// What was measured, and whether the note was struck.
pub struct Rows<const N: usize> {
    pub values: Vec<[f32; N]>,
    pub struck: Vec<bool>,
}

impl<const N: usize> Default for Rows<N> {
    fn default() -> Rows<N> {
        Rows {
            values: Vec::new(),
            struck: Vec::new(),
        }
    }
}

impl<const N: usize> Rows<N> {
    pub fn push(&mut self, values: [f32; N], struck: bool) {
        self.values.push(values);
        self.struck.push(struck);
    }

    /// The limits tried for one value, in order.
    fn limits(&self, value: usize) -> Vec<f32> {
        let quantiles = |mut all: Vec<f32>| {
            all.sort_by(f32::total_cmp);
            let at = move |k: usize| all.get(k * all.len() / (LIMITS + 1)).copied();
            (1..=LIMITS).filter_map(at).collect::<Vec<f32>>()
        };
        let all = self.values.iter().map(|it| it[value]).collect();
        let struck = self.values.iter().zip(&self.struck);
        let struck = struck.filter(|(_, it)| **it).map(|(row, _)| row[value]);
        let mut limits = quantiles(all);
        limits.extend(quantiles(struck.collect()));
        limits.iter_mut().for_each(|it| *it = rounded(*it));
        limits.sort_by(f32::total_cmp);
        limits.dedup();
        limits
    }
}

#[derive(Clone)]
struct Tree {
    asks: Vec<(usize, f32)>,
    adds: Vec<f32>,
}

impl Tree {
    fn leaf(&self, values: &[f32]) -> usize {
        self.asks.iter().fold(0, |leaf, &(value, limit)| {
            2 * leaf + usize::from(values[value] > limit)
        })
    }
}

/// The logarithm of the odds before the first tree.
#[derive(Clone, Copy)]
enum Start {
    /// That of the share of struck notes among the rows.
    Share(f32),
    /// What was known before, as one of the values.
    Value(usize),
}

impl Start {
    fn log_odds(self, values: &[f32]) -> f32 {
        match self {
            Start::Share(odds) => odds,
            Start::Value(value) => values[value],
        }
    }
}

/// The sum of the trees grown so far.
pub struct Trees {
    start: Start,
    trees: Vec<Tree>,
    limits: Vec<Vec<f32>>,
    // For each value, into which gap between its limits each row falls.
    gaps: Vec<Vec<u8>>,
    odds: Vec<f32>,
}

impl Trees {
    /// No tree yet. Trees add to the log odds that one of the values holds, or else to those of all rows.
    pub fn before<const N: usize>(rows: &Rows<N>, known: Option<usize>) -> Trees {
        let struck = rows.struck.iter().filter(|it| **it).count() as f32;
        let share = rounded((struck / (rows.struck.len() as f32 - struck)).ln());
        let start = known.map_or(Start::Share(share), Start::Value);
        let limits: Vec<Vec<f32>> = (0..N).map(|value| rows.limits(value)).collect();
        let gap = |value: usize, row: &[f32; N]| {
            limits[value].partition_point(|limit| row[value] > *limit) as u8
        };
        let gaps = (0..N)
            .map(|value| rows.values.iter().map(|row| gap(value, row)).collect())
            .collect();
        Trees {
            start,
            trees: Vec::new(),
            limits,
            gaps,
            odds: rows.values.iter().map(|it| start.log_odds(it)).collect(),
        }
    }

    /// Adds the tree that lowers the logarithmic loss most, level by level.
    pub fn grow<const N: usize>(&mut self, rows: &Rows<N>) {
        let slopes: Vec<Sums> = self
            .odds
            .iter()
            .zip(&rows.struck)
            .map(|(odds, struck)| {
                let chance = 1.0 / (1.0 + f64::from(-odds).exp());
                Sums {
                    slope: f64::from(u8::from(*struck)) - chance,
                    bend: chance * (1.0 - chance),
                }
            })
            .collect();
        let mut leaves = vec![0usize; slopes.len()];
        let mut asks = Vec::with_capacity(DEPTH);
        for level in 0..DEPTH {
            let (value, limit) = self.best_question(&slopes, &leaves, 1 << level);
            asks.push((value, self.limits[value][limit]));
            for (leaf, gap) in leaves.iter_mut().zip(&self.gaps[value]) {
                *leaf = 2 * *leaf + usize::from(usize::from(*gap) > limit);
            }
        }
        let mut sums = vec![Sums::default(); 1 << DEPTH];
        for (slope, leaf) in slopes.iter().zip(&leaves) {
            sums[*leaf].add(*slope);
        }
        let adds: Vec<f32> = sums
            .iter()
            .map(|it| rounded(RATE * (it.slope / (it.bend + RIDGE)) as f32))
            .collect();
        for (odds, leaf) in self.odds.iter_mut().zip(leaves) {
            *odds += adds[leaf];
        }
        self.trees.push(Tree { asks, adds });
    }

    /// The value and the number of its limit that part the rows of all leaves best.
    fn best_question(&self, slopes: &[Sums], leaves: &[usize], count: usize) -> (usize, usize) {
        let mut best = (f64::MIN, (0, 0));
        for value in 0..self.limits.len() {
            let gaps = self.limits[value].len() + 1;
            let mut sums = vec![Sums::default(); count * gaps];
            for ((slope, leaf), gap) in slopes.iter().zip(leaves).zip(&self.gaps[value]) {
                sums[leaf * gaps + usize::from(*gap)].add(*slope);
            }
            let mut above: Vec<Sums> = sums.chunks(gaps).map(Sums::of_all).collect();
            let mut below = vec![Sums::default(); count];
            for limit in 0..gaps - 1 {
                let mut gain = 0.0;
                for leaf in 0..count {
                    let moved = sums[leaf * gaps + limit];
                    below[leaf].add(moved);
                    above[leaf].take(moved);
                    gain += below[leaf].gain() + above[leaf].gain();
                }
                if gain > best.0 {
                    best = (gain, (value, limit));
                }
            }
        }
        best.1
    }

    /// The logarithm of the odds that a note was struck.
    pub fn log_odds(&self, values: &[f32]) -> f32 {
        self.start.log_odds(values)
            + self
                .trees
                .iter()
                .map(|it| it.adds[it.leaf(values)])
                .sum::<f32>()
    }
}

/// The table as it stands in the library.
impl fmt::Display for Trees {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Start::Share(odds) = self.start {
            writeln!(f, "pub const START: f32 = {odds:?};")?;
        }
        writeln!(f, "pub static TREES: [Tree; {}] = [", self.trees.len())?;
        for tree in &self.trees {
            writeln!(
                f,
                "    Tree {{ asks: {:?}, adds: {:?} }},",
                tree.asks, tree.adds
            )?;
        }
        writeln!(f, "];")
    }
}

/// Sums of the first and second derivatives of the loss.
#[derive(Clone, Copy, Default)]
struct Sums {
    slope: f64,
    bend: f64,
}

impl Sums {
    fn of_all(sums: &[Sums]) -> Sums {
        sums.iter().fold(Sums::default(), |mut all, it| {
            all.add(*it);
            all
        })
    }

    fn add(&mut self, other: Sums) {
        self.slope += other.slope;
        self.bend += other.bend;
    }

    fn take(&mut self, other: Sums) {
        self.slope -= other.slope;
        self.bend -= other.bend;
    }

    fn gain(self) -> f64 {
        self.slope * self.slope / (self.bend + RIDGE)
    }
}

fn rounded(value: f32) -> f32 {
    (value * 1000.0).round() / 1000.0
}
