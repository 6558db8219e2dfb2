//! Note lengths as a product of small fractions, before they become time.

use crate::melody::Quarters;

/// A relative length: the `3/2` of `A3/2`, a unit note, the share of a tuplet.
///
/// Unreduced, so that a note costs a few multiplications and one reduction at the end.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Length {
    // Invariant: both positive.
    numer: i64,
    denom: i64,
}

impl Length {
    pub const ONE: Length = Length { numer: 1, denom: 1 };
    /// Lengths are fractions of a whole note; a quarter note is 1/4.
    pub const EIGHTH: Length = Length { numer: 1, denom: 8 };
    pub const SIXTEENTH: Length = Length {
        numer: 1,
        denom: 16,
    };

    pub fn new(numer: u32, denom: u32) -> Option<Length> {
        (numer > 0 && denom > 0).then_some(Length {
            numer: numer.into(),
            denom: denom.into(),
        })
    }

    /// The product; `None` on overflow.
    pub fn times(self, other: Length) -> Option<Length> {
        Some(Length {
            numer: self.numer.checked_mul(other.numer)?,
            denom: self.denom.checked_mul(other.denom)?,
        })
    }

    /// Its duration in quarter notes, as a fraction of a whole note.
    pub fn quarters(self) -> Option<Quarters> {
        Some(Quarters::new(self.numer.checked_mul(4)?, self.denom))
    }

    /// The two shares of broken rhythm with this many `>`: the dotted note and the rest of the time.
    ///
    /// Source: ABC 2.1, 4.4 (from memory): `>` dots the first note and halves the second, `>>` double-dots and quarters.
    pub fn broken(signs: u32) -> (Length, Length) {
        let whole = 1 << signs;
        let longer = Length {
            numer: 2 * whole - 1,
            denom: whole,
        };
        let shorter = Length {
            numer: 1,
            denom: whole,
        };
        (longer, shorter)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn broken_rhythm_keeps_the_time_of_two_notes() {
        for (signs, longer) in [(1, (3, 2)), (2, (7, 4)), (3, (15, 8))] {
            let (first, second) = Length::broken(signs);
            let [first, second] = [first, second].map(|share| share.quarters().unwrap() / 4);
            assert_eq!(first, Quarters::new(longer.0, longer.1));
            assert_eq!(first + second, Quarters::from(2));
        }
    }

    #[test]
    fn lengths_that_overflow_are_refused() {
        let long = Length::new(u32::MAX, 1).unwrap();
        assert_eq!(long.times(long).and_then(|it| it.times(long)), None);
        assert_eq!(Length::new(0, 1), None);
        assert_eq!(Length::new(1, 0), None);
        assert_eq!(Length::EIGHTH.quarters(), Some(Quarters::new(1, 2)));
    }
}
