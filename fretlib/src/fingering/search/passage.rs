//! Going from one note to the next.

use super::super::Step;
use super::super::cost;
use super::super::memory::{Past, Recall};
use super::super::term::Term;
use super::arrivals::{Arrival, Arrivals, Departures, Move};
use super::frontier::{Frontier, Node, place_mark};
use super::{Menu, Quest, Search};

/// The passage to one note: what is the same for all its steps.
pub(super) struct Passage<'a> {
    search: &'a Search<'a>,
    quest: Quest,
    recall: Recall,
    /// The nodes of the note before, and the steps they are nodes of.
    before: &'a Frontier,
    menu: &'a Menu,
    /// What moving the hand costs after a stopped and after an open string.
    moves: [Move; 2],
    /// Cost of going so many strings over.
    across: [f64; 12],
    /// True when of all ways to move to a step only the cheapest is wanted.
    one_is_enough: bool,
    /// The cheapest shifts to each string of the note, when no others are wanted.
    room: Room,
}

/// Room for what is found out anew for every note, handed from passage to passage.
#[derive(Default)]
pub(super) struct Room {
    departures: Departures,
    /// By string.
    arrivals: Vec<Arrivals>,
}

impl<'a> Passage<'a> {
    /// To the note `index`, which is not the first.
    pub(super) fn new(
        search: &'a Search<'a>,
        quest: Quest,
        index: usize,
        before: &'a Frontier,
        room: Room,
    ) -> Passage<'a> {
        let on_beat = search.line.notes()[index].on_beat;
        let moves = [false, true].map(|open| {
            let hurry = cost::hurry(search.line, index, open);
            let price = |distance| {
                search
                    .weights
                    .total(|add| cost::moving(on_beat, hurry, distance, add))
            };
            Move {
                start: price(0),
                fret: price(1) - price(0),
            }
        });
        let across = std::array::from_fn(|strings| {
            search
                .weights
                .total(|add| cost::across(search.line, index, strings as u8, add))
        });
        let mut passage = Passage {
            search,
            quest,
            recall: Recall::new(search.line, index),
            before,
            menu: search.menu(index - 1),
            moves,
            across,
            one_is_enough: search.one_is_enough(quest),
            room,
        };
        if passage.one_is_enough {
            passage.find_arrivals(search.menu(index));
        }
        passage
    }

    /// Gives the room back.
    pub(super) fn into_room(self) -> Room {
        self.room
    }

    fn find_arrivals(&mut self, menu: &Menu) {
        let Room {
            departures,
            arrivals,
        } = &mut self.room;
        departures.clear();
        // The finger that is left makes no difference but where it leads: of those at one place one is enough.
        for spot in &self.menu.spots {
            let nodes = spot.clone().filter_map(|step| self.before.cheapest(step));
            if let Some((back, node)) =
                nodes.min_by(|one, other| one.1.cost.total_cmp(&other.1.cost))
            {
                departures.add(back, node);
            }
        }
        let mut leave = self.across;
        let shift_across = self.search.weights.get(Term::ShiftAcross);
        leave[1..].iter_mut().for_each(|it| *it += shift_across);
        for (string, to) in &menu.strings {
            let slot = usize::from(*string);
            if arrivals.len() <= slot {
                arrivals.resize(slot + 1, Arrivals::NONE);
            }
            let leave = |from: u8| leave[usize::from(from.abs_diff(*string))];
            arrivals[slot].renew(departures, leave, self.moves, to);
        }
    }

    /// Adds every way to `step`, which costs `own` in itself.
    pub(super) fn come_to(&self, step: &Step, own: f64, frontier: &mut Frontier) {
        if self.one_is_enough {
            let arrival = self.cheapest_shift(step, own);
            if arrival.cost < f64::INFINITY {
                frontier.add(self.node(step, arrival));
            }
            self.stay(step, own, arrival.cost, frontier);
        } else {
            self.every_shift(step, own, frontier);
            self.stay(step, own, f64::INFINITY, frontier);
        }
    }

    /// The ways to play `step` from where the hand is, unless they cost `enough`.
    fn stay(&self, step: &Step, own: f64, enough: f64, frontier: &mut Frontier) {
        let search = self.search;
        for (back, node) in self.before.of_steps(self.menu.from(step.position)) {
            let mut moment = own + self.across(&node.step, step);
            if self.quest.sum.join(node.cost, moment) >= enough {
                continue;
            }
            let reached = cost::staying(
                &search.spans,
                &self.recall,
                &node.past,
                step,
                |term, amount| moment += search.weights.get(term) * amount,
            );
            if reached && moment <= self.quest.cap {
                frontier.add(Node {
                    step: *step,
                    past: node.past.then(&self.recall, step),
                    shifts: node.shifts,
                    cost: self.quest.sum.join(node.cost, moment),
                    path: place_mark(node.path, step),
                    back,
                });
            }
        }
    }

    /// The cheapest way to come to `step` from another position.
    fn cheapest_shift(&self, step: &Step, own: f64) -> Arrival {
        let string = usize::from(step.place.string.get());
        let mut best = self.room.arrivals[string].at(step.position);
        if let Some(finger) = step.finger {
            let guide = self.across[0] + self.search.weights.get(Term::Guide);
            let [stopped, _] = self.moves;
            for &held in self.menu.held_by(step.place.string, finger) {
                let from = self.menu.choices[held].step.position;
                if from == step.position {
                    continue;
                }
                let Some((back, node)) = self.before.cheapest(held) else {
                    continue;
                };
                let distance = f64::from(from.get().abs_diff(step.position.get()));
                best.or(
                    node.cost + guide + stopped.start + distance * stopped.fret,
                    back,
                );
            }
        }
        best.plus(own)
    }

    /// The ways to come to `step` from another position.
    fn every_shift(&self, step: &Step, own: f64, frontier: &mut Frontier) {
        let search = self.search;
        for (back, node) in self.before.nodes().iter().enumerate() {
            if node.step.position == step.position
                || search
                    .limits
                    .max_shifts
                    .is_some_and(|most| node.shifts >= most)
            {
                continue;
            }
            let moves = self.moves[usize::from(node.step.finger.is_none())];
            let distance = node.step.position.get().abs_diff(step.position.get());
            let mut moment = own
                + self.across(&node.step, step)
                + moves.start
                + f64::from(distance) * moves.fret;
            cost::landing(&node.step, step, |term, amount| {
                moment += search.weights.get(term) * amount
            });
            if moment <= self.quest.cap {
                frontier.add(self.node(
                    step,
                    Arrival {
                        cost: self.quest.sum.join(node.cost, moment),
                        back: back as u32,
                    },
                ));
            }
        }
    }

    /// The node after a shift.
    fn node(&self, step: &Step, arrival: Arrival) -> Node {
        let before = &self.before.nodes()[arrival.back as usize];
        Node {
            step: *step,
            past: Past::first(&self.recall, step),
            shifts: if self.search.limits.max_shifts.is_some() {
                before.shifts + 1
            } else {
                0
            },
            cost: arrival.cost,
            path: place_mark(before.path, step),
            back: arrival.back,
        }
    }

    fn across(&self, from: &Step, to: &Step) -> f64 {
        self.across[usize::from(from.place.string.get().abs_diff(to.place.string.get()))]
    }
}
