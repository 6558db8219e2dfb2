//! The melody notes between two voicings, played on their own.

use super::grip::Reaches;
use super::voicing::FingeredPlace;
use super::voicing_cost::{VoicingTerm, VoicingWeights, hurry};
use crate::neck::{Fret, Instrument, Position};
use crate::theory::MidiNumber;

/// The size of tables by position: 0 for a hand without a position yet, then 1 to 36.
pub(super) const POSITIONS: usize = Fret::HIGHEST as usize + 1;

/// A way to play a melody note on its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BareStep {
    pub(super) position: u8,
    pub(super) at: FingeredPlace,
    is_stretch: bool,
}

impl BareStep {
    /// Every way to play a MIDI number from any position; open strings from all of them.
    pub(super) fn all(instrument: &Instrument, midi: MidiNumber) -> Vec<BareStep> {
        let mut steps = Vec::new();
        for place in instrument.places_for(midi) {
            for position in instrument.positions() {
                let step = |finger, is_stretch| BareStep {
                    position: position.get(),
                    at: FingeredPlace { place, finger },
                    is_stretch,
                };
                if place.fret == Fret::OPEN {
                    steps.push(step(None, false));
                } else if let Some((finger, is_stretch)) = stopped(position, place.fret) {
                    steps.push(step(Some(finger), is_stretch));
                }
            }
        }
        steps
    }

    /// Adds the terms of a single step, after a step on another string or as the first.
    pub(super) fn terms(&self, before: Option<&BareStep>, mut add: impl FnMut(VoicingTerm, f64)) {
        if self.is_stretch {
            add(VoicingTerm::PassingStretch, 1.0);
        }
        if self.at.finger.is_none() && self.position > 7 {
            add(VoicingTerm::OpenHigh, 1.0);
        }
        add(
            VoicingTerm::HighHand,
            f64::from(self.position.saturating_sub(9)),
        );
        if let Some(before) = before {
            let strings = before
                .at
                .place
                .string
                .get()
                .abs_diff(self.at.place.string.get());
            add(VoicingTerm::PassingString, f64::from(strings));
        }
    }
}

fn stopped(position: Position, fret: Fret) -> Option<(crate::neck::Finger, bool)> {
    let (reach, finger) = position.reach(fret)?;
    Some((finger?, reach == crate::neck::Reach::Stretch))
}

/// The bare notes between two voicings, or before the first or after the last.
pub(super) struct BareNotes<'a> {
    /// Ways to play each note.
    pub(super) steps: Vec<&'a [BareStep]>,
    /// The seconds for moving to each note, and finally to what follows them.
    pub(super) seconds: Vec<f64>,
    /// True when a voicing follows.
    pub(super) leads_on: bool,
}

/// The cost of moving from one position to another through the bare notes.
pub(super) struct PassageCosts(Vec<f64>);

impl PassageCosts {
    pub(super) fn get(&self, from: u8, to: u8) -> f64 {
        self.0[usize::from(from) * POSITIONS + usize::from(to)]
    }
}

/// The distance that the hand moves, in millimetres; 0 when it has no position before or after.
pub(super) fn travel(reaches: &Reaches, from: u8, to: u8) -> f64 {
    if from == 0 || to == 0 {
        0.0
    } else {
        reaches.between(from, to)
    }
}

impl BareNotes<'_> {
    /// The cheapest path from each of `from` to each of `to`.
    pub(super) fn costs(
        &self,
        reaches: &Reaches,
        weights: &VoicingWeights,
        from: &[u8],
        to: &[u8],
    ) -> PassageCosts {
        let mut table = vec![0.0; POSITIONS * POSITIONS];
        for start in from {
            let last = self.reached(reaches, weights, *start, |_, _| {});
            for end in to {
                let cost = match &last {
                    None => self.moving(reaches, weights, 0, *start, *end),
                    Some(last) => self.cheapest(reaches, weights, last, *end).1,
                };
                table[usize::from(*start) * POSITIONS + usize::from(*end)] = cost;
            }
        }
        PassageCosts(table)
    }

    /// The steps of the cheapest path.
    pub(super) fn path(
        &self,
        reaches: &Reaches,
        weights: &VoicingWeights,
        from: u8,
        to: u8,
    ) -> Vec<BareStep> {
        let mut back: Vec<Vec<usize>> = vec![Vec::new(); self.steps.len()];
        let Some(last) = self.reached(reaches, weights, from, |note, before: usize| {
            back[note].push(before)
        }) else {
            return Vec::new();
        };
        let mut at = self.cheapest(reaches, weights, &last, to).0;
        let mut path = Vec::with_capacity(self.steps.len());
        for note in (0..self.steps.len()).rev() {
            path.push(self.steps[note][at]);
            at = back[note][at];
        }
        path.reverse();
        path
    }

    fn moving(
        &self,
        reaches: &Reaches,
        weights: &VoicingWeights,
        note: usize,
        from: u8,
        to: u8,
    ) -> f64 {
        let is_last = note == self.steps.len();
        if is_last && !self.leads_on {
            return 0.0;
        }
        weights.get(VoicingTerm::Travel) * hurry(self.seconds[note]) * travel(reaches, from, to)
    }

    /// The last step and the cost of the cheapest path that ends in `to`.
    fn cheapest(
        &self,
        reaches: &Reaches,
        weights: &VoicingWeights,
        last: &[f64],
        to: u8,
    ) -> (usize, f64) {
        let count = self.steps.len();
        let steps = self.steps[count - 1];
        let costs = steps
            .iter()
            .zip(last)
            .map(|(step, cost)| cost + self.moving(reaches, weights, count, step.position, to));
        costs.enumerate().fold(
            (0, f64::INFINITY),
            |best, it| if it.1 < best.1 { it } else { best },
        )
    }

    /// The cheapest cost of each step of the last note; `came_from` is told the predecessor of every step.
    fn reached(
        &self,
        reaches: &Reaches,
        weights: &VoicingWeights,
        from: u8,
        mut came_from: impl FnMut(usize, usize),
    ) -> Option<Vec<f64>> {
        let cost = |step: &BareStep, before: Option<&BareStep>| {
            let mut sum = 0.0;
            step.terms(before, |term, amount| sum += weights.get(term) * amount);
            sum
        };
        let mut costs: Vec<f64> = Vec::new();
        for (note, steps) in self.steps.iter().enumerate() {
            let mut here = Vec::with_capacity(steps.len());
            for step in *steps {
                if note == 0 {
                    here.push(
                        cost(step, None) + self.moving(reaches, weights, 0, from, step.position),
                    );
                    came_from(0, 0);
                    continue;
                }
                let ways = self.steps[note - 1]
                    .iter()
                    .zip(&costs)
                    .map(|(before, so_far)| {
                        so_far
                            + cost(step, Some(before))
                            + self.moving(reaches, weights, note, before.position, step.position)
                    });
                let best = ways.enumerate().fold((0, f64::INFINITY), |best, it| {
                    if it.1 < best.1 { it } else { best }
                });
                here.push(best.1);
                came_from(note, best.0);
            }
            costs = here;
        }
        (!self.steps.is_empty()).then_some(costs)
    }
}
