//! Swing: of two equal notes the first is played longer.

use super::feel::Feel;
use super::quarters::Quarters;
use crate::error::{OutOfRange, check_range};

/// How a pair of equal notes is divided when it is swung.
///
/// ```
/// use fretlib::melody::{Quarters, Swing};
///
/// let swing = Swing::EIGHTHS; // long to short as 2 to 1
/// assert_eq!(swing.played(Quarters::new(1, 2)), 2.0 / 3.0);
/// assert_eq!(swing.played(Quarters::from(1)), 1.0);
/// assert_eq!(swing.played(Quarters::new(1, 3)), 1.0 / 3.0); // a triplet is played as it is written
/// # Ok::<(), fretlib::OutOfRange>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    /// How many pairs a quarter note holds.
    // Invariant: positive.
    pairs: i64,
    // Invariant: 0.5 to 0.8.
    long: f64,
}

impl Swing {
    /// Eighths as in a triplet: the first takes two thirds of the beat. Common practice, no source.
    pub const EIGHTHS: Swing = Swing {
        pairs: 1,
        long: 2.0 / 3.0,
    };
    /// Sixteenths as in a triplet.
    pub const SIXTEENTHS: Swing = Swing {
        pairs: 2,
        long: 2.0 / 3.0,
    };

    /// How a feel is played; `None` when it is straight.
    pub const fn of(feel: Feel) -> Option<Swing> {
        match feel {
            Feel::Straight => None,
            Feel::Swing => Some(Swing::EIGHTHS),
            Feel::SwingSixteenths => Some(Swing::SIXTEENTHS),
        }
    }

    /// The same pair with the first note taking `percent` of it: 50 is straight, 67 about a triplet.
    ///
    /// # Errors
    ///
    /// When `percent` is outside 50 to 80.
    pub fn with_share(self, percent: u8) -> Result<Swing, OutOfRange> {
        check_range("share of the first note in percent", percent.into(), 50, 80)?;
        Ok(Swing {
            long: f64::from(percent) / 100.0,
            ..self
        })
    }

    /// The share of the first note of a pair, from 0.5 to 0.8.
    pub fn share(self) -> f64 {
        self.long
    }

    /// The playing time of a moment written `time` quarter notes after a beat, in quarter notes after it.
    ///
    /// Only times from halving the beat move; triplets do not.
    pub fn played(self, time: Quarters) -> f64 {
        let pairs = time * self.pairs;
        let whole = pairs.floor();
        let within = pairs - whole;
        let part = within.to_f64();
        let moved = if !within.denom().unsigned_abs().is_power_of_two() {
            part
        } else if part < 0.5 {
            2.0 * part * self.long
        } else {
            self.long + (2.0 * part - 1.0) * (1.0 - self.long)
        };
        (whole.to_f64() + moved) / self.pairs as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_are_swung_and_thirds_are_not() {
        let hard = Swing::EIGHTHS.with_share(75).unwrap();
        let cases = [
            ((0, 1), 0.0),
            ((1, 4), 0.375), // a sixteenth stands in the middle of the long eighth
            ((1, 2), 0.75),
            ((3, 4), 0.875),
            ((5, 2), 2.75),
            ((2, 3), 2.0 / 3.0),
            ((-1, 2), -0.25), // before the beat it is counted from
        ];
        for ((numer, denom), expected) in cases {
            let played = hard.played(Quarters::new(numer, denom));
            assert!(
                (played - expected).abs() < 1e-12,
                "{numer}/{denom}: {played}"
            );
        }
        let sixteenths = Swing::SIXTEENTHS.played(Quarters::new(1, 4));
        assert!((sixteenths - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(Swing::SIXTEENTHS.played(Quarters::new(1, 2)), 0.5);
        assert!(Swing::EIGHTHS.with_share(49).is_err() && Swing::EIGHTHS.with_share(81).is_err());
    }
}
