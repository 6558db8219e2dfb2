//! Where on the neck a melody is asked.

use std::fmt;

use crate::neck::{Instrument, Place, Position, Reach};
use crate::theory::{MidiNumber, Octave};

/// A position and an octave: where the hand stands, and how many octaves the melody is moved from its written pitch.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct PlacementKey {
    /// The position.
    pub position: Position,
    /// How far from the written pitch.
    pub octave: Octave,
}

impl PlacementKey {
    /// Every place that gives a MIDI number (written pitch) within reach of the position: those without a stretch
    /// first.
    ///
    /// The octave is not applied: `midi` is the note as played here.
    pub fn places(self, midi: MidiNumber, instrument: &Instrument) -> Vec<Place> {
        let reach = |place: &Place| self.position.reach(place.fret).map(|(reach, _)| reach);
        let mut places: Vec<Place> = instrument
            .places_for(midi)
            .filter(|place| reach(place).is_some())
            .collect();
        places.sort_by_key(|place| reach(place) == Some(Reach::Stretch));
        places
    }
}

impl fmt::Display for PlacementKey {
    /// The position, and the octave when it is not the written one: `V`, `VII octave +1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.octave == Octave::WRITTEN {
            self.position.fmt(f)
        } else {
            write!(f, "{} octave {}", self.position, self.octave)
        }
    }
}
