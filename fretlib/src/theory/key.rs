//! Keys, and the degree of a note in one.

use std::fmt;
use std::str::FromStr;

use super::interval::Interval;
use super::pitch_class::PitchClass;
use super::spelling::{parse_alteration, write_alteration};
use crate::error::{OutOfRange, ParseError, check_range};

/// The kinds of seven-note scale that a key signature can stand for.
///
/// Ionian is [`Mode::Major`] and Aeolian is [`Mode::Minor`]: the same notes, treated alike.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
#[allow(missing_docs)]
pub enum Mode {
    Lydian,
    Major,
    Mixolydian,
    Dorian,
    Minor,
    Phrygian,
    Locrian,
}

impl Mode {
    /// The modes from the brightest to the darkest, each with one flat more than the one before.
    pub const ALL: [Mode; 7] = [
        Mode::Lydian,
        Mode::Major,
        Mode::Mixolydian,
        Mode::Dorian,
        Mode::Minor,
        Mode::Phrygian,
        Mode::Locrian,
    ];

    /// How many fifths the tonic lies above the tonic of the major key with the same signature.
    const fn fifths_above_major(self) -> i8 {
        self as i8 - 1
    }

    /// The name in small letters, as in `E minor`.
    pub const fn name(self) -> &'static str {
        match self {
            Mode::Lydian => "lydian",
            Mode::Major => "major",
            Mode::Mixolydian => "mixolydian",
            Mode::Dorian => "dorian",
            Mode::Minor => "minor",
            Mode::Phrygian => "phrygian",
            Mode::Locrian => "locrian",
        }
    }
}

/// A note's place in a key, measured against the major scale on the tonic: `1`, `b3`, `#4`.
///
/// It is the interval above the tonic with octaves left out, held as steps on the line of fifths.
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct Degree(i8);

impl Degree {
    /// The tonic.
    pub const TONIC: Degree = Degree(0);

    /// The degree this many fifths above the tonic: 1 is the fifth, −1 the fourth, 6 the raised fourth.
    ///
    /// # Errors
    ///
    /// When `fifths` is outside −64 to 64.
    pub const fn from_fifths(fifths: i8) -> Result<Degree, OutOfRange> {
        match check_range("degree in fifths", fifths as i64, -64, 64) {
            Ok(()) => Ok(Degree(fifths)),
            Err(error) => Err(error),
        }
    }

    /// Steps above the tonic on the line of fifths.
    pub const fn fifths(self) -> i8 {
        self.0
    }

    /// The number of the scale step, 1 to 7.
    pub const fn number(self) -> u8 {
        (4 * self.0 as i16).rem_euclid(7) as u8 + 1
    }

    /// Semitones by which it differs from the same step of the major scale: −1 for `b3`.
    pub const fn alteration(self) -> i8 {
        (self.0 + 1).div_euclid(7)
    }

    /// Semitones above the tonic, 0 to 11.
    pub const fn semitones(self) -> u8 {
        (7 * self.0 as i16).rem_euclid(12) as u8
    }
}

impl fmt::Display for Degree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_alteration(self.alteration(), f)?;
        write!(f, "{}", self.number())
    }
}

impl fmt::Debug for Degree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Degree {
    type Err = ParseError;

    /// Reads `1`, `b3`, `#4`, `♭7`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "a scale degree such as 1, b3 or #4");
        let mut signs = text.chars();
        let number = signs
            .next_back()
            .and_then(|digit| digit.to_digit(10))
            .filter(|number| (1..=7).contains(number))
            .ok_or_else(unreadable)?;
        let alteration = parse_alteration(signs.as_str()).ok_or_else(unreadable)?;
        let natural = (2 * (number as i8 - 1) + 1).rem_euclid(7) - 1;
        Ok(Degree(natural + 7 * alteration))
    }
}

/// Whether a note belongs to its key.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Membership {
    /// One of the key's seven notes.
    Scale,
    /// The raised sixth or seventh of a minor key.
    Raised,
    /// Any other note.
    Chromatic,
}

impl Membership {
    /// The word used on screens and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Membership::Scale => "scale",
            Membership::Raised => "raised",
            Membership::Chromatic => "chromatic",
        }
    }
}

/// A tonic and a mode whose signature has at most seven sharps or flats.
///
/// ```
/// use fretlib::theory::{Key, Membership, Pitch};
///
/// let key: Key = "Eb major".parse()?;
/// let a: Pitch = "A4".parse()?;
/// assert_eq!(key.degree(a.class()).to_string(), "#4");
/// assert_eq!(key.membership(a.class()), Membership::Chromatic);
/// assert_eq!(key.signature(), -3);
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct Key {
    // Invariant: the signature is within ±7.
    tonic: PitchClass,
    mode: Mode,
}

impl Key {
    /// The key on this tonic.
    ///
    /// # Errors
    ///
    /// When its signature would need more than seven sharps or flats.
    pub const fn new(tonic: PitchClass, mode: Mode) -> Result<Key, OutOfRange> {
        let signature = tonic.fifths() - mode.fifths_above_major();
        match check_range("key signature", signature as i64, -7, 7) {
            Ok(()) => Ok(Key { tonic, mode }),
            Err(error) => Err(error),
        }
    }

    /// The key of this mode whose signature has this many sharps (positive) or flats (negative).
    ///
    /// # Errors
    ///
    /// When `signature` is outside −7 to 7.
    pub const fn from_signature(signature: i8, mode: Mode) -> Result<Key, OutOfRange> {
        if let Err(error) = check_range("key signature", signature as i64, -7, 7) {
            return Err(error);
        }
        match PitchClass::from_fifths(signature as i16 + mode.fifths_above_major() as i16) {
            Ok(tonic) => Ok(Key { tonic, mode }),
            Err(error) => Err(error),
        }
    }

    /// The note the key is named after.
    pub const fn tonic(self) -> PitchClass {
        self.tonic
    }

    /// The kind of scale.
    pub const fn mode(self) -> Mode {
        self.mode
    }

    /// Sharps (positive) or flats (negative) in the key signature.
    pub const fn signature(self) -> i8 {
        self.tonic.fifths() - self.mode.fifths_above_major()
    }

    /// The seven notes of the scale, upwards from the tonic.
    pub fn scale(self) -> [PitchClass; 7] {
        let lowest = -1 - self.mode.fifths_above_major();
        std::array::from_fn(|step| {
            // Each scale step is two fifths up, modulo the seven fifths that the scale covers.
            let above_lowest = (2 * step as i8 - lowest).rem_euclid(7);
            match PitchClass::from_fifths(i16::from(self.tonic.fifths() + lowest + above_lowest)) {
                Ok(class) => class,
                Err(_) => unreachable!(),
            }
        })
    }

    /// The key on the tonic this interval away.
    ///
    /// # Errors
    ///
    /// When its signature would need more than seven sharps or flats.
    pub fn transpose(self, interval: Interval) -> Result<Key, OutOfRange> {
        Key::new(self.tonic.transpose(interval)?, self.mode)
    }

    /// The degree of a note in this key.
    pub const fn degree(self, class: PitchClass) -> Degree {
        Degree(class.fifths() - self.tonic.fifths())
    }

    /// Whether a note belongs to the scale.
    pub const fn membership(self, class: PitchClass) -> Membership {
        let degree = self.degree(class).fifths();
        let lowest = -1 - self.mode.fifths_above_major();
        if degree >= lowest && degree < lowest + 7 {
            return Membership::Scale;
        }
        match (self.mode, degree) {
            (Mode::Minor, 3 | 5) => Membership::Raised,
            _ => Membership::Chromatic,
        }
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.tonic, self.mode.name())
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Key {
    type Err = ParseError;

    /// Reads `Eb major`, `E minor`, `A dorian`, and the short forms `Eb` and `Em`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable =
            || ParseError::unreadable(text, "a key such as `Eb major`, `E minor` or `A dorian`");
        let mut words = text.split_whitespace();
        let (tonic, mode) = match (words.next(), words.next(), words.next()) {
            (Some(tonic), None, None) => match tonic.strip_suffix('m') {
                Some(tonic) => (tonic, Mode::Minor),
                None => (tonic, Mode::Major),
            },
            (Some(tonic), Some(mode), None) => {
                let mode = match mode.to_lowercase().as_str() {
                    "major" | "maj" | "ionian" => Mode::Major,
                    "minor" | "min" | "m" | "aeolian" => Mode::Minor,
                    word => Mode::ALL
                        .into_iter()
                        .find(|mode| mode.name() == word)
                        .ok_or_else(unreadable)?,
                };
                (tonic, mode)
            }
            _ => return Err(unreadable()),
        };
        let tonic: PitchClass = tonic.parse().map_err(|_| unreadable())?;
        Ok(Key::new(tonic, mode)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(text: &str) -> Key {
        text.parse().unwrap()
    }

    #[test]
    fn scales_are_spelled_one_letter_a_step() {
        let cases = [
            ("C major", "C D E F G A B"),
            ("Cb major", "Cb Db Eb Fb Gb Ab Bb"),
            ("C# major", "C# D# E# F# G# A# B#"),
            ("E minor", "E F# G A B C D"),
            ("Ab minor", "Ab Bb Cb Db Eb Fb Gb"),
            ("A dorian", "A B C D E F# G"),
            ("Bb lydian", "Bb C D E F G A"),
            ("F# locrian", "F# G A B C D E"),
            ("E phrygian", "E F G A B C D"),
            ("D mixolydian", "D E F# G A B C"),
        ];
        for (name, notes) in cases {
            let scale: Vec<String> = key(name).scale().iter().map(ToString::to_string).collect();
            assert_eq!(scale.join(" "), notes, "{name}");
        }
    }

    #[test]
    fn degrees_are_measured_against_the_major_scale() {
        let cases = [
            ("A minor", "C", "b3", Membership::Scale),
            ("A minor", "G#", "7", Membership::Raised),
            ("A minor", "F#", "6", Membership::Raised),
            ("A minor", "D#", "#4", Membership::Chromatic),
            ("A dorian", "G#", "7", Membership::Chromatic),
            ("Eb major", "A", "#4", Membership::Chromatic),
            ("Eb major", "Bbb", "b5", Membership::Chromatic),
            ("G major", "F#", "7", Membership::Scale),
            ("G major", "F", "b7", Membership::Chromatic),
        ];
        for (name, note, degree, membership) in cases {
            let note: PitchClass = note.parse().unwrap();
            assert_eq!(
                key(name).degree(note).to_string(),
                degree,
                "{note} in {name}"
            );
            assert_eq!(key(name).membership(note), membership, "{note} in {name}");
        }
    }

    #[test]
    fn every_key_up_to_seven_accidentals_exists_and_is_read_back() {
        for mode in Mode::ALL {
            for signature in -7..=7 {
                let key = Key::from_signature(signature, mode).unwrap();
                assert_eq!(key.signature(), signature);
                assert_eq!(key.to_string().parse(), Ok(key));
                for note in key.scale() {
                    assert_eq!(key.membership(note), Membership::Scale);
                }
            }
        }
        assert!("G# major".parse::<Key>().is_err()); // eight sharps
        assert!("Fb major".parse::<Key>().is_err());
    }

    #[test]
    fn degrees_are_read_back() {
        for fifths in -20..=20 {
            let degree = Degree::from_fifths(fifths).unwrap();
            assert_eq!(degree.to_string().parse(), Ok(degree));
        }
        for text in ["", "0", "8", "b", "3b", "#b3"] {
            assert!(text.parse::<Degree>().is_err(), "{text}");
        }
    }
}
