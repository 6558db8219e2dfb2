//! From ticks to exact fractions of a quarter note.

use num_integer::Integer;

use crate::melody::Quarters;

/// How ticks become time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Grid {
    /// The ticks are fractions of music as they stand, all on multiples of this part of a quarter note.
    Exact(u64),
    /// Everything goes to the nearest multiple of this fraction of a quarter note.
    Nearest(Quarters),
}

/// Parts of a quarter note that music is counted in, from coarse to fine.
const PARTS: [u64; 9] = [1, 2, 3, 4, 6, 8, 12, 16, 24];
/// An exact grid may have other parts too, for fives and sevens; finer than this it is an accident of the clock.
const FINEST_EXACT: u64 = 96;

impl Grid {
    /// The grid that the onsets of a line, in order, are on.
    ///
    /// Exact when each is a plain fraction. Otherwise the coarsest that all are within 1/96 of a quarter note of, as
    /// programs write them; or else, for what was played by hand, the coarsest on which they lie with deviations of at most an eighth
    /// of a step (root mean square) and no two that follow each other fall together, or else the one they come closest to. Without any grid the deviation would be
    /// 0.29 of a step. Chosen by ear.
    pub(super) fn of(onsets: &[u64], division: u64) -> Grid {
        let parts = onsets.iter().try_fold(1u64, |all, onset| {
            // Most onsets are on what the ones before have asked for.
            if (onset % division * all).is_multiple_of(division) {
                return Some(all);
            }
            let parts = division / division.gcd(onset);
            (parts <= FINEST_EXACT)
                .then(|| all.lcm(&parts))
                .filter(|all| *all <= 100_000)
        });
        if let Some(parts) = parts {
            return Grid::Exact(parts);
        }
        let steps = |onset: u64, parts: u64| onset as f64 * parts as f64 / division as f64;
        let deviation = |parts: u64| {
            let squares = onsets.iter().map(|onset| {
                let steps = steps(onset % division, parts);
                (steps - steps.round()).powi(2)
            });
            (squares.sum::<f64>() / onsets.len().max(1) as f64).sqrt()
        };
        // Notes that follow each other must not fall together; those struck together are less than a 1/48 apart.
        let keeps_apart = |parts: u64| {
            onsets.windows(2).all(|pair| {
                48 * (pair[1] - pair[0]) <= division
                    || steps(pair[0], parts).round() < steps(pair[1], parts).round()
            })
        };
        let is_close = |parts: u64| {
            onsets.iter().all(|onset| {
                let steps = steps(onset % division, parts);
                (steps - steps.round()).abs() * 96.0 <= parts as f64
            })
        };
        let parts = PARTS
            .into_iter()
            .find(|parts| is_close(*parts))
            .or_else(|| {
                PARTS
                    .into_iter()
                    .find(|parts| deviation(*parts) <= 0.125 && keeps_apart(*parts))
            })
            .or_else(|| {
                PARTS
                    .into_iter()
                    .min_by(|a, b| deviation(*a).total_cmp(&deviation(*b)))
            })
            .unwrap_or(4);
        Grid::Nearest(Quarters::new(1, parts as i64))
    }

    /// The time of an onset.
    pub(super) fn onset(self, ticks: u64, division: u64) -> Quarters {
        match self {
            Grid::Exact(parts) => exact(ticks, division, parts)
                .unwrap_or_else(|| Quarters::new(ticks as i64, division as i64)),
            Grid::Nearest(step) => nearest(ticks, division, step),
        }
    }

    /// The time of an ending, which players and programs keep less exactly.
    pub(super) fn end(self, ticks: u64, division: u64) -> Quarters {
        match self {
            // Sixteenths and triplets of them, or what the onsets have.
            Grid::Exact(parts) => exact(ticks, division, parts)
                .or_else(|| exact(ticks, division, parts.lcm(&48)))
                .unwrap_or_else(|| nearest(ticks, division, self.step())),
            Grid::Nearest(step) => nearest(ticks, division, step),
        }
    }

    /// Whether onsets are where the ticks have them.
    pub(super) fn is_exact(self) -> bool {
        matches!(self, Grid::Exact(_))
    }

    /// The shortest note.
    pub(super) fn step(self) -> Quarters {
        match self {
            Grid::Exact(parts) => Quarters::new(1, parts as i64),
            Grid::Nearest(step) => step,
        }
    }
}

/// The time, if it is a multiple of this part of a quarter note.
fn exact(ticks: u64, division: u64, parts: u64) -> Option<Quarters> {
    let (whole, rest) = (ticks / division, ticks % division * parts);
    // Small numbers are brought to lowest terms sooner than ticks.
    rest.is_multiple_of(division)
        .then(|| Quarters::new((whole * parts + rest / division) as i64, parts as i64))
}

fn nearest(ticks: u64, division: u64, step: Quarters) -> Quarters {
    // ticks / division / step, rounded; the factors are within 2^63, so their products are within 128 bits.
    let numer = u128::from(ticks) * (*step.denom() as u128);
    let denom = u128::from(division) * (*step.numer() as u128);
    let steps = (2 * numer + denom) / (2 * denom);
    Quarters::from(i64::try_from(steps).unwrap_or(i64::MAX / step.numer())) * step
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Onsets in ticks of 1/480.
    fn check(onsets: &[u64], expected: Grid) {
        assert_eq!(Grid::of(onsets, 480), expected, "{onsets:?}");
    }

    #[test]
    fn a_grid_is_exact_when_ticks_are_fractions_of_music() {
        check(&[0, 480, 960], Grid::Exact(1));
        check(&[0, 240, 320, 400], Grid::Exact(6));
        check(&[0, 96, 192, 288, 384], Grid::Exact(5)); // a quintuplet
        check(&[0, 160, 360], Grid::Exact(12));
    }

    #[test]
    fn a_grid_is_found_when_they_are_not() {
        let nearest = |parts| Grid::Nearest(Quarters::new(1, parts));
        check(&[1, 241, 481, 721], nearest(2)); // a clock one tick late
        check(&[3, 234, 489, 717, 963], nearest(2)); // a hand
        check(&[3, 157, 322, 478], nearest(3));
        check(&[2, 119, 243, 361, 479], nearest(4));
    }

    #[test]
    fn endings_go_to_the_grid_unless_they_are_plain() {
        let grid = Grid::Exact(2);
        assert_eq!(grid.end(216, 480), Quarters::new(1, 2)); // nine tenths of an eighth note
        assert_eq!(grid.end(120, 480), Quarters::new(1, 4));
        assert_eq!(
            Grid::Nearest(Quarters::new(1, 4)).onset(479, 480),
            Quarters::from(1)
        );
    }
}
