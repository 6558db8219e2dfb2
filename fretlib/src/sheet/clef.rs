//! The clef of an instrument, and the places of notes under it.

use super::font::Sign;
use crate::neck::Instrument;

#[derive(Clone, Copy)]
pub(super) struct Clef {
    is_bass: bool,
    is_octave_down: bool,
}

impl Clef {
    /// The bass clef for instruments whose highest string is written below middle C; a small 8 under either when the
    /// instrument sounds an octave lower than written.
    ///
    /// Common practice for guitar and bass guitar, no source.
    pub fn of(instrument: &Instrument) -> Clef {
        let highest = instrument.strings().iter().map(|open| open.midi()).max();
        Clef {
            is_bass: highest.is_some_and(|midi| midi.get() < 60),
            is_octave_down: instrument.sounding().semitones() == -12,
        }
    }

    pub fn sign(self) -> Sign {
        match (self.is_bass, self.is_octave_down) {
            (false, false) => Sign::TrebleClef,
            (false, true) => Sign::TrebleClefOctaveDown,
            (true, false) => Sign::BassClef,
            (true, true) => Sign::BassClefOctaveDown,
        }
    }

    /// The diatonic step of the top line: F5, or A3.
    pub fn top_step(self) -> i8 {
        if self.is_bass { 26 } else { 38 }
    }

    /// The line it stands on.
    pub fn line(self) -> f64 {
        if self.is_bass { 1.0 } else { 3.0 }
    }

    /// How far each accidental of a signature is below the top line, in the treble clef.
    ///
    /// Source: the usual zigzag of key signatures, Gould, *Behind Bars* (2011), "Key signatures", from memory.
    pub fn signature_heights(self, sign: Sign) -> [f64; 7] {
        let heights = match sign {
            Sign::Sharp => [0.0, 1.5, -0.5, 1.0, 2.5, 0.5, 2.0],
            _ => [2.0, 0.5, 2.5, 1.0, 3.0, 1.5, 3.5],
        };
        heights.map(|height| if self.is_bass { height + 1.0 } else { height })
    }
}
