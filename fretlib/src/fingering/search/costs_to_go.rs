//! What the rest of a line costs at least, found from its end.

use super::super::candidates::Candidate;
use super::super::cost;
use super::super::hand_state::{HandState, NoteContext};
use super::Search;
use super::shift_costs::ShiftCosts;
use super::step::Step;

/// For every candidate of every note, a lower bound for the cost of all notes after it.
///
/// One walk back along the notes, as the search goes forward, but with less to remember: of the hand only what it does at
/// one note. What is left out, the strings of earlier notes and the finger before an open string, can only make notes
/// dearer. A path that costs too much together with its bound cannot be among the best.
pub(super) struct CostsToGo {
    costs: Vec<f64>,
    /// Where the candidates of each note begin.
    starts: Vec<usize>,
}

impl CostsToGo {
    /// Longer lines take too much room for it: a number for every candidate of every note.
    pub(super) const LONGEST: usize = 20_000;

    pub(super) fn new(search: &Search) -> CostsToGo {
        let notes = search.line.notes().len();
        let mut starts = vec![0];
        for index in 0..notes {
            starts.push(starts[index] + search.candidates(index).all.len());
        }
        let mut to_go = CostsToGo {
            costs: vec![0.0; starts[notes]],
            starts,
        };
        let mut shifts = [ShiftCosts::default(), ShiftCosts::default()];
        let mut arrivals = Vec::new();
        for index in (1..notes).rev() {
            arrivals.clear();
            arrivals.extend(
                search
                    .ways(index)
                    .zip(to_go.after(index))
                    .map(|((_, own), after)| match own {
                        Some(own) => own + after,
                        None => f64::INFINITY,
                    }),
            );
            let costs = to_go.starts[index - 1]..to_go.starts[index];
            search.go_back(index, &arrivals, &mut shifts, &mut to_go.costs[costs]);
        }
        to_go
    }

    /// The bounds of the candidates of a note, in their order.
    pub(super) fn after(&self, index: usize) -> &[f64] {
        &self.costs[self.starts[index]..self.starts[index + 1]]
    }
}

impl Search<'_> {
    /// Finds what each candidate of the note before `index` has to go, from the cost of arriving at each one of the note.
    fn go_back(
        &self,
        index: usize,
        arrivals: &[f64],
        shifts: &mut [ShiftCosts; 2],
        to_go: &mut [f64],
    ) {
        let step = Step::to(self, index);
        let context = NoteContext::new(self.line, index - 1);
        let (from, to) = (self.candidates(index - 1), self.candidates(index));
        for (shifts, moves) in shifts.iter_mut().zip(step.moves) {
            shifts.clear();
            for (candidate, cost) in to.all.iter().zip(arrivals) {
                if *cost < f64::INFINITY {
                    shifts.leave(*cost, 0, &candidate.note, false);
                }
            }
            for (string, positions) in &from.strings {
                let leave = |other: u8| step.shift_across(string.abs_diff(other));
                shifts.reach(*string, leave, [moves; 2], positions);
            }
        }
        for (Candidate { note, .. }, to_go) in from.all.iter().zip(to_go) {
            let shifts = &shifts[usize::from(note.finger.is_none())];
            let mut least = shifts.to(note.position, note.place).cost;
            if let Some(finger) = note.finger {
                for &held in to.held_by(note.place.string, finger) {
                    let position = to.all[held].note.position;
                    if position != note.position {
                        let distance = note.position.get().abs_diff(position.get());
                        least = least.min(arrivals[held] + step.guided(distance));
                    }
                }
            }
            let state = HandState::first(&context, note);
            for staying in to.in_position(note.position) {
                let next = &to.all[staying].note;
                let mut cost = arrivals[staying] + step.across(note, next);
                if cost >= least {
                    continue;
                }
                let add = |term, amount| cost += self.weights.get(term) * amount;
                if cost::staying(&self.spans, &step.context, &state, next, add) {
                    least = least.min(cost);
                }
            }
            *to_go = least;
        }
    }
}
