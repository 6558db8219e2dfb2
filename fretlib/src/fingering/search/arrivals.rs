//! The cheapest shift to every position at once.

use std::ops::RangeInclusive;

use super::frontier::Node;
use crate::neck::Position;

/// How many positions there may be, counted from 0, which none has.
const POSITIONS: usize = Position::HIGHEST as usize + 1;

/// What moving the hand costs at one moment, by whether it leaves an open string.
#[derive(Clone, Copy)]
pub(super) struct Move {
    /// Whatever the distance.
    pub(super) start: f64,
    /// For every fret.
    pub(super) fret: f64,
}

/// The cheapest way to come to each position of a string from another position.
///
/// What a shift costs rises with the distance by the fret, so the cheapest from below grows by one fret's cost from
/// position to position until a cheaper start is met; likewise from above. Two walks along the neck find all.
#[derive(Clone)]
pub(super) struct Arrivals {
    /// The cheapest departure from each position, from a stopped and from an open string.
    starts: [[Arrival; POSITIONS]; 2],
    cheapest: [Arrival; POSITIONS],
}

/// A cost, and the index of the node it begins at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Arrival {
    pub(super) cost: f64,
    pub(super) back: u32,
}

impl Arrival {
    pub(super) const NONE: Arrival = Arrival {
        cost: f64::INFINITY,
        back: 0,
    };

    pub(super) fn or(&mut self, cost: f64, back: u32) {
        // Two selections rather than a branch: which of the two is cheaper cannot be foreseen.
        let cheaper = cost < self.cost;
        self.cost = if cheaper { cost } else { self.cost };
        self.back = if cheaper { back } else { self.back };
    }

    pub(super) fn plus(self, cost: f64) -> Arrival {
        Arrival {
            cost: self.cost + cost,
            ..self
        }
    }
}

/// The nodes that a shift may begin at.
#[derive(Default)]
pub(super) struct Departures {
    all: Vec<Departure>,
    /// The highest position that a stopped and an open string is left from, 0 when none is.
    highest: [usize; 2],
}

#[derive(Clone, Copy)]
struct Departure {
    cost: f64,
    back: u32,
    string: u8,
    position: u8,
    open: bool,
}

impl Departures {
    pub(super) fn clear(&mut self) {
        self.all.clear();
        self.highest = [0; 2];
    }

    pub(super) fn add(&mut self, back: u32, node: &Node) {
        let open = node.step.finger.is_none();
        let position = node.step.position.get();
        let highest = &mut self.highest[usize::from(open)];
        *highest = usize::from(position).max(*highest);
        self.all.push(Departure {
            cost: node.cost,
            back,
            string: node.step.place.string.get(),
            position,
            open,
        });
    }
}

impl Arrivals {
    pub(super) const NONE: Arrivals = Arrivals {
        starts: [[Arrival::NONE; POSITIONS]; 2],
        cheapest: [Arrival::NONE; POSITIONS],
    };

    /// Makes these the ways from `departures` to the positions `to`.
    ///
    /// `leave` is what it costs to leave a string, apart from the move of the hand; `moves` is for leaving a stopped and an
    /// open string.
    pub(super) fn renew(
        &mut self,
        departures: &Departures,
        leave: impl Fn(u8) -> f64,
        moves: [Move; 2],
        to: &RangeInclusive<Position>,
    ) {
        let (first, last) = (usize::from(to.start().get()), usize::from(to.end().get()));
        let Arrivals { starts, cheapest } = self;
        for (starts, highest) in starts.iter_mut().zip(departures.highest) {
            starts[1..=last.max(highest)].fill(Arrival::NONE);
        }
        for it in &departures.all {
            starts[usize::from(it.open)][usize::from(it.position)]
                .or(it.cost + leave(it.string), it.back);
        }
        cheapest[first..=last].fill(Arrival::NONE);
        for ((starts, moves), highest) in starts.iter().zip(moves).zip(departures.highest) {
            if highest > 0 {
                walk(starts[1..=last].iter().zip(&mut cheapest[1..=last]), moves);
                let down = first.min(highest)..=highest;
                let down = starts[down.clone()].iter().zip(&mut cheapest[down]);
                walk(down.rev(), moves);
            }
        }
    }

    pub(super) fn at(&self, position: Position) -> Arrival {
        self.cheapest[usize::from(position.get())]
    }
}

/// Carries the cheapest start met so far along positions that follow one another, a fret dearer at each.
fn walk<'a>(positions: impl Iterator<Item = (&'a Arrival, &'a mut Arrival)>, moves: Move) {
    let mut nearest = Arrival::NONE;
    for (start, cheapest) in positions {
        cheapest.or(nearest.cost + moves.start, nearest.back);
        nearest.or(start.cost, start.back);
        nearest.cost += moves.fret;
    }
}
