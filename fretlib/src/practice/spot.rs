//! Where on the neck a melody is asked.

use std::fmt;

use crate::neck::{Instrument, Place, Position, Reach};

/// A position and an octave: where the hand stands, and how many octaves the melody is moved from its written pitch.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Spot {
    /// The position.
    pub position: Position,
    /// Octaves above the written pitch, negative for below.
    pub octave: i8,
}

impl Spot {
    /// Every place that gives a MIDI number (written pitch) within reach of the position: without a stretch first.
    ///
    /// The octave plays no part: `midi` is the number of the note as it is played here.
    pub fn places(self, midi: u8, instrument: &Instrument) -> Vec<Place> {
        let reach = |place: &Place| self.position.reach(place.fret).map(|(reach, _)| reach);
        let mut places: Vec<Place> = instrument
            .places_for(midi)
            .filter(|place| reach(place).is_some())
            .collect();
        places.sort_by_key(|place| reach(place) == Some(Reach::Stretch));
        places
    }
}

impl fmt::Display for Spot {
    /// The position, and the octave when it is not the written one: `V`, `VII octave +1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.octave == 0 {
            self.position.fmt(f)
        } else {
            write!(f, "{} octave {:+}", self.position, self.octave)
        }
    }
}
