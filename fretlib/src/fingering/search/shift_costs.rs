//! The cheapest shift to every position at once.

use std::ops::RangeInclusive;

use super::super::FingeredNote;
use super::step::MoveCost;
use crate::neck::{Place, Position};

/// The number of positions, including an unused index 0.
const POSITIONS: usize = Position::HIGHEST as usize + 1;

/// A cost, and the index of the node it starts from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cheapest {
    pub(super) cost: f64,
    pub(super) back: u32,
}

impl Cheapest {
    pub(super) const NONE: Cheapest = Cheapest {
        cost: f64::INFINITY,
        back: 0,
    };

    pub(super) fn or(&mut self, cost: f64, back: u32) {
        // Two selections are faster than a branch, which could not be predicted.
        let cheaper = cost < self.cost;
        self.cost = if cheaper { cost } else { self.cost };
        self.back = if cheaper { back } else { self.back };
    }
}

/// The cheapest shift to each position of each string, from the nodes of the note before.
///
/// The cost of a shift is linear in its distance. So the cheapest shift from below grows by one fret's cost from
/// position to position until a cheaper start is met, and likewise from above. Two passes along the neck find all. The
/// tables are reused from note to note.
#[derive(Default)]
pub(super) struct ShiftCosts {
    departures: Vec<Departure>,
    /// The highest position that a stopped and an open string are left from; 0 for none.
    highest: [usize; 2],
    /// By the target string of the shift.
    strings: Vec<[Cheapest; POSITIONS]>,
}

#[derive(Clone, Copy)]
struct Departure {
    cost: f64,
    back: u32,
    string: u8,
    position: u8,
    open: bool,
}

impl ShiftCosts {
    pub(super) fn clear(&mut self) {
        self.departures.clear();
        self.highest = [0; 2];
    }

    /// Adds a note from which the hand may shift, at a cost so far.
    pub(super) fn leave(&mut self, cost: f64, back: u32, note: &FingeredNote, open: bool) {
        let position = note.position.get();
        let highest = &mut self.highest[usize::from(open)];
        *highest = usize::from(position).max(*highest);
        self.departures.push(Departure {
            cost,
            back,
            string: note.place.string.get(),
            position,
            open,
        });
    }

    /// Finds the cheapest shifts to the positions `to` of a string.
    ///
    /// `leave` is the cost of leaving each string, without the move of the hand; `moves` has the cost of the move after
    /// a stopped and an open string.
    pub(super) fn reach(
        &mut self,
        string: u8,
        leave: impl Fn(u8) -> f64,
        moves: [MoveCost; 2],
        to: &RangeInclusive<Position>,
    ) {
        let slot = usize::from(string);
        if self.strings.len() <= slot {
            self.strings.resize(slot + 1, [Cheapest::NONE; POSITIONS]);
        }
        let mut starts = [[Cheapest::NONE; POSITIONS]; 2];
        for it in &self.departures {
            starts[usize::from(it.open)][usize::from(it.position)]
                .or(it.cost + leave(it.string), it.back);
        }
        let cheapest = &mut self.strings[slot];
        let (first, last) = (usize::from(to.start().get()), usize::from(to.end().get()));
        cheapest[first..=last].fill(Cheapest::NONE);
        for ((starts, moves), highest) in starts.iter().zip(moves).zip(self.highest) {
            if highest > 0 {
                walk(starts[1..=last].iter().zip(&mut cheapest[1..=last]), moves);
                let down = first.min(highest)..=highest;
                let down = starts[down.clone()].iter().zip(&mut cheapest[down]);
                walk(down.rev(), moves);
            }
        }
    }

    /// The cheapest shift to a place.
    pub(super) fn to(&self, position: Position, place: Place) -> Cheapest {
        self.strings[usize::from(place.string.get())][usize::from(position.get())]
    }
}

/// Carries the cheapest start so far along the positions, one fret's cost dearer at each.
fn walk<'a>(positions: impl Iterator<Item = (&'a Cheapest, &'a mut Cheapest)>, moves: MoveCost) {
    let mut nearest = Cheapest::NONE;
    for (start, cheapest) in positions {
        cheapest.or(nearest.cost + moves.start, nearest.back);
        nearest.or(start.cost, start.back);
        nearest.cost += moves.fret;
    }
}
