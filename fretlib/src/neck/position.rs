//! Where the hand stands and what it reaches from there.

use std::fmt;
use std::str::FromStr;

use super::place::Fret;
use crate::error::{OutOfRange, ParseError, check_range};

/// A finger of the fretting hand, the index being 1.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
#[allow(missing_docs)]
pub enum Finger {
    First = 1,
    Second,
    Third,
    Fourth,
}

impl Finger {
    /// The four fingers in order.
    pub const ALL: [Finger; 4] = [Finger::First, Finger::Second, Finger::Third, Finger::Fourth];

    /// The finger with this number.
    ///
    /// # Errors
    ///
    /// When `number` is outside 1 to 4.
    pub const fn new(number: u8) -> Result<Finger, OutOfRange> {
        match check_range("finger", number as i64, 1, 4) {
            Ok(()) => Ok(Finger::ALL[number as usize - 1]),
            Err(error) => Err(error),
        }
    }

    /// The number, 1 to 4.
    pub const fn get(self) -> u8 {
        self as u8
    }
}

impl fmt::Display for Finger {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.get().fmt(f)
    }
}

/// How the hand reaches a note from a position.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Reach {
    /// On an open string; belongs to position I.
    Open,
    /// At the four frets under the four fingers.
    InPosition,
    /// One fret below the first finger or above the fourth.
    Stretch,
}

impl Reach {
    /// The words used on screens and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Reach::Open => "open",
            Reach::InPosition => "in position",
            Reach::Stretch => "stretch",
        }
    }
}

/// A hand position: the fret under the first finger, even when that finger is silent.
///
/// Written as a Roman numeral. Fingers 1 to 4 stand over four frets in a row; a stretch moves the first finger one fret
/// back or the fourth one fret on. Common practice, no source.
///
/// ```
/// use fretlib::neck::{Finger, Fret, Position, Reach};
///
/// let fifth: Position = "V".parse()?;
/// assert_eq!(fifth.fret(Finger::Fourth).get(), 8);
/// assert_eq!(fifth.reach(Fret::new(9)?), Some((Reach::Stretch, Some(Finger::Fourth))));
/// assert_eq!(fifth.reach(Fret::new(3)?), None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Position(u8);

impl Position {
    /// The position next to the nut.
    pub const FIRST: Position = Position(1);
    /// The highest position in which all four fingers have a fret.
    pub const HIGHEST: u8 = Fret::HIGHEST - 3;

    /// The position with the first finger over this fret.
    ///
    /// # Errors
    ///
    /// When `number` is outside 1 to 33.
    pub const fn new(number: u8) -> Result<Position, OutOfRange> {
        match check_range("position", number as i64, 1, Position::HIGHEST as i64) {
            Ok(()) => Ok(Position(number)),
            Err(error) => Err(error),
        }
    }

    /// The number, 1 to 33.
    pub const fn get(self) -> u8 {
        self.0
    }

    /// The fret under a finger when the hand does not stretch.
    pub const fn fret(self, finger: Finger) -> Fret {
        match Fret::new(self.0 + finger.get() - 1) {
            Ok(fret) => fret,
            Err(_) => unreachable!(),
        }
    }

    /// How this position reaches a fret, and with which finger; `None` when it is out of reach.
    ///
    /// Open strings belong to position I and take no finger.
    pub const fn reach(self, fret: Fret) -> Option<(Reach, Option<Finger>)> {
        let (fret, position) = (fret.get(), self.0);
        if fret == 0 {
            return if position == 1 {
                Some((Reach::Open, None))
            } else {
                None
            };
        }
        Some(match fret as i16 - position as i16 {
            -1 => (Reach::Stretch, Some(Finger::First)),
            offset @ 0..=3 => (Reach::InPosition, Some(Finger::ALL[offset as usize])),
            4 => (Reach::Stretch, Some(Finger::Fourth)),
            _ => return None,
        })
    }
}

const NUMERALS: [(u8, &str); 5] = [(10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")];

impl fmt::Display for Position {
    /// A Roman numeral.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = String::with_capacity(8);
        let mut rest = self.0;
        for (value, numeral) in NUMERALS {
            while rest >= value {
                text.push_str(numeral);
                rest -= value;
            }
        }
        f.pad(&text)
    }
}

impl FromStr for Position {
    type Err = ParseError;

    /// Reads a Roman or an Arabic numeral: `V`, `vii` or `5`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        if let Ok(number) = text.parse::<u8>() {
            return Ok(Position::new(number)?);
        }
        let wanted = text.to_ascii_uppercase();
        (1..=Position::HIGHEST)
            .map(Position)
            .find(|position| position.to_string() == wanted)
            .ok_or_else(|| ParseError::unreadable(text, "a position such as V or 5"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_are_written_as_roman_numerals_and_read_back() {
        let cases = [
            (1, "I"),
            (4, "IV"),
            (9, "IX"),
            (14, "XIV"),
            (19, "XIX"),
            (33, "XXXIII"),
        ];
        for (number, numeral) in cases {
            assert_eq!(Position::new(number).unwrap().to_string(), numeral);
        }
        for number in 1..=Position::HIGHEST {
            let position = Position::new(number).unwrap();
            assert_eq!(position.to_string().parse(), Ok(position));
            assert_eq!(number.to_string().parse(), Ok(position));
        }
        for text in ["", "0", "34", "IIII", "VX", "L", "-1", "five"] {
            assert!(text.parse::<Position>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_hand_reaches_six_frets_and_the_open_strings_of_first_position() {
        for number in 1..=Position::HIGHEST {
            let position = Position::new(number).unwrap();
            let reached: Vec<u8> = (0..=Fret::HIGHEST)
                .filter(|fret| position.reach(Fret::new(*fret).unwrap()).is_some())
                .collect();
            // Position I reaches the open string where others reach back a fret.
            let expected: Vec<u8> = (number - 1..=(number + 4).min(Fret::HIGHEST)).collect();
            assert_eq!(reached, expected, "{position}");
            for finger in Finger::ALL {
                assert_eq!(
                    position.reach(position.fret(finger)),
                    Some((Reach::InPosition, Some(finger)))
                );
            }
        }
    }
}
