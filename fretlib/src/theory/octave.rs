//! Octaves up or down from the written pitch.

use std::fmt;
use std::str::FromStr;

use super::interval::Interval;
use crate::error::{OutOfRange, ParseError, check_range};

/// How many octaves from its written pitch a melody is played: 0 as written, 1 an octave higher, −1 an octave lower.
///
/// Not the octave number in the name of a pitch, which is [`Pitch::octave`](super::Pitch::octave).
///
/// ```
/// use fretlib::theory::Octave;
///
/// let higher: Octave = "+1".parse()?;
/// assert_eq!(higher.semitones(), 12);
/// assert_eq!(higher.in_words(), "an octave higher");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Octave(i8);

impl Octave {
    /// At the written pitch.
    pub const WRITTEN: Octave = Octave(0);
    /// The farthest that any melody can move.
    const MOST: i8 = 10;

    /// This many octaves from the written pitch, negative for lower.
    ///
    /// # Errors
    ///
    /// When `octaves` is outside −10 to 10.
    pub const fn new(octaves: i8) -> Result<Octave, OutOfRange> {
        let most = Octave::MOST as i64;
        match check_range("octave", octaves as i64, -most, most) {
            Ok(()) => Ok(Octave(octaves)),
            Err(error) => Err(error),
        }
    }

    /// Every octave, from the lowest.
    pub fn all() -> impl DoubleEndedIterator<Item = Octave> {
        (-Octave::MOST..=Octave::MOST).map(Octave)
    }

    /// The number of octaves, negative for lower.
    pub const fn get(self) -> i8 {
        self.0
    }

    /// The number of octaves without its direction.
    pub const fn distance(self) -> u8 {
        self.0.unsigned_abs()
    }

    /// Semitones from the written pitch, negative for lower.
    pub const fn semitones(self) -> i16 {
        12 * self.0 as i16
    }

    /// The interval from the written pitch.
    pub const fn interval(self) -> Interval {
        match Interval::octaves(self.0) {
            Ok(interval) => interval,
            Err(_) => unreachable!(), // both allow −10 to 10
        }
    }

    /// In words: `as written`, `an octave higher`, `2 octaves lower`.
    pub fn in_words(self) -> String {
        match self.0 {
            0 => "as written".into(),
            1 => "an octave higher".into(),
            -1 => "an octave lower".into(),
            2.. => format!("{} octaves higher", self.0),
            _ => format!("{} octaves lower", self.distance()),
        }
    }
}

impl fmt::Display for Octave {
    /// With its sign: `+1`, `0`, `-2`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            0 => f.pad("0"),
            octaves => f.pad(&format!("{octaves:+}")),
        }
    }
}

impl FromStr for Octave {
    type Err = ParseError;

    /// Reads `0`, `1`, `+1` or `-2`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let octaves: i8 = text
            .parse()
            .map_err(|_| ParseError::unreadable(text, "an octave such as 0, +1 or -1"))?;
        Ok(Octave::new(octaves)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_octave_is_read_back_and_is_its_interval() {
        for octave in Octave::all() {
            assert_eq!(octave.to_string().parse(), Ok(octave));
            assert_eq!(i16::from(octave.interval().semitones()), octave.semitones());
        }
        for text in ["", "11", "-11", "+", "one", "1.0"] {
            assert!(text.parse::<Octave>().is_err(), "{text}");
        }
    }
}
