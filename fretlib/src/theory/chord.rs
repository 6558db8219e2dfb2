//! Chord symbols.

use super::interval::Interval;
use super::pitch_class::PitchClass;
use crate::error::OutOfRange;

/// A chord symbol: a root, a kind and perhaps another bass note.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Chord {
    root: PitchClass,
    bass: Option<PitchClass>,
}

impl Chord {
    /// The chord moved by an interval.
    ///
    /// # Errors
    ///
    /// When a note would need more than four sharps or flats.
    pub fn transpose(&self, interval: Interval) -> Result<Chord, OutOfRange> {
        Ok(Chord {
            root: self.root.transpose(interval)?,
            bass: self.bass.map(|bass| bass.transpose(interval)).transpose()?,
        })
    }
}
