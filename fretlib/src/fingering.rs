//! The best way along the neck: a string, a fret, a finger and a hand position for every note.
//!
//! A [`Line`] is what a hand must know of a melody; [`find`] takes the cheapest way through it that keeps the [`Limits`].
//! What is cheap is said by the [`Term`]s and their [`Weights`]. The search is exact: no way through the melody costs less
//! than the one found.

#[cfg(test)]
mod common_practice;
mod cost;
mod limits;
mod line;
mod memory;
mod search;
mod shift;
mod term;

pub use cost::explain;
pub use limits::{Impossible, Limits, Relief};
pub use line::{Line, LineNote};
pub use search::{Aim, Leaning, easiest, find, find_leaning};
pub use shift::{Ease, Shift, shifts};
pub use term::{Term, Weights};

use crate::neck::{Finger, Hand, Instrument, Place, Position};
use crate::theory::MidiNumber;

/// How one note is played.
///
/// The position is kept through open strings: that is where the hand waits.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Step {
    /// Where the hand stands.
    pub position: Position,
    /// The string and the fret.
    pub place: Place,
    /// The finger; `None` on an open string.
    pub finger: Option<Finger>,
}

/// A way through a melody, a step for every note.
#[derive(Clone, Debug, PartialEq)]
pub struct Fingering {
    /// One for each note, in order.
    pub steps: Vec<Step>,
    /// The sum of all terms over all notes; the same sum whatever the search aimed at.
    pub cost: f64,
}

impl Fingering {
    /// The indices of the notes at which the hand has come to another position.
    pub fn shifts(&self) -> impl Iterator<Item = usize> + '_ {
        (1..self.steps.len())
            .filter(|index| self.steps[*index].position != self.steps[index - 1].position)
    }

    /// The seconds the hand would have to move before the note `index` of this line; nothing before the first.
    pub fn time_to_move(&self, line: &Line, index: usize) -> f64 {
        match index {
            0 => 0.0,
            _ => cost::time_to_move(line, index, self.steps[index - 1].finger.is_none()),
        }
    }
}

/// Who plays on what.
#[derive(Clone, Copy, Debug)]
pub struct Player<'a> {
    /// The instrument.
    pub instrument: &'a Instrument,
    /// The fretting hand.
    pub hand: Hand,
}

impl Player<'_> {
    /// Every way to play a note (its MIDI number, written pitch) from any position.
    ///
    /// Fingers stand a fret apart. Where the fourth finger or its neighbour may come down a fret early, as editors print
    /// it near the nut, that is offered too. Common practice, no source.
    pub fn steps_for(&self, midi: MidiNumber) -> Vec<Step> {
        let mut steps = Vec::new();
        for place in self.instrument.places_for(midi) {
            for position in self.instrument.positions() {
                if place.fret.get() == 0 {
                    steps.push(Step {
                        position,
                        place,
                        finger: None,
                    });
                    continue;
                }
                let fingers: &[Finger] =
                    match i16::from(place.fret.get()) - i16::from(position.get()) {
                        -1 => &[Finger::First],
                        0 => &[Finger::First, Finger::Second],
                        1 => &[Finger::Second, Finger::Third],
                        2 => &[Finger::Third, Finger::Fourth],
                        3 | 4 => &[Finger::Fourth],
                        _ => &[],
                    };
                steps.extend(fingers.iter().map(|finger| Step {
                    position,
                    place,
                    finger: Some(*finger),
                }));
            }
        }
        steps
    }
}
