//! Time signatures.

use std::fmt;
use std::str::FromStr;

use super::Quarters;
use crate::error::{OutOfRange, ParseError, check_range};

/// A time signature: `count` notes of value 1/`unit` per bar.
///
/// ```
/// use fretlib::melody::{Meter, Quarters};
///
/// let meter: Meter = "6/8".parse()?;
/// assert_eq!(meter.bar_length(), Quarters::from(3));
/// assert_eq!(meter.beat(), Quarters::new(3, 2)); // felt in two
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Meter {
    count: u8,
    // Invariant: a power of two, at most 64.
    unit: u8,
}

impl Meter {
    /// Common time, 4/4.
    pub const COMMON: Meter = Meter { count: 4, unit: 4 };

    /// `count` notes of the value 1/`unit` to a bar.
    ///
    /// # Errors
    ///
    /// When `count` is outside 1 to 64, or `unit` is not 1, 2, 4, 8, 16, 32 or 64 (the nearest range is reported).
    pub const fn new(count: u8, unit: u8) -> Result<Meter, OutOfRange> {
        if let Err(error) = check_range("beats in a bar", count as i64, 1, 64) {
            return Err(error);
        }
        if !unit.is_power_of_two() || unit > 64 {
            return Err(OutOfRange {
                what: "beat unit (a power of two)",
                value: unit as i64,
                low: 1,
                high: 64,
            });
        }
        Ok(Meter { count, unit })
    }

    /// The upper number.
    pub const fn count(self) -> u8 {
        self.count
    }

    /// The lower number.
    pub const fn unit(self) -> u8 {
        self.unit
    }

    /// The length of a full bar.
    pub fn bar_length(self) -> Quarters {
        Quarters::new(4 * i64::from(self.count), self.unit.into())
    }

    /// The length of the note value that the lower number names, which is the beat that is counted.
    pub fn unit_length(self) -> Quarters {
        Quarters::new(4, self.unit.into())
    }

    /// The length of the beat a player feels: three units in compound meters (6/8, 6/4, 9/8, 12/8), else one.
    ///
    /// Common practice: meters with an upper number of 6, 9, 12 … are compound.
    pub fn beat(self) -> Quarters {
        let units = if self.is_compound() { 3 } else { 1 };
        Quarters::new(4 * units, self.unit.into())
    }

    /// True when the beat divides in three.
    pub const fn is_compound(self) -> bool {
        self.count > 3 && self.count.is_multiple_of(3)
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.count, self.unit)
    }
}

impl FromStr for Meter {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "a meter such as 3/4 or 6/8");
        let (count, unit) = text.split_once('/').ok_or_else(unreadable)?;
        let count = count.parse().map_err(|_| unreadable())?;
        let unit = unit.parse().map_err(|_| unreadable())?;
        Ok(Meter::new(count, unit)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn compound_meters_are_felt_in_dotted_beats() {
        let cases = [
            ("4/4", 4, 1, (1, 1)),
            ("3/4", 3, 1, (1, 1)),
            ("2/2", 4, 1, (2, 1)),
            ("3/8", 3, 2, (1, 2)), // three eighths, felt as three
            ("6/8", 3, 1, (3, 2)),
            ("9/8", 9, 2, (3, 2)),
            ("12/8", 6, 1, (3, 2)),
            ("6/4", 6, 1, (3, 1)),
            ("7/8", 7, 2, (1, 2)),
        ];
        for (text, numer, denom, (beat_numer, beat_denom)) in cases {
            let meter: Meter = text.parse().unwrap();
            assert_eq!(meter.bar_length(), Quarters::new(numer, denom), "{text}");
            assert_eq!(
                meter.beat(),
                Quarters::new(beat_numer, beat_denom),
                "{text}"
            );
            assert_eq!(meter.to_string(), text);
        }
        for text in ["", "4", "4/3", "0/4", "65/4", "4/128", "-1/4", "4/4/4"] {
            assert!(text.parse::<Meter>().is_err(), "{text}");
        }
    }
}
