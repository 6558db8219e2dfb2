//! From ticks to exact fractions of a quarter note.

use num_integer::Integer;

use crate::melody::Quarters;

/// How ticks become time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum TickGrid {
    /// The ticks are exact fractions, all multiples of this part of a quarter note.
    Exact(u64),
    /// Times are rounded to the nearest multiple of this fraction of a quarter note.
    Nearest(Quarters),
}

/// Usual parts of a quarter note, from coarse to fine.
const PARTS: [u64; 9] = [1, 2, 3, 4, 6, 8, 12, 16, 24];
/// Finer parts, for notes that would fall together on any coarser grid.
const FINE_PARTS: [u64; 2] = [32, 48];
/// An exact grid may also divide by fives and sevens; a finer one is an accident of the clock.
const FINEST_EXACT: u64 = 96;

impl TickGrid {
    /// The grid of the onsets of a line, which must be in order.
    ///
    /// In order of preference, chosen by ear:
    ///
    /// - exact, when every onset is a plain fraction;
    /// - as programs round: the coarsest grid that every onset is within 1/96 of a quarter note of;
    /// - as hands play: the coarsest grid that keeps notes apart and that onsets miss by at most an eighth of a step (root
    ///   mean square; at random it would be 0.29);
    /// - the grid they come closest to, of those that keep notes apart: none may be lost. The finest always does.
    pub(super) fn of(onsets: &[u64], division: u64) -> TickGrid {
        let parts = onsets.iter().try_fold(1u64, |all, onset| {
            // Most onsets are already on the grid of those before.
            if (onset % division * all).is_multiple_of(division) {
                return Some(all);
            }
            let parts = division / division.gcd(onset);
            (parts <= FINEST_EXACT)
                .then(|| all.lcm(&parts))
                .filter(|all| *all <= 100_000)
        });
        if let Some(parts) = parts {
            return TickGrid::Exact(parts);
        }
        let steps = |onset: u64, parts: u64| onset as f64 * parts as f64 / division as f64;
        let deviation = |parts: u64| {
            let squares = onsets.iter().map(|onset| {
                let steps = steps(onset % division, parts);
                (steps - steps.round()).powi(2)
            });
            (squares.sum::<f64>() / onsets.len().max(1) as f64).sqrt()
        };
        // Successive notes must not fall together; notes of one chord are less than 1/48 apart.
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
                    .filter(|parts| keeps_apart(*parts))
                    .min_by(|a, b| deviation(*a).total_cmp(&deviation(*b)))
            })
            .or_else(|| FINE_PARTS.into_iter().find(|parts| keeps_apart(*parts)))
            .unwrap_or(48);
        TickGrid::Nearest(Quarters::new(1, parts as i64))
    }

    /// The time of an event other than a note, such as a change of key.
    pub(super) fn time(self, ticks: u64, division: u64) -> Quarters {
        match self {
            TickGrid::Exact(_) => Quarters::new(ticks as i64, division as i64),
            TickGrid::Nearest(step) => Quarters::from(nearest(ticks, division, step)) * step,
        }
    }
}

/// How many steps from the start the nearest point of the grid is.
fn nearest(ticks: u64, division: u64, step: Quarters) -> i64 {
    // Ticks are below 2^38, and steps are fractions with terms up to 1000.
    let (numer, denom) = (step.numer() as u64, step.denom() as u64);
    let ticks_in_steps = division * numer;
    ((2 * ticks * denom + ticks_in_steps) / (2 * ticks_in_steps)) as i64
}

/// The times of a line, in whole parts of a quarter note.
///
/// A line is computed in these integers and turned into fractions at the end, since every sum of two fractions needs a
/// greatest common divisor, and a line has thousands.
pub(super) struct Clock {
    grid: TickGrid,
    division: u64,
    parts: u64,
}

impl Clock {
    pub(super) fn new(grid: TickGrid, division: u64) -> Clock {
        let parts = match grid {
            // Endings may also be on sixteenths and their triplets.
            TickGrid::Exact(parts) => parts.lcm(&48),
            TickGrid::Nearest(step) => step.denom() as u64,
        };
        Clock {
            grid,
            division,
            parts,
        }
    }

    /// How many parts make a quarter note.
    pub(super) fn parts(&self) -> u64 {
        self.parts
    }

    /// The time of an onset for which the grid was made.
    pub(super) fn onset(&self, ticks: u64) -> u64 {
        match self.grid {
            TickGrid::Exact(_) => ticks * self.parts / self.division,
            TickGrid::Nearest(step) => nearest(ticks, self.division, step) as u64 * self.step(),
        }
    }

    /// The time of an ending, which is less exact: a plain fraction, or else on the grid.
    pub(super) fn end(&self, ticks: u64) -> u64 {
        let step = match self.grid {
            TickGrid::Exact(_) if (ticks * self.parts).is_multiple_of(self.division) => {
                return ticks * self.parts / self.division;
            }
            TickGrid::Exact(parts) => Quarters::new(1, parts as i64),
            TickGrid::Nearest(step) => step,
        };
        nearest(ticks, self.division, step) as u64 * self.step()
    }

    /// The shortest note.
    pub(super) fn step(&self) -> u64 {
        match self.grid {
            TickGrid::Exact(parts) => self.parts / parts,
            TickGrid::Nearest(step) => step.numer() as u64,
        }
    }
}

/// Whole parts of a quarter note as fractions in lowest terms.
///
/// Adding whole quarter notes keeps lowest terms, so each remainder is reduced only once.
pub(super) struct Fractions {
    parts: u64,
    remainders: Vec<Option<Quarters>>,
}

impl Fractions {
    /// How many parts make a quarter note.
    pub(super) fn of(parts: u64) -> Fractions {
        // Finer remainders are computed each time.
        const MOST: u64 = 1000;
        Fractions {
            parts,
            remainders: vec![None; parts.min(MOST) as usize],
        }
    }

    pub(super) fn get(&mut self, count: u64) -> Quarters {
        let (whole, rest) = ((count / self.parts) as i64, count % self.parts);
        let reduced = || Quarters::new(rest as i64, self.parts as i64);
        let fraction = match self.remainders.get_mut(rest as usize) {
            Some(known) => *known.get_or_insert_with(reduced),
            None => reduced(),
        };
        fraction + whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Onsets in ticks of 1/480.
    fn check(onsets: &[u64], expected: TickGrid) {
        assert_eq!(TickGrid::of(onsets, 480), expected, "{onsets:?}");
    }

    #[test]
    fn a_grid_is_exact_when_ticks_are_fractions_of_music() {
        check(&[0, 480, 960], TickGrid::Exact(1));
        check(&[0, 240, 320, 400], TickGrid::Exact(6));
        check(&[0, 96, 192, 288, 384], TickGrid::Exact(5)); // a quintuplet
        check(&[0, 160, 360], TickGrid::Exact(12));
    }

    #[test]
    fn a_grid_is_found_when_they_are_not() {
        let nearest = |parts| TickGrid::Nearest(Quarters::new(1, parts));
        check(&[1, 241, 481, 721], nearest(2)); // a clock one tick late
        check(&[3, 234, 489, 717, 963], nearest(2)); // a hand
        check(&[3, 157, 322, 478], nearest(3));
        check(&[2, 119, 243, 361, 479], nearest(4));
    }

    #[test]
    fn endings_go_to_the_grid_unless_they_are_plain() {
        let end = |grid, ticks| {
            let clock = Clock::new(grid, 480);
            Fractions::of(clock.parts()).get(clock.end(ticks))
        };
        assert_eq!(end(TickGrid::Exact(2), 216), Quarters::new(1, 2)); // nine tenths of an eighth note
        assert_eq!(end(TickGrid::Exact(2), 120), Quarters::new(1, 4));
        assert_eq!(end(TickGrid::Exact(5), 96), Quarters::new(1, 5));
        let two_thirds = TickGrid::Nearest(Quarters::new(2, 3));
        assert_eq!(end(two_thirds, 479), Quarters::new(2, 3));
        assert_eq!(end(two_thirds, 481), Quarters::new(4, 3));
    }

    #[test]
    fn onsets_are_where_the_ticks_have_them_on_an_exact_grid() {
        let clock = Clock::new(TickGrid::of(&[0, 96, 160, 1440], 480), 480);
        let mut fractions = Fractions::of(clock.parts());
        for ticks in [0, 96, 160, 1440] {
            let time = fractions.get(clock.onset(ticks));
            assert_eq!(time, Quarters::new(ticks as i64, 480));
        }
    }

    quickcheck::quickcheck! {
        fn fractions_are_in_lowest_terms(count: u32, parts: u16) -> bool {
            let parts = u64::from(parts) + 1;
            let mut fractions = Fractions::of(parts);
            let expected = Quarters::new(count.into(), parts as i64);
            // Computed first, then cached; `==` would not notice an unreduced fraction.
            (0..2).all(|_| fractions.get(count.into()) == expected)
        }
    }
}
