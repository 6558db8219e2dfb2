//! Of fingerings that cost nearly the same, the one with far fewer shifts.

use super::search::find_cheapest;
use super::term::{Term, Weights};
use super::{Constraints, Fingering, FingeringSearch, NoFingering, Objective, TimedMelody, cost};

/// A fingering costs nearly the same when it costs at most this share more. Chosen by ear.
const NEARLY: f64 = 0.05;

/// Far fewer shifts are at least this many fewer, and at least a third. Chosen by ear.
const FEWER: usize = 3;

/// How much dearer a shift is in the second search. The most, in whole numbers, with which no figure of the agreement with
/// print falls.
const DEARER: f64 = 2.0;

impl FingeringSearch<'_> {
    /// The cheapest fingering, or one with far fewer shifts that costs nearly the same; with another
    /// [objective](FingeringSearch::objective) the best one.
    ///
    /// A second search, in the positions of the cheapest fingering and with dearer shifts, finds the other. So most of those
    /// with far fewer shifts are found, not all.
    ///
    /// # Errors
    ///
    /// As [`FingeringSearch::run`].
    pub fn run_with_few_shifts(&self, line: &TimedMelody) -> Result<Fingering, NoFingering> {
        let one = FingeringSearch {
            count: 1,
            ..self.clone()
        };
        let best = one.run(line)?.swap_remove(0);
        Ok(match self.objective {
            Objective::MinimizeSum => with_few_shifts(self, line, &Weights::default(), best),
            Objective::MinimizeMax => best,
        })
    }
}

/// The cheapest fingering by these weights, or one with far fewer shifts that costs nearly the same; `None` when there is none.
pub fn find_with_few_shifts(
    search: &FingeringSearch,
    line: &TimedMelody,
    weights: &Weights,
) -> Option<Fingering> {
    let cheapest = find_cheapest(search, line, weights, None)?;
    Some(with_few_shifts(search, line, weights, cheapest))
}

fn with_few_shifts(
    search: &FingeringSearch,
    line: &TimedMelody,
    weights: &Weights,
    cheapest: Fingering,
) -> Fingering {
    let shifts = cheapest.shifts().count();
    if shifts < FEWER {
        return cheapest;
    }
    let positions = cheapest.notes.iter().map(|note| note.position).collect();
    let narrow = FingeringSearch {
        constraints: Constraints {
            positions: Some(positions),
            ..search.constraints.clone()
        },
        ..search.clone()
    };
    let dearer = weights.with(Term::Shift, weights.get(Term::Shift) + DEARER);
    let Some(mut found) = find_cheapest(&narrow, line, &dearer, None) else {
        return cheapest;
    };
    let fewer = shifts.saturating_sub(found.shifts().count());
    if fewer < FEWER || 3 * fewer < shifts {
        return cheapest;
    }
    let Some(amounts) = cost::amounts(search, line, &found.notes) else {
        return cheapest;
    };
    found.cost = (amounts.iter().map(|note| weights.costs(note).total())).sum();
    match found.cost - cheapest.cost <= NEARLY * cheapest.cost.abs() {
        true => found,
        false => cheapest,
    }
}
