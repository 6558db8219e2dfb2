//! The distance from one spelled pitch to another.

use std::fmt;
use std::ops::Neg;
use std::str::FromStr;

use super::spelling::natural_semitones;
use crate::error::{OutOfRange, ParseError, check_range};

/// Whether an interval leads up or down.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Direction {
    /// To a higher place on the staff, or sharper on the same one.
    Up,
    /// To a lower place on the staff, or flatter on the same one.
    Down,
    /// The same pitch, spelled the same.
    Same,
}

/// A directed, spelled interval: diatonic steps and semitones.
///
/// Its direction follows the staff, not the ear: B#4 to Cb5 is a rising second, doubly diminished, although it sounds
/// lower. On one letter the accidentals decide: F#4 to F4 is a falling augmented unison, `-A1`.
///
/// ```
/// use fretlib::theory::{Interval, Pitch};
///
/// let third: Interval = "m3".parse()?;
/// assert_eq!("Bb4".parse::<Pitch>()? - "G4".parse()?, third);
/// assert_eq!((-third).to_string(), "-m3");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct Interval {
    // Invariant: both within ±127, so that the negation always exists.
    steps: i8,
    semitones: i8,
}

impl Interval {
    /// The perfect unison.
    pub const UNISON: Interval = Interval {
        steps: 0,
        semitones: 0,
    };
    /// The perfect octave, upwards.
    pub const OCTAVE: Interval = Interval {
        steps: 7,
        semitones: 12,
    };

    /// The interval of this many diatonic steps and semitones, negative for downwards.
    ///
    /// # Errors
    ///
    /// When either number is outside −127 to 127.
    pub const fn new(steps: i16, semitones: i16) -> Result<Interval, OutOfRange> {
        if let Err(error) = check_range("interval of steps", steps as i64, -127, 127) {
            return Err(error);
        }
        if let Err(error) = check_range("interval of semitones", semitones as i64, -127, 127) {
            return Err(error);
        }
        Ok(Interval {
            steps: steps as i8,
            semitones: semitones as i8,
        })
    }

    /// This many octaves, negative for downwards.
    ///
    /// # Errors
    ///
    /// When `octaves` is outside −10 to 10.
    pub const fn octaves(octaves: i8) -> Result<Interval, OutOfRange> {
        if let Err(error) = check_range("interval of octaves", octaves as i64, -10, 10) {
            return Err(error);
        }
        Ok(Interval {
            steps: 7 * octaves,
            semitones: 12 * octaves,
        })
    }

    /// Diatonic steps: 0 for a unison, 2 for a third upwards, −2 downwards.
    pub const fn steps(self) -> i8 {
        self.steps
    }

    /// Semitones, negative for downwards.
    pub const fn semitones(self) -> i8 {
        self.semitones
    }

    /// Steps on the line of fifths, octaves left out: 1 for a fifth up or a fourth down, 2 for a major second up.
    pub const fn fifths(self) -> i16 {
        7 * self.semitones as i16 - 12 * self.steps as i16
    }

    /// Which way the interval leads.
    pub const fn direction(self) -> Direction {
        let leading = if self.steps == 0 {
            self.semitones
        } else {
            self.steps
        };
        match leading {
            1.. => Direction::Up,
            0 => Direction::Same,
            ..0 => Direction::Down,
        }
    }

    /// This interval followed by another.
    ///
    /// # Errors
    ///
    /// When the sum is wider than an interval can be.
    pub fn checked_add(self, other: Interval) -> Result<Interval, OutOfRange> {
        Interval::new(
            i16::from(self.steps) + i16::from(other.steps),
            i16::from(self.semitones) + i16::from(other.semitones),
        )
    }

    /// The interval reduced to an octave or less, in the same direction: a tenth becomes a third,
    /// an octave stays an octave.
    ///
    /// ```
    /// use fretlib::theory::Interval;
    ///
    /// assert_eq!("-M10".parse::<Interval>()?.simple(), "-M3".parse()?);
    /// assert_eq!("P15".parse::<Interval>()?.simple(), Interval::OCTAVE);
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn simple(self) -> Interval {
        let size = self.size();
        let octaves = (size.steps - 1).max(0) / 7;
        let simple = Interval {
            steps: size.steps - 7 * octaves,
            semitones: size.semitones - 12 * octaves,
        };
        match self.direction() {
            Direction::Down => -simple,
            Direction::Up | Direction::Same => simple,
        }
    }

    /// The rest of the octave, in the same direction: a third becomes a sixth, major becomes minor.
    ///
    /// Compound intervals are reduced to their simple form first; the octave and the unison are each other's
    /// inversion.
    ///
    /// ```
    /// use fretlib::theory::Interval;
    ///
    /// let invert = |name: &str| name.parse::<Interval>().map(|it| it.invert().to_string());
    /// assert_eq!(invert("M3")?, "+m6");
    /// assert_eq!(invert("-A4")?, "-d5");
    /// assert_eq!(invert("P8")?, "P1");
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn invert(self) -> Interval {
        let size = self.simple().size();
        let rest = Interval {
            steps: 7 - size.steps,
            semitones: 12 - size.semitones,
        };
        match self.direction() {
            Direction::Down => -rest,
            Direction::Up | Direction::Same => rest,
        }
    }

    /// The name in words, without a direction: `major 3rd`, `octave`, `whole step`.
    ///
    /// Seconds are steps, as players call them; common practice, no source.
    ///
    /// ```
    /// use fretlib::theory::Interval;
    ///
    /// let words = |name: &str| name.parse::<Interval>().map(Interval::in_words);
    /// assert_eq!(words("-M3")?, "major 3rd");
    /// assert_eq!(words("m2")?, "half step");
    /// assert_eq!(words("P8")?, "octave");
    /// assert_eq!(words("d5")?, "diminished 5th");
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn in_words(self) -> String {
        let name = self.name();
        match name.as_str() {
            "P1" => return "unison".into(),
            "m2" => return "half step".into(),
            "M2" => return "whole step".into(),
            "P8" => return "octave".into(),
            _ => {}
        }
        let number = i16::from(self.size().steps) + 1;
        let times = name.chars().take_while(|sign| sign.is_alphabetic()).count();
        let quality = match name.chars().next() {
            Some('P') => "perfect",
            Some('M') => "major",
            Some('m') => "minor",
            Some('A') => "augmented",
            _ => "diminished",
        };
        let quality = match times {
            1 => quality.to_owned(),
            2 => format!("doubly {quality}"),
            _ => format!("{times} times {quality}"),
        };
        let number = match number {
            1 => "unison".to_owned(),
            8 => "octave".to_owned(),
            _ => match (number % 100, number % 10) {
                (11..=13, _) => format!("{number}th"),
                (_, 1) => format!("{number}st"),
                (_, 2) => format!("{number}nd"),
                (_, 3) => format!("{number}rd"),
                _ => format!("{number}th"),
            },
        };
        format!("{quality} {number}")
    }

    /// The same interval upwards.
    pub fn size(self) -> Interval {
        match self.direction() {
            Direction::Down => -self,
            Direction::Up | Direction::Same => self,
        }
    }

    /// The name without a direction, compound intervals keeping their number: `m3`, `P8`, `M10`, `AA4`.
    pub fn name(self) -> String {
        let Interval { steps, semitones } = self.size();
        let number = i16::from(steps) + 1;
        let excess = i16::from(semitones) - natural_semitones(steps.into());
        // Unisons, fourths, fifths and their compounds are perfect; the others are major or minor.
        let (quality, times) = match (is_perfect_kind(steps), excess) {
            (true, 0) => ("P", 1),
            (false, 0) => ("M", 1),
            (false, -1) => ("m", 1),
            (_, 1..) => ("A", excess),
            (true, _) => ("d", -excess),
            (false, _) => ("d", -excess - 1),
        };
        format!("{}{number}", quality.repeat(times as usize))
    }
}

const fn is_perfect_kind(steps: i8) -> bool {
    matches!(steps.rem_euclid(7), 0 | 3 | 4)
}

impl Neg for Interval {
    type Output = Interval;

    fn neg(self) -> Interval {
        Interval {
            steps: -self.steps,
            semitones: -self.semitones,
        }
    }
}

impl fmt::Display for Interval {
    /// The direction and the name: `+m3`, `-P5`, `P1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = match self.direction() {
            Direction::Up => "+",
            Direction::Down => "-",
            Direction::Same => "",
        };
        write!(f, "{sign}{}", self.name())
    }
}

impl fmt::Debug for Interval {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Interval {
    type Err = ParseError;

    /// Reads `m3`, `+P5`, `-A4`, `P8`, `dd7`; upwards when there is no sign.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "an interval such as m3, +P5 or -M2");
        let (falls, name) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let split = name
            .find(|c: char| c.is_ascii_digit())
            .ok_or_else(unreadable)?;
        let (quality, digits) = name.split_at(split);
        if digits.len() > 3 || digits.starts_with('0') {
            return Err(unreadable());
        }
        let number: i16 = digits.parse().map_err(|_| unreadable())?;
        let steps = number - 1;
        check_range("interval of steps", steps.into(), 0, 127)?;
        let perfect = is_perfect_kind(steps as i8);
        let repeats = quality.len() as i16;
        let all = |sign: char| (1..=8).contains(&repeats) && quality.chars().all(|c| c == sign);
        let excess = match quality {
            "P" if perfect => 0,
            "M" if !perfect => 0,
            "m" if !perfect => -1,
            _ if all('A') => repeats,
            _ if all('d') && perfect => -repeats,
            _ if all('d') => -repeats - 1,
            _ => return Err(unreadable()),
        };
        let interval = Interval::new(steps, natural_semitones(steps) + excess)?;
        Ok(if falls { -interval } else { interval })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_have_the_usual_names() {
        let cases = [
            ("P1", 0, 0),
            ("+A1", 0, 1),
            ("-A1", 0, -1),
            ("+m2", 1, 1),
            ("+d2", 1, 0),   // C# up to Db: a second on the staff, nothing to the ear
            ("+dd2", 1, -1), // B#4 up to Cb5
            ("-m3", -2, -3),
            ("+P4", 3, 5),
            ("+A4", 3, 6),
            ("+d5", 4, 6),
            ("+M6", 5, 9),
            ("+d7", 6, 9),
            ("+P8", 7, 12),
            ("-P8", -7, -12),
            ("+M10", 9, 16),
            ("+P11", 10, 17),
        ];
        for (name, steps, semitones) in cases {
            let interval = Interval::new(steps, semitones).unwrap();
            assert_eq!(interval.to_string(), name);
            assert_eq!(name.parse(), Ok(interval));
        }
    }

    #[test]
    fn invalid_intervals_are_refused() {
        for text in [
            "", "3", "P3", "M5", "m4", "C+4", "5Pxyz", "m3 ", "m0", "m03", "m999", "dA5", "m-3",
            "--m3",
        ] {
            assert!(text.parse::<Interval>().is_err(), "{text}");
        }
    }

    // Common practice, no source: what is major inverts to minor, augmented to diminished, perfect stays perfect; the
    // numbers add up to nine.
    #[test]
    fn intervals_invert_as_taught() {
        let cases = [
            ("P1", "P8"),
            ("m2", "M7"),
            ("M2", "m7"),
            ("m3", "M6"),
            ("M3", "m6"),
            ("P4", "P5"),
            ("A4", "d5"),
            ("M9", "m7"),
            ("M10", "m6"),
            ("P15", "P1"),
            ("A1", "d8"),
        ];
        for (name, inverted) in cases {
            let interval: Interval = name.parse().unwrap();
            assert_eq!(interval.invert().name(), inverted, "{name}");
            // The unison has no direction, so it is its own negation.
            if interval != Interval::UNISON {
                assert_eq!((-interval).invert(), -interval.invert(), "{name}");
            }
        }
    }

    quickcheck::quickcheck! {
        fn an_interval_and_its_inversion_make_an_octave(steps: i8, excess: i8) -> bool {
            let steps = i16::from(steps).rem_euclid(60);
            let Ok(interval) = Interval::new(steps, natural_semitones(steps) + i16::from(excess) % 3) else {
                return true;
            };
            let sum = interval.simple().checked_add(interval.invert());
            interval.direction() == Direction::Down || sum == Ok(Interval::OCTAVE)
        }

        fn a_name_is_read_back(steps: i8, excess: i8) -> bool {
            let steps = i16::from(steps) / 2;
            let excess = i16::from(excess) % 6;
            let Ok(interval) = Interval::new(steps, natural_semitones(steps) + excess) else {
                return true;
            };
            interval.to_string().parse() == Ok(interval) && -(-interval) == interval
        }
    }
}
