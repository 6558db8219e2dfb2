//! Note numbers of MIDI.

use std::fmt;
use std::ops::Sub;

use crate::error::{OutOfRange, check_range};

/// The MIDI number of a note, 0 to 127: its height without its spelling. Middle C is 60.
///
/// Source: MIDI 1.0 Detailed Specification.
///
/// ```
/// use fretlib::theory::MidiNumber;
///
/// let middle_c = MidiNumber::new(60)?;
/// assert_eq!(middle_c.transpose(-12)?.get(), 48);
/// assert_eq!(MidiNumber::HIGHEST - middle_c, 67);
/// assert!(middle_c.transpose(68).is_err());
/// # Ok::<(), fretlib::OutOfRange>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct MidiNumber(u8);

impl MidiNumber {
    /// The lowest, C in octave −1.
    pub const LOWEST: MidiNumber = MidiNumber(0);
    /// The highest, G in octave 9.
    pub const HIGHEST: MidiNumber = MidiNumber(127);

    /// The note with this number.
    ///
    /// # Errors
    ///
    /// When `number` is above 127.
    pub const fn new(number: u8) -> Result<MidiNumber, OutOfRange> {
        match check_range("MIDI note", number as i64, 0, 127) {
            Ok(()) => Ok(MidiNumber(number)),
            Err(error) => Err(error),
        }
    }

    /// Every number from the lowest to the highest.
    pub fn all() -> impl DoubleEndedIterator<Item = MidiNumber> {
        (0..=127).map(MidiNumber)
    }

    /// The number, 0 to 127.
    pub const fn get(self) -> u8 {
        self.0
    }

    /// The number within its octave: 0 for C up to 11 for B.
    pub const fn chroma(self) -> u8 {
        self.0 % 12
    }

    /// The note this many semitones higher, or lower when negative.
    ///
    /// # Errors
    ///
    /// When the result is outside 0 to 127.
    pub const fn transpose(self, semitones: i16) -> Result<MidiNumber, OutOfRange> {
        // An i16 and a number up to 127 cannot overflow an i64.
        let number = self.0 as i64 + semitones as i64;
        match check_range("MIDI note", number, 0, 127) {
            Ok(()) => Ok(MidiNumber(number as u8)),
            Err(error) => Err(error),
        }
    }

    /// The frequency in hertz in equal temperament, `a4` being that of number 69, usually 440 Hz.
    ///
    /// Source: ISO 16:1975 (A4 = 440 Hz).
    pub fn frequency(self, a4: f64) -> f64 {
        equal_tempered(i16::from(self.0), a4)
    }
}

/// The frequency in hertz of any number on the MIDI scale. It may be below 0 or above 127, because instruments sound
/// above or below the written pitch.
pub(crate) fn equal_tempered(number: i16, a4: f64) -> f64 {
    a4 * 2f64.powf((f64::from(number) - 69.0) / 12.0)
}

impl Sub for MidiNumber {
    type Output = i16;

    /// Semitones from `other` up to `self`, negative when `self` is lower.
    fn sub(self, other: MidiNumber) -> i16 {
        i16::from(self.0) - i16::from(other.0)
    }
}

impl fmt::Display for MidiNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}
