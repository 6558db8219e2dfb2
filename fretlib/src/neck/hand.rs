//! How far the fingers of the fretting hand reach.

use super::position::Finger;
use crate::error::{OutOfRange, check_range};

/// Comfortable and utmost distances between the fingers of a fretting hand, in millimetres along the neck.
///
/// Source of the medium hand: spans of neighbouring fingers known from keyboard playing (Parncutt et al. 1997, Music
/// Perception 14, in semitones, here times 13.7 mm) and finger lengths (Chatzıoğlou, Pınar, Govsa 2024). No spans measured
/// on a neck were found, so a player who knows better gives numbers of their own with [`Hand::new`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hand {
    comfortable: f64,
    utmost: f64,
}

/// Shares of the reach from 1 to 4 that other pairs have, comfortable and utmost, from the same sources.
const NEIGHBOURS: (f64, f64) = (41.0 / 110.0, 69.0 / 137.0);
const SECOND_THIRD: (f64, f64) = (27.0 / 110.0, 55.0 / 137.0);
const ONE_BETWEEN: (f64, f64) = (69.0 / 110.0, 96.0 / 137.0);

impl Hand {
    /// 97 mm in comfort between fingers 1 and 4, 120 mm at most.
    pub const SMALL: Hand = Hand::constant(97.0, 120.0);
    /// 110 mm in comfort between fingers 1 and 4, 137 mm at most.
    pub const MEDIUM: Hand = Hand::constant(110.0, 137.0);
    /// 124 mm in comfort between fingers 1 and 4, 155 mm at most.
    pub const LARGE: Hand = Hand::constant(124.0, 155.0);

    const fn constant(comfortable: f64, utmost: f64) -> Hand {
        Hand {
            comfortable,
            utmost,
        }
    }

    /// A hand measured by its owner: from finger 1 to finger 4 in comfort and at most, in whole millimetres.
    ///
    /// # Errors
    ///
    /// When `comfortable` is outside 40 to 250 or `utmost` is outside `comfortable` to 250.
    pub fn new(comfortable: u16, utmost: u16) -> Result<Hand, OutOfRange> {
        check_range("comfortable reach in mm", comfortable.into(), 40, 250)?;
        check_range("utmost reach in mm", utmost.into(), comfortable.into(), 250)?;
        Ok(Hand::constant(comfortable.into(), utmost.into()))
    }

    /// The distance between two fingers that is comfortable and the one that is possible at most, in millimetres.
    ///
    /// ```
    /// use fretlib::neck::{Finger, Hand};
    ///
    /// assert_eq!(Hand::MEDIUM.reach(Finger::First, Finger::Fourth), (110.0, 137.0));
    /// assert_eq!(Hand::MEDIUM.reach(Finger::Third, Finger::Second).0.round(), 27.0);
    /// ```
    pub fn reach(self, one: Finger, other: Finger) -> (f64, f64) {
        let (low, high) = (one.min(other), one.max(other));
        let (comfortable, utmost) = match (low, high) {
            _ if low == high => return (0.0, 0.0),
            (Finger::First, Finger::Fourth) => (1.0, 1.0),
            (Finger::Second, Finger::Third) => SECOND_THIRD,
            _ if high.get() - low.get() == 1 => NEIGHBOURS,
            _ => ONE_BETWEEN,
        };
        (self.comfortable * comfortable, self.utmost * utmost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_must_reach_at_least_as_far_at_most_as_in_comfort() {
        assert!(Hand::new(100, 130).is_ok());
        assert!(Hand::new(100, 99).is_err());
        assert!(Hand::new(39, 120).is_err());
        assert!(Hand::new(100, 251).is_err());
    }

    #[test]
    fn no_pair_reaches_farther_than_the_outer_fingers() {
        for hand in [Hand::SMALL, Hand::MEDIUM, Hand::LARGE] {
            let outer = hand.reach(Finger::First, Finger::Fourth);
            for one in Finger::ALL {
                for other in Finger::ALL {
                    let (comfortable, utmost) = hand.reach(one, other);
                    assert!(comfortable <= utmost && utmost <= outer.1 && comfortable <= outer.0);
                }
            }
        }
    }
}
