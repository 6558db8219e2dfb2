//! The fingering that costs least, exactly.
//!
//! Dynamic programming over the notes (Viterbi). A node holds everything that the costs of later notes depend on: how
//! the note is played, the state of the hand since it last moved, and the number of shifts when that is limited. A
//! shift resets the state, so nodes stay few and the work is proportional to the number of notes. Notes on which all
//! remaining paths agree are settled at once, so memory stays small on the longest melody. Of more than 32,768 notes, parts
//! are searched side by side on threads of their own.

use std::collections::BTreeSet;
use std::ops::Range;

mod backtrace;
mod costs_to_go;
mod frontier;
mod parts;
mod shift_costs;
mod step;
mod transition;
mod walk;

use costs_to_go::CostsToGo;
use parts::Division;
use walk::Walk;

use super::candidates::{Candidate, Candidates};
use super::constraints::{Constraints, NoFingering, Relaxation};
use super::cost::{self, Spans};
use super::home::{Home, Pull};
use super::preferences::Preferences;
use super::term::{TermCosts, Weights};
use super::{FingeredNote, Fingering, Player, TimedMelody};
use crate::melody::Melody;
use crate::neck::{Position, StringNumber};
use crate::theory::{MidiNumber, Octave};

/// What the best fingering minimises.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Objective {
    /// The total cost.
    #[default]
    MinimizeSum,
    /// The cost of the hardest note; among equals, the total cost.
    MinimizeMax,
}

/// A search for the best fingerings.
///
/// See the [module](super) for an example.
#[derive(Clone, Debug)]
pub struct FingeringSearch<'a> {
    /// The instrument and the hand.
    pub player: Player<'a>,
    /// What every fingering must satisfy.
    pub constraints: Constraints,
    /// What is minimised.
    pub objective: Objective,
    /// How many fingerings to find; at least one.
    pub count: usize,
    /// Preferred positions, by ranges of notes. Pins and [`Constraints::start`] add their own.
    pub homes: Vec<(Range<usize>, Home)>,
}

impl<'a> FingeringSearch<'a> {
    /// One fingering, the cheapest, without constraints.
    pub fn new(player: Player<'a>) -> FingeringSearch<'a> {
        FingeringSearch {
            player,
            constraints: Constraints::default(),
            objective: Objective::default(),
            count: 1,
            homes: Vec::new(),
        }
    }

    /// The `count` best fingerings, best first, or as many as there are.
    ///
    /// No two have all notes at the same places: other fingers alone do not count as another fingering.
    ///
    /// # Errors
    ///
    /// When no fingering satisfies the constraints: the first note that cannot be played, and what would make it
    /// playable.
    pub fn run(&self, line: &TimedMelody) -> Result<Vec<Fingering>, NoFingering> {
        let weights = Weights::default();
        let search = Search::new(self, line, &weights, None);
        let least = Criterion {
            count: self.count.max(1),
            ..Criterion::CHEAPEST
        };
        let outcome = match self.objective {
            Objective::MinimizeSum => search.run(least),
            Objective::MinimizeMax => search
                .run(Criterion::CHEAPEST)
                .and_then(|cheapest| {
                    // Nothing harder than the peak of the cheapest fingering needs to be tried.
                    let costs = self.breakdown(line, &cheapest[0].notes).unwrap_or_default();
                    let peak = costs
                        .iter()
                        .map(TermCosts::total)
                        .fold(f64::NEG_INFINITY, f64::max);
                    search.run(Criterion {
                        cap: just_above(peak),
                        ..Criterion::EASIEST_PEAK
                    })
                })
                .and_then(|easiest| {
                    search.run(Criterion {
                        cap: just_above(easiest[0].cost),
                        ..least
                    })
                }),
        };
        outcome.map_err(|index| NoFingering {
            index,
            pitch: line.notes()[index].pitch,
            relaxations: self.relaxations(line, index),
        })
    }

    /// The fingering of a melody moved by whole octaves, at its own tempo, in its usual region,
    /// [with few shifts](FingeringSearch::run_with_few_shifts).
    ///
    /// `None` when a note leaves the MIDI range or no fingering satisfies the constraints; [`FingeringSearch::run`]
    /// tells which note.
    pub fn best(&self, melody: &Melody, octave: Octave) -> Option<Fingering> {
        let line = TimedMelody::new(melody, octave, None)?;
        let (search, _) = self.in_usual_region(&line);
        search.run_with_few_shifts(&line).ok()
    }

    pub(super) fn breakdown(
        &self,
        line: &TimedMelody,
        notes: &[FingeredNote],
    ) -> Option<Vec<TermCosts>> {
        let weights = Weights::default();
        let amounts = cost::amounts(self, line, notes)?;
        Some(amounts.iter().map(|note| weights.costs(note)).collect())
    }

    /// What the player prefers at each note.
    pub(super) fn preferences(&self, line: &TimedMelody) -> Preferences {
        Preferences::new(self, line)
    }

    /// The constraints of which each alone, relaxed, lets the search get past the note `index`.
    fn relaxations(&self, line: &TimedMelody, index: usize) -> Vec<Relaxation> {
        let weights = Weights::default();
        let gets_past = |constraints: Constraints| {
            let rest = FingeringSearch {
                constraints,
                ..self.clone()
            };
            let found = Search::new(&rest, line, &weights, None).run(Criterion::CHEAPEST);
            found.map_or_else(|stuck| stuck > index, |_| true)
        };
        let all = self.constraints.without_each().into_iter();
        all.filter_map(|(relaxation, rest)| gets_past(rest).then_some(relaxation))
            .collect()
    }
}

/// How much more than the cheapest the best paths over a line may cost at first, times its notes; chosen by timing.
const AT_FIRST: f64 = 100.0;

/// An extra cost for one way of playing a note (given by index), for learning weights.
pub type CostBias<'a> = &'a (dyn Fn(usize, &FingeredNote) -> f64 + Sync);

/// The cheapest fingering by these weights, with a bias added to the cost of every note if there is one; `None` when there
/// is no fingering.
pub fn find_cheapest(
    search: &FingeringSearch,
    line: &TimedMelody,
    weights: &Weights,
    bias: Option<CostBias>,
) -> Option<Fingering> {
    Search::new(search, line, weights, bias)
        .run(Criterion::CHEAPEST)
        .ok()?
        .pop()
}

/// How the costs of notes add up to the cost of a path.
#[derive(Clone, Copy)]
enum Combine {
    Sum,
    Max,
}

impl Combine {
    fn join(self, before: f64, moment: f64) -> f64 {
        match self {
            Combine::Sum => before + moment,
            Combine::Max => before.max(moment),
        }
    }
}

/// Sums in another order may differ in their last digits.
fn just_above(cost: f64) -> f64 {
    cost + 1e-9 * cost.abs().max(1.0)
}

/// What one run minimizes.
#[derive(Clone, Copy)]
struct Criterion {
    combine: Combine,
    /// The most that one note may cost.
    cap: f64,
    /// How many paths over different places to find.
    count: usize,
}

impl Criterion {
    /// The one path with the least sum.
    const CHEAPEST: Criterion = Criterion {
        combine: Combine::Sum,
        cap: f64::INFINITY,
        count: 1,
    };
    /// The one path whose hardest note is easiest.
    const EASIEST_PEAK: Criterion = Criterion {
        combine: Combine::Max,
        ..Criterion::CHEAPEST
    };
}

struct Search<'a> {
    spans: Spans,
    line: &'a TimedMelody,
    weights: &'a Weights,
    constraints: &'a Constraints,
    bias: Option<CostBias<'a>>,
    preferences: Preferences,
    /// The cost of standing in each position without a home.
    standing: StandingCosts,
    /// By MIDI number.
    candidates: Vec<Candidates>,
}

/// A cost by position; index 0 is unused.
type StandingCosts = [f64; Position::HIGHEST as usize + 1];

impl<'a> Search<'a> {
    fn new(
        search: &'a FingeringSearch,
        line: &'a TimedMelody,
        weights: &'a Weights,
        bias: Option<CostBias<'a>>,
    ) -> Search<'a> {
        let FingeringSearch {
            player,
            constraints,
            ..
        } = search;
        let pitches: BTreeSet<MidiNumber> =
            line.notes().iter().map(|note| note.pitch.midi()).collect();
        let mut candidates: Vec<Candidates> = (0..128).map(|_| Candidates::default()).collect();
        for midi in pitches {
            candidates[usize::from(midi.get())] =
                Candidates::new(player, weights, constraints, midi);
        }
        Search {
            spans: Spans::new(player),
            line,
            weights,
            constraints,
            bias,
            preferences: search.preferences(line),
            standing: standing(weights, None),
            candidates,
        }
    }

    /// The cost of standing in each position at a note.
    fn standing(&self, index: usize) -> StandingCosts {
        match self.preferences.pull(index) {
            Some(pull) => standing(self.weights, Some(pull)),
            None => self.standing,
        }
    }

    /// The cost of each string at a note where pins suggest another.
    fn unlike_pins(&self, index: usize) -> Option<[f64; StringNumber::MOST as usize]> {
        let about = self.preferences.about(self.line, index)?;
        Some(std::array::from_fn(|index| {
            let string = StringNumber::new(index as u8 + 1);
            string.map_or(0.0, |string| {
                self.weights
                    .total(|add| cost::unlike_pins(&about, string, add))
            })
        }))
    }

    /// The candidates of a note, each with its own cost where the constraints allow it.
    fn ways(&self, index: usize) -> impl Iterator<Item = (&Candidate, Option<f64>)> {
        let asked = self.constraints.at(index, self.line.notes().len() - 1);
        let long = self.line.notes()[index].is_long();
        let standing = self.standing(index);
        let unlike_pins = self.unlike_pins(index);
        self.candidates(index).all.iter().map(move |candidate| {
            let is_allowed = asked.as_ref().is_none_or(|it| it.allow(&candidate.note));
            let own = || {
                candidate.cost(long)
                    + standing[usize::from(candidate.note.position.get())]
                    + unlike_pins.map_or(0.0, |costs| costs[candidate.note.place.string.index()])
                    + self.bias.map_or(0.0, |bias| bias(index, &candidate.note))
            };
            (candidate, is_allowed.then(own))
        })
    }

    fn candidates(&self, index: usize) -> &Candidates {
        &self.candidates[usize::from(self.line.notes()[index].pitch.midi().get())]
    }

    /// True when of all nodes at one place only the cheapest need be shifted from.
    fn departs_by_spot(&self, criterion: Criterion) -> bool {
        criterion.count == 1 && self.constraints.max_shifts.is_none()
    }

    /// True when only the cheapest shift to each candidate is needed.
    fn takes_cheapest_shift(&self, criterion: Criterion) -> bool {
        matches!(criterion.combine, Combine::Sum)
            && criterion.cap == f64::INFINITY
            && self.departs_by_spot(criterion)
    }

    /// The best paths with no note above the cap, or the index of the first note that no path reaches.
    fn run(&self, criterion: Criterion) -> Result<Vec<Fingering>, usize> {
        let notes = self.line.notes().len();
        if criterion.count > 1 && notes <= CostsToGo::LONGEST {
            return self.run_bounded(criterion);
        }
        let division = Division::of(notes);
        if self.takes_cheapest_shift(criterion) && notes > division.part {
            return Ok(vec![self.cheapest_in_parts(division)?]);
        }
        Ok(self.walk(criterion, None)?.best())
    }

    /// Looks at paths that may cost little more than the cheapest, then at dearer ones, until there are as many as are wanted.
    fn run_bounded(&self, criterion: Criterion) -> Result<Vec<Fingering>, usize> {
        let one = Criterion {
            count: 1,
            ..criterion
        };
        let least = self.walk(one, None)?.best()[0].cost;
        let to_go = CostsToGo::new(self);
        // The longer the line, the more paths cost little more than the cheapest.
        let mut more = AT_FIRST / self.line.notes().len() as f64;
        loop {
            let most = least + more;
            let walk = self.walk(criterion, Some((&to_go, just_above(most))))?;
            let found = walk.best();
            if walk.is_all()
                || found.len() == criterion.count && found.iter().all(|it| it.cost <= most)
            {
                return Ok(found);
            }
            more *= 2.0;
        }
    }

    /// A walk along all notes. With a bound, only the paths that cost at most so much in all are looked at.
    fn walk<'w>(
        &'w self,
        criterion: Criterion,
        most: Option<(&'w CostsToGo, f64)>,
    ) -> Result<Walk<'w>, usize> {
        let mut walk = Walk::new(self, criterion, most);
        walk.along(0..self.line.notes().len())?;
        Ok(walk)
    }
}

fn standing(weights: &Weights, pull: Option<&Pull>) -> StandingCosts {
    std::array::from_fn(|number| {
        let position = Position::new(number as u8);
        position.map_or(0.0, |position| {
            weights.total(|add| cost::standing(position, pull, add))
        })
    })
}

#[cfg(test)]
mod tests;
