//! A string and a fret.

use std::fmt;
use std::str::FromStr;

use crate::error::{OutOfRange, ParseError, check_range};

/// A string, numbered as the trade numbers them: 1 is the highest sounding in the usual order.
///
/// No order is defined, since the *higher* string has the *lower* number; compare [`StringNumber::get`].
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct StringNumber(u8);

impl StringNumber {
    /// The most strings an instrument may have.
    pub const MOST: u8 = 12;

    /// The string with this number.
    ///
    /// # Errors
    ///
    /// When `number` is outside 1 to 12.
    pub const fn new(number: u8) -> Result<StringNumber, OutOfRange> {
        match check_range("string", number as i64, 1, StringNumber::MOST as i64) {
            Ok(()) => Ok(StringNumber(number)),
            Err(error) => Err(error),
        }
    }

    /// The number, 1 to 12.
    pub const fn get(self) -> u8 {
        self.0
    }

    /// Its index in a list that begins with string 1.
    pub const fn index(self) -> usize {
        self.0 as usize - 1
    }
}

impl fmt::Display for StringNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A fret number: 0 is the open string, 1 the fret next to the nut or the capo.
///
/// These are the numbers of tablature, and of MusicXML's `<fret>`.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Fret(u8);

impl Fret {
    /// The open string.
    pub const OPEN: Fret = Fret(0);
    /// The highest fret any instrument may have.
    pub const HIGHEST: u8 = 36;

    /// The fret with this number.
    ///
    /// # Errors
    ///
    /// When `number` is above 36.
    pub const fn new(number: u8) -> Result<Fret, OutOfRange> {
        match check_range("fret", number as i64, 0, Fret::HIGHEST as i64) {
            Ok(()) => Ok(Fret(number)),
            Err(error) => Err(error),
        }
    }

    /// The number, 0 to 36.
    pub const fn get(self) -> u8 {
        self.0
    }

    /// Distance from the nut in millimetres on a string whose open length is `scale_length`.
    ///
    /// Source: equal temperament; each fret raises the string by a semitone, L·(1 − 2^(−n/12)).
    ///
    /// ```
    /// use fretlib::neck::Fret;
    ///
    /// assert_eq!(Fret::new(12)?.distance_from_nut(648.0), 324.0);
    /// # Ok::<(), fretlib::OutOfRange>(())
    /// ```
    pub fn distance_from_nut(self, scale_length: f64) -> f64 {
        scale_length * (1.0 - 2f64.powf(-f64::from(self.0) / 12.0))
    }
}

impl fmt::Display for Fret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A place on the neck: where a finger stops a string, or an open string.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Place {
    /// The string.
    pub string: StringNumber,
    /// The fret, counted from the nut or the capo.
    pub fret: Fret,
}

impl fmt::Display for Place {
    /// String, colon, fret: `3:7`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.string, self.fret)
    }
}

impl FromStr for Place {
    type Err = ParseError;

    /// Reads string and fret as they are printed, `3:7`, or with a slash, `3/7`.
    ///
    /// ```
    /// use fretlib::neck::Place;
    ///
    /// let place: Place = "3:7".parse()?;
    /// assert_eq!((place.string.get(), place.fret.get()), (3, 7));
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "a string and a fret such as 3:7");
        let (string, fret) = text.split_once([':', '/']).ok_or_else(unreadable)?;
        let number = |word: &str| word.trim().parse::<u8>().map_err(|_| unreadable());
        Ok(Place {
            string: StringNumber::new(number(string)?)?,
            fret: Fret::new(number(fret)?)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_is_read_back() {
        for string in 1..=StringNumber::MOST {
            for fret in 0..=Fret::HIGHEST {
                let place = Place {
                    string: StringNumber::new(string).unwrap(),
                    fret: Fret::new(fret).unwrap(),
                };
                assert_eq!(place.to_string().parse(), Ok(place));
            }
        }
        assert_eq!("3/7".parse::<Place>(), "3:7".parse());
        for text in [
            "", "3", "3:", ":7", "0:7", "13:1", "1:37", "a:b", "1:2:3", "-1:2",
        ] {
            assert!(text.parse::<Place>().is_err(), "{text}");
        }
    }
}
