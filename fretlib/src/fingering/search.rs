//! The cheapest way through a line, exactly.
//!
//! Dynamic programming over the notes. What the costs of later notes can depend on is a node: the step, what the hand
//! remembers since it last moved, and how often it has moved when that is limited. The hand forgets when it moves, so nodes
//! stay few and the work grows with the number of notes alone. Paths are settled as soon as all that are alive agree, so
//! memory stays small on the longest melody.

use std::collections::BTreeSet;

mod arrivals;
mod frontier;
mod menu;
mod passage;
mod trail;

use frontier::{Frontier, Node, place_mark};
use menu::Menu;
use passage::{Passage, Room};
use trail::Trail;

use super::cost::{self, Spans};
use super::limits::{Impossible, Limits};
use super::line::Line;
use super::memory::{Past, Recall};
use super::term::Weights;
use super::{Fingering, Player, Step};
use crate::melody::Melody;
use crate::theory::{MidiNumber, Octave};

/// What the best fingering is best at.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Aim {
    /// The least effort in all.
    #[default]
    Least,
    /// The easiest hardest moment; among equals the least effort in all.
    EasiestPeak,
}

/// An extra cost of a step at a note (its index), for learning weights.
pub type Leaning<'a> = &'a dyn Fn(usize, &Step) -> f64;

/// The `count` cheapest fingerings, best first, no two of them at the same places throughout.
///
/// Other fingers at the same places are not another fingering here. Fewer come back when there are fewer.
///
/// # Errors
///
/// When no fingering keeps the limits: the first note that cannot be had, and what would free it.
pub fn find(
    player: &Player,
    line: &Line,
    weights: &Weights,
    limits: &Limits,
    aim: Aim,
    count: usize,
) -> Result<Vec<Fingering>, Impossible> {
    let search = Search::new(player, line, weights, limits, None);
    let least = Quest {
        count: count.max(1),
        ..Quest::ONE
    };
    let outcome = match aim {
        Aim::Least => search.run(least),
        Aim::EasiestPeak => {
            let peak = Quest {
                sum: Sum::Peak,
                ..Quest::ONE
            };
            search.run(peak).and_then(|best| {
                // The same sums in another order may differ in their last digits.
                let peak = best[0].cost;
                search.run(Quest {
                    cap: peak + 1e-9 * peak.abs().max(1.0),
                    ..least
                })
            })
        }
    };
    outcome.map_err(|index| impossible(player, line, weights, limits, index))
}

/// The cheapest fingering of a melody moved by whole octaves, at its own tempo and with the weights that ship.
///
/// `None` when a note leaves the MIDI range or no fingering keeps the limits; [`find`] says which note is in the way.
pub fn easiest(
    player: &Player,
    melody: &Melody,
    octave: Octave,
    limits: &Limits,
) -> Option<Fingering> {
    let line = Line::new(melody, octave, None)?;
    let weights = Weights::default();
    find(player, &line, &weights, limits, Aim::Least, 1)
        .ok()?
        .pop()
}

/// The cheapest fingering when `leaning` is added to the cost of every step; `None` when there is none.
pub fn find_leaning(
    player: &Player,
    line: &Line,
    weights: &Weights,
    limits: &Limits,
    leaning: Leaning,
) -> Option<Fingering> {
    Search::new(player, line, weights, limits, Some(leaning))
        .run(Quest::ONE)
        .ok()?
        .pop()
}

fn impossible(
    player: &Player,
    line: &Line,
    weights: &Weights,
    limits: &Limits,
    index: usize,
) -> Impossible {
    let freed = |rest: &Limits| {
        let search = Search::new(player, line, weights, rest, None);
        search
            .run(Quest::ONE)
            .map_or_else(|stuck| stuck > index, |_| true)
    };
    Impossible {
        note: index + 1,
        midi: line.notes()[index].midi,
        reliefs: limits
            .without_each()
            .into_iter()
            .filter(|(_, rest)| freed(rest))
            .map(|(relief, _)| relief)
            .collect(),
    }
}

/// How the costs of moments make the cost of a path.
#[derive(Clone, Copy)]
enum Sum {
    Whole,
    Peak,
}

impl Sum {
    fn join(self, before: f64, moment: f64) -> f64 {
        match self {
            Sum::Whole => before + moment,
            Sum::Peak => before.max(moment),
        }
    }
}

/// What a run looks for.
#[derive(Clone, Copy)]
struct Quest {
    sum: Sum,
    /// No moment may be dearer.
    cap: f64,
    /// How many paths over different places are wanted.
    count: usize,
}

impl Quest {
    /// The one path with the least sum.
    const ONE: Quest = Quest {
        sum: Sum::Whole,
        cap: f64::INFINITY,
        count: 1,
    };
}

struct Search<'a> {
    spans: Spans,
    line: &'a Line,
    weights: &'a Weights,
    limits: &'a Limits,
    leaning: Option<Leaning<'a>>,
    /// By MIDI number.
    menus: Vec<Menu>,
}

impl<'a> Search<'a> {
    fn new(
        player: &Player,
        line: &'a Line,
        weights: &'a Weights,
        limits: &'a Limits,
        leaning: Option<Leaning<'a>>,
    ) -> Search<'a> {
        let pitches: BTreeSet<MidiNumber> = line.notes().iter().map(|note| note.midi).collect();
        let mut menus: Vec<Menu> = (0..128).map(|_| Menu::default()).collect();
        for midi in pitches {
            menus[usize::from(midi.get())] = Menu::new(player, weights, limits, midi);
        }
        Search {
            spans: Spans::new(player),
            line,
            weights,
            limits,
            leaning,
            menus,
        }
    }

    /// The steps for a note.
    fn menu(&self, index: usize) -> &Menu {
        &self.menus[usize::from(self.line.notes()[index].midi.get())]
    }

    /// True when of all ways to move to a step only the cheapest is wanted.
    fn one_is_enough(&self, quest: Quest) -> bool {
        matches!(quest.sum, Sum::Whole)
            && quest.cap == f64::INFINITY
            && quest.count == 1
            && self.limits.max_shifts.is_none()
    }

    /// The cheapest paths, none with a moment dearer than the cap; the index of the first note no path reaches otherwise.
    fn run(&self, quest: Quest) -> Result<Vec<Fingering>, usize> {
        let mut trail = Trail::default();
        let mut before = Frontier::new(quest.count);
        let mut frontier = Frontier::new(quest.count);
        let mut room = Room::default();
        let last = self.line.notes().len();
        for (index, note) in self.line.notes().iter().enumerate() {
            std::mem::swap(&mut before, &mut frontier);
            frontier.clear();
            let asked = self.limits.at(index + 1, last);
            let long = cost::is_long(note.seconds);
            let steps = self.menu(index).choices.iter().map(|choice| {
                let own =
                    choice.cost(long) + self.leaning.map_or(0.0, |it| it(index, &choice.step));
                (&choice.step, own)
            });
            if index == 0 {
                for (step, own) in steps {
                    if asked.is_none_or(|asked| asked.allow(step)) {
                        self.begin(quest, step, own, &mut frontier);
                    }
                    frontier.next_step();
                }
            } else {
                let passage = Passage::new(self, quest, index, &before, room);
                for (step, own) in steps {
                    if asked.is_none_or(|asked| asked.allow(step)) {
                        passage.come_to(step, own, &mut frontier);
                    }
                    frontier.next_step();
                }
                room = passage.into_room();
            }
            if frontier.nodes().is_empty() {
                return Err(index);
            }
            trail.push(frontier.nodes());
        }
        Ok(trail.best(frontier.nodes(), quest.count))
    }

    /// Adds the way to begin with a step.
    fn begin(&self, quest: Quest, step: &Step, cost: f64, frontier: &mut Frontier) {
        if cost <= quest.cap {
            frontier.add(Node {
                step: *step,
                past: Past::first(&Recall::new(self.line, 0), step),
                shifts: 0,
                cost,
                path: place_mark(0, step),
                back: 0,
            });
        }
    }
}

#[cfg(test)]
mod tests;
