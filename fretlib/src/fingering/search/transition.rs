//! The transition from one note to the next.

use super::super::FingeredNote;
use super::super::candidates::{Candidate, Candidates};
use super::super::cost;
use super::super::hand_state::HandState;
use super::frontier::{Frontier, Node, place_mark};
use super::shift_costs::{Cheapest, ShiftCosts};
use super::step::Step;
use super::{Criterion, Search};
use crate::neck::{Position, StringNumber};

/// The transition to one note, as far as it is the same for all its candidates.
pub(super) struct Transition<'a> {
    search: &'a Search<'a>,
    criterion: Criterion,
    step: Step,
    /// The least that any shift costs, apart from the note it comes to.
    least_shift: f64,
    /// The least of all ways to change the string or not.
    least_across: f64,
    /// The nodes and candidates of the previous note.
    before: &'a Frontier,
    candidates: &'a Candidates,
    scratch: &'a mut Scratch,
}

/// Scratch buffers, reused from note to note.
#[derive(Default)]
pub(super) struct Scratch {
    /// These two are used when only the cheapest shift to a candidate is needed.
    shift_costs: ShiftCosts,
    least_costs: LeastCosts,
    /// The nodes a shift may start from, when more than the cheapest is needed: by their costs when there are several for
    /// one candidate.
    departures: Vec<u32>,
    paths: Vec<u64>,
}

/// The least that the paths so far cost, so that notes need not be looked at one by one where even the cheapest costs too much.
struct LeastCosts {
    /// By the position that the hand stands in.
    standing: [f64; Position::HIGHEST as usize + 1],
    /// By the string that a finger holds.
    holding: [f64; StringNumber::MOST as usize + 1],
}

impl Default for LeastCosts {
    /// Without paths.
    fn default() -> LeastCosts {
        LeastCosts {
            standing: [f64::INFINITY; Position::HIGHEST as usize + 1],
            holding: [f64::INFINITY; StringNumber::MOST as usize + 1],
        }
    }
}

impl LeastCosts {
    fn add(&mut self, cost: f64, note: &FingeredNote) {
        let standing = &mut self.standing[usize::from(note.position.get())];
        *standing = standing.min(cost);
        if note.finger.is_some() {
            let holding = &mut self.holding[usize::from(note.place.string.get())];
            *holding = holding.min(cost);
        }
    }
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
        let step = Step::to(search, index);
        let mut transition = Transition {
            search,
            criterion,
            least_shift: step.least_shift(),
            least_across: step.least_across(),
            step,
            before,
            candidates: search.candidates(index - 1),
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
        let Scratch {
            shift_costs: costs,
            least_costs,
            ..
        } = &mut *self.scratch;
        costs.clear();
        *least_costs = LeastCosts::default();
        for node in self.before.nodes() {
            least_costs.add(node.cost, &node.note);
        }
        for (back, node) in cheapest_of_spots(self.candidates, self.before) {
            let is_open = node.note.finger.is_none();
            costs.leave(node.cost, back, &node.note, is_open);
        }
        for (string, positions) in &to.strings {
            let leave = |from: u8| self.step.shift_across(from.abs_diff(*string));
            costs.reach(*string, leave, self.step.moves, positions);
        }
    }

    /// A shift resets the state of the hand, so only the cheapest nodes of a candidate matter.
    fn find_departures(&mut self) {
        let Scratch {
            departures, paths, ..
        } = &mut *self.scratch;
        departures.clear();
        let most = self.search.constraints.max_shifts;
        if self.search.departs_by_spot(self.criterion) {
            let cheapest = cheapest_of_spots(self.candidates, self.before);
            departures.extend(cheapest.map(|(back, _)| back));
            return;
        }
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
        let cost = |back: &u32| self.before.nodes()[*back as usize].cost;
        departures.sort_unstable_by(|one, other| cost(one).total_cmp(&cost(other)));
    }

    /// Adds every way to reach a candidate, which costs `own` by itself.
    pub(super) fn come_to(&self, candidate: &Candidate, own: f64, frontier: &mut Frontier) {
        let note = &candidate.note;
        if self.search.takes_cheapest_shift(self.criterion) {
            let shift = self.cheapest_shift(note, own);
            if shift.cost < f64::INFINITY {
                frontier.add(self.node(note, shift));
            }
            let standing = self.scratch.least_costs.standing[usize::from(note.position.get())];
            if standing + own + self.least_across < shift.cost {
                self.stay(note, own, shift.cost, frontier);
            }
        } else {
            let shift = self.every_shift(note, own, frontier);
            self.stay(note, own, shift, frontier);
        }
    }

    /// The ways to play `note` without a shift that cost less than `enough`.
    fn stay(&self, note: &FingeredNote, own: f64, enough: f64, frontier: &mut Frontier) {
        let Search { spans, weights, .. } = self.search;
        for (back, node) in self
            .before
            .of_candidates(self.candidates.in_position(note.position))
        {
            let mut moment = own + self.step.across(&node.note, note);
            if self.criterion.combine.join(node.cost, moment) >= enough {
                continue;
            }
            let add = |term, amount| moment += weights.get(term) * amount;
            let reached = cost::staying(spans, &self.step.context, &node.state, note, add);
            if reached && moment <= self.criterion.cap {
                frontier.add(Node {
                    note: *note,
                    state: node.state.then(&self.step.context, note),
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
        let holding = self.scratch.least_costs.holding[usize::from(note.place.string.get())];
        if let Some(finger) = note.finger
            && holding + self.step.guided(1) < best.cost
        {
            for &held in self.candidates.held_by(note.place.string, finger) {
                let from = self.candidates.all[held].note.position;
                if from == note.position {
                    continue;
                }
                let Some((back, node)) = self.before.cheapest(held) else {
                    continue;
                };
                let distance = from.get().abs_diff(note.position.get());
                best.or(node.cost + self.step.guided(distance), back);
            }
        }
        best.cost += own;
        best
    }

    /// Adds the shifts to `note`: all of them, or the cheapest if one is enough, of which it returns the cost.
    fn every_shift(&self, note: &FingeredNote, own: f64, frontier: &mut Frontier) -> f64 {
        let weights = self.search.weights;
        let combine = self.criterion.combine;
        let mut best = Cheapest::NONE;
        let least = own + self.least_shift;
        if least > self.criterion.cap {
            return best.cost;
        }
        // Guide fingers need not be among the departures.
        let by_spot = self.search.departs_by_spot(self.criterion);
        let guides = match note.finger {
            Some(finger) if by_spot => self.candidates.held_by(note.place.string, finger),
            _ => &[],
        };
        let guides = guides.iter().filter_map(|held| self.before.cheapest(*held));
        let departures = self.scratch.departures.iter().copied();
        for back in departures.chain(guides.map(|(back, _)| back)) {
            let node = &self.before.nodes()[back as usize];
            if node.note.position == note.position {
                continue;
            }
            let at_least = combine.join(node.cost, least);
            if by_spot && at_least >= best.cost {
                continue;
            }
            if !by_spot && frontier.leaves_out(at_least) {
                break;
            }
            let moves = self.step.moves[usize::from(node.note.finger.is_none())];
            let distance = node.note.position.get().abs_diff(note.position.get());
            let mut moment = own + self.step.across(&node.note, note) + moves.over(distance);
            cost::landing(&node.note, note, |term, amount| {
                moment += weights.get(term) * amount
            });
            if moment <= self.criterion.cap {
                let cost = combine.join(node.cost, moment);
                match by_spot {
                    true => best.or(cost, back),
                    false => frontier.add(self.node(note, Cheapest { cost, back })),
                }
            }
        }
        if best.cost < f64::INFINITY {
            frontier.add(self.node(note, best));
        }
        best.cost
    }

    /// The node after a shift.
    fn node(&self, note: &FingeredNote, shift: Cheapest) -> Node {
        let before = &self.before.nodes()[shift.back as usize];
        Node {
            note: *note,
            state: HandState::first(&self.step.context, note),
            shifts: before.shifts + u8::from(self.search.constraints.max_shifts.is_some()),
            cost: shift.cost,
            path: place_mark(before.path, note),
            back: shift.back,
        }
    }
}

/// The cheapest node at each place in each position, with its index: which finger leaves makes no difference to a shift,
/// unless it guides.
fn cheapest_of_spots<'f>(
    candidates: &Candidates,
    before: &'f Frontier,
) -> impl Iterator<Item = (u32, &'f Node)> {
    candidates.spots.iter().filter_map(|spot| {
        let nodes = spot
            .clone()
            .filter_map(|candidate| before.cheapest(candidate));
        nodes.min_by(|one, other| one.1.cost.total_cmp(&other.1.cost))
    })
}
