//! A pitch without its octave.

use std::fmt;
use std::str::FromStr;

use super::interval::Interval;
use super::midi_number::MidiNumber;
use super::pitch::Pitch;
use super::spelling::{MAX_ALTERATION, parse_alteration, write_alteration};
use crate::error::{OutOfRange, ParseError, check_range};

/// The name of a natural note.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
#[allow(missing_docs)]
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// The letters from C upwards, as octaves are numbered.
    pub const ALL: [Letter; 7] = [
        Letter::C,
        Letter::D,
        Letter::E,
        Letter::F,
        Letter::G,
        Letter::A,
        Letter::B,
    ];

    /// Diatonic steps above C: 0 for C, 6 for B.
    pub const fn steps(self) -> i8 {
        self as i8
    }

    /// The letter `steps` diatonic steps above C, octaves left out.
    pub const fn from_steps(steps: i16) -> Letter {
        Letter::ALL[steps.rem_euclid(7) as usize]
    }

    /// Reads one letter, capital or small.
    pub const fn from_char(letter: char) -> Option<Letter> {
        Some(match letter.to_ascii_uppercase() {
            'C' => Letter::C,
            'D' => Letter::D,
            'E' => Letter::E,
            'F' => Letter::F,
            'G' => Letter::G,
            'A' => Letter::A,
            'B' => Letter::B,
            _ => return None,
        })
    }
}

impl fmt::Display for Letter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(["C", "D", "E", "F", "G", "A", "B"][*self as usize])
    }
}

/// A spelled pitch class: a letter and its sharps or flats, without an octave.
///
/// Held as its place on the line of fifths, … Bb F C G D A E B F# …, where C is 0 and each step is a fifth upwards. It
/// has no order: it lies on a circle.
///
/// ```
/// use fretlib::theory::PitchClass;
///
/// let a_flat: PitchClass = "Ab".parse()?;
/// assert_eq!(a_flat.fifths(), -4); // C F Bb Eb Ab
/// assert_eq!(a_flat.chroma(), 8); // sounds like G#
/// assert_ne!(a_flat, "G#".parse()?);
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct PitchClass(i8);

impl PitchClass {
    /// C natural, where the line of fifths is counted from.
    pub const C: PitchClass = PitchClass(0);

    const LOWEST: i64 = -1 - 7 * MAX_ALTERATION as i64;
    const HIGHEST: i64 = 5 + 7 * MAX_ALTERATION as i64;

    /// The pitch class `fifths` steps from C on the line of fifths.
    ///
    /// # Errors
    ///
    /// When `fifths` is outside −29 to 33, that is, with more than four sharps or flats.
    pub const fn from_fifths(fifths: i16) -> Result<PitchClass, OutOfRange> {
        match check_range(
            "place on the line of fifths",
            fifths as i64,
            Self::LOWEST,
            Self::HIGHEST,
        ) {
            Ok(()) => Ok(PitchClass(fifths as i8)),
            Err(error) => Err(error),
        }
    }

    /// The pitch class with this letter and this many sharps (positive) or flats (negative).
    ///
    /// # Errors
    ///
    /// When there are more than four sharps or flats.
    pub const fn new(letter: Letter, alteration: i8) -> Result<PitchClass, OutOfRange> {
        // Each letter is two fifths above the one before, modulo seven, counted so that F is one
        // fifth below C.
        let natural = (2 * letter.steps() + 1).rem_euclid(7) - 1;
        PitchClass::from_fifths(natural as i16 + 7 * alteration as i16)
    }

    /// Steps from C on the line of fifths: G is 1, F is −1.
    pub const fn fifths(self) -> i8 {
        self.0
    }

    /// The letter this pitch class is written with.
    pub const fn letter(self) -> Letter {
        Letter::from_steps(4 * self.0 as i16)
    }

    /// Sharps (positive) or flats (negative).
    pub const fn alteration(self) -> i8 {
        (self.0 + 1).div_euclid(7)
    }

    /// The pitch class this interval away.
    ///
    /// # Errors
    ///
    /// When the result needs more than four sharps or flats.
    pub fn transpose(self, interval: Interval) -> Result<PitchClass, OutOfRange> {
        PitchClass::from_fifths(i16::from(self.0) + interval.fifths())
    }

    /// Its key on a keyboard, whatever its spelling: 0 for C up to 11 for B.
    pub const fn chroma(self) -> u8 {
        (7 * self.0 as i16).rem_euclid(12) as u8
    }
}

impl PitchClass {
    /// The pitch of this class with a MIDI number; `None` when the number sounds another class.
    ///
    /// ```
    /// use fretlib::theory::{MidiNumber, PitchClass};
    ///
    /// let class: PitchClass = "Cb".parse()?;
    /// assert_eq!(class.at_midi(MidiNumber::new(59)?).unwrap().to_string(), "Cb4");
    /// assert_eq!(class.at_midi(MidiNumber::new(60)?), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn at_midi(self, midi: MidiNumber) -> Option<Pitch> {
        if midi.chroma() != self.chroma() {
            return None;
        }
        let natural = i16::from(midi.get()) - i16::from(self.alteration());
        let octave = i8::try_from(natural.div_euclid(12) - 1).ok()?;
        Pitch::new(self.letter(), self.alteration(), octave).ok()
    }
}

impl fmt::Display for PitchClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.letter())?;
        write_alteration(self.alteration(), f)
    }
}

impl fmt::Debug for PitchClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for PitchClass {
    type Err = ParseError;

    /// Reads a note name such as `C`, `F#` or `e♭`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "a note name such as C, F# or Bb");
        let mut signs = text.chars();
        let letter = signs
            .next()
            .and_then(Letter::from_char)
            .ok_or_else(unreadable)?;
        let alteration = parse_alteration(signs.as_str()).ok_or_else(unreadable)?;
        Ok(PitchClass::new(letter, alteration)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_and_accidentals_have_their_places_on_the_line_of_fifths() {
        let line = "Fb Cb Gb Db Ab Eb Bb F C G D A E B F# C# G# D# A# E# B# F##";
        for (index, name) in line.split(' ').enumerate() {
            let class: PitchClass = name.parse().unwrap();
            assert_eq!(class.fifths(), index as i8 - 8, "{name}");
            assert_eq!(class.to_string(), name);
        }
    }

    #[test]
    fn every_spelling_is_read_back() {
        for letter in Letter::ALL {
            for alteration in -MAX_ALTERATION..=MAX_ALTERATION {
                let class = PitchClass::new(letter, alteration).unwrap();
                assert_eq!((class.letter(), class.alteration()), (letter, alteration));
                assert_eq!(class.to_string().parse(), Ok(class));
            }
        }
    }

    #[test]
    fn invalid_note_names_are_refused() {
        for text in ["", "H", "C4", "Cq", "C#b", " C", "C#####"] {
            assert!(text.parse::<PitchClass>().is_err(), "{text}");
        }
    }
}
