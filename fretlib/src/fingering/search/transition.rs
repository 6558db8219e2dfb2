//! The transition from one note to the next.

use super::super::FingeredNote;
use super::super::candidates::{Candidate, Candidates};
use super::super::cost;
use super::super::hand_state::{HandState, NoteContext};
use super::super::term::Term;
use super::frontier::{Frontier, Node, place_mark};
use super::shift_costs::{Cheapest, MoveCost, ShiftCosts};
use super::{Criterion, Search};

/// The transition to one note, as far as it is the same for all its candidates.
pub(super) struct Transition<'a> {
    search: &'a Search<'a>,
    criterion: Criterion,
    context: NoteContext,
    /// The nodes and candidates of the previous note.
    before: &'a Frontier,
    candidates: &'a Candidates,
    /// Cost of moving the hand after a stopped and an open string.
    moves: [MoveCost; 2],
    /// Cost of crossing strings, by their number.
    across: [f64; 12],
    scratch: &'a mut Scratch,
}

/// Scratch buffers, reused from note to note.
#[derive(Default)]
pub(super) struct Scratch {
    /// Used when only the cheapest shift to a candidate is needed.
    shift_costs: ShiftCosts,
    /// The nodes a shift may start from, when more than the cheapest is needed.
    departures: Vec<u32>,
    paths: Vec<u64>,
}

impl<'a> Transition<'a> {
    /// To the note `index`, which is not the first.
    pub(super) fn new(
        search: &'a Search<'a>,
        criterion: Criterion,
        index: usize,
        before: &'a Frontier,
        scratch: &'a mut Scratch,
    ) -> Transition<'a> {
        let weights = search.weights;
        let on_beat = search.line.notes()[index].on_beat;
        let moves = [false, true].map(|open| {
            let hurry = cost::hurry(search.line, index, open);
            let price = |distance| weights.total(|add| cost::moving(on_beat, hurry, distance, add));
            MoveCost {
                start: price(0),
                fret: price(1) - price(0),
            }
        });
        let across = std::array::from_fn(|strings| {
            weights.total(|add| cost::across(search.line, index, strings as u8, add))
        });
        let mut transition = Transition {
            search,
            criterion,
            context: NoteContext::new(search.line, index),
            before,
            candidates: search.candidates(index - 1),
            moves,
            across,
            scratch,
        };
        if search.takes_cheapest_shift(criterion) {
            transition.find_cheapest_shifts(search.candidates(index));
        } else {
            transition.find_departures();
        }
        transition
    }

    fn find_cheapest_shifts(&mut self, to: &Candidates) {
        let costs = &mut self.scratch.shift_costs;
        costs.clear();
        // The finger that leaves matters only for a guide finger; otherwise one node per place is enough.
        for spot in &self.candidates.spots {
            let nodes = spot
                .clone()
                .filter_map(|candidate| self.before.cheapest(candidate));
            if let Some((back, node)) =
                nodes.min_by(|one, other| one.1.cost.total_cmp(&other.1.cost))
            {
                costs.leave(back, node);
            }
        }
        let mut leave = self.across;
        let shift_across = self.search.weights.get(Term::ShiftAcross);
        leave[1..].iter_mut().for_each(|it| *it += shift_across);
        for (string, positions) in &to.strings {
            let leave = |from: u8| leave[usize::from(from.abs_diff(*string))];
            costs.reach(*string, leave, self.moves, positions);
        }
    }

    /// A shift resets the state of the hand, so only the cheapest nodes of a candidate matter.
    fn find_departures(&mut self) {
        let Scratch {
            departures, paths, ..
        } = &mut *self.scratch;
        departures.clear();
        let most = self.search.constraints.max_shifts;
        for candidate in 0..self.candidates.all.len() {
            paths.clear();
            for (back, node) in self.before.of_candidates(candidate..candidate + 1) {
                match most {
                    Some(most) if node.shifts >= most => continue,
                    Some(_) => {}
                    None if paths.contains(&node.path) => continue,
                    None if paths.len() == self.criterion.count => break,
                    None => paths.push(node.path),
                }
                departures.push(back);
            }
        }
    }

    /// Adds every way to reach a candidate, which costs `own` by itself.
    pub(super) fn come_to(&self, candidate: &Candidate, own: f64, frontier: &mut Frontier) {
        let note = &candidate.note;
        if self.search.takes_cheapest_shift(self.criterion) {
            let shift = self.cheapest_shift(note, own);
            if shift.cost < f64::INFINITY {
                frontier.add(self.node(note, shift));
            }
            self.stay(note, own, shift.cost, frontier);
        } else {
            self.every_shift(note, own, frontier);
            self.stay(note, own, f64::INFINITY, frontier);
        }
    }

    /// The ways to play `note` without a shift that cost less than `enough`.
    fn stay(&self, note: &FingeredNote, own: f64, enough: f64, frontier: &mut Frontier) {
        let Search { spans, weights, .. } = self.search;
        for (back, node) in self
            .before
            .of_candidates(self.candidates.in_position(note.position))
        {
            let mut moment = own + self.across(&node.note, note);
            if self.criterion.combine.join(node.cost, moment) >= enough {
                continue;
            }
            let add = |term, amount| moment += weights.get(term) * amount;
            let reached = cost::staying(spans, &self.context, &node.state, note, add);
            if reached && moment <= self.criterion.cap {
                frontier.add(Node {
                    note: *note,
                    state: node.state.then(&self.context, note),
                    shifts: node.shifts,
                    cost: self.criterion.combine.join(node.cost, moment),
                    path: place_mark(node.path, note),
                    back,
                });
            }
        }
    }

    /// The cheapest shift to `note`.
    fn cheapest_shift(&self, note: &FingeredNote, own: f64) -> Cheapest {
        let mut best = self.scratch.shift_costs.to(note.position, note.place);
        if let Some(finger) = note.finger {
            let guide = self.across[0] + self.search.weights.get(Term::Guide);
            let [stopped, _] = self.moves;
            for &held in self.candidates.held_by(note.place.string, finger) {
                let from = self.candidates.all[held].note.position;
                if from == note.position {
                    continue;
                }
                let Some((back, node)) = self.before.cheapest(held) else {
                    continue;
                };
                let distance = f64::from(from.get().abs_diff(note.position.get()));
                best.or(
                    node.cost + guide + stopped.start + distance * stopped.fret,
                    back,
                );
            }
        }
        best.cost += own;
        best
    }

    /// All shifts to `note`.
    fn every_shift(&self, note: &FingeredNote, own: f64, frontier: &mut Frontier) {
        let weights = self.search.weights;
        for &back in &self.scratch.departures {
            let node = &self.before.nodes()[back as usize];
            if node.note.position == note.position {
                continue;
            }
            let moves = self.moves[usize::from(node.note.finger.is_none())];
            let distance = node.note.position.get().abs_diff(note.position.get());
            let mut moment = own
                + self.across(&node.note, note)
                + moves.start
                + f64::from(distance) * moves.fret;
            cost::landing(&node.note, note, |term, amount| {
                moment += weights.get(term) * amount
            });
            if moment <= self.criterion.cap {
                let cost = self.criterion.combine.join(node.cost, moment);
                frontier.add(self.node(note, Cheapest { cost, back }));
            }
        }
    }

    /// The node after a shift.
    fn node(&self, note: &FingeredNote, shift: Cheapest) -> Node {
        let before = &self.before.nodes()[shift.back as usize];
        Node {
            note: *note,
            state: HandState::first(&self.context, note),
            shifts: before.shifts + u8::from(self.search.constraints.max_shifts.is_some()),
            cost: shift.cost,
            path: place_mark(before.path, note),
            back: shift.back,
        }
    }

    fn across(&self, from: &FingeredNote, to: &FingeredNote) -> f64 {
        self.across[usize::from(from.place.string.get().abs_diff(to.place.string.get()))]
    }
}
