//! How far the fingers of the fretting hand reach.

use super::position::Finger;
use crate::error::{OutOfRange, check_range};

/// Comfortable and greatest distances between the fingers of a fretting hand, in millimetres along
/// the neck.
///
/// Source of the medium hand: spans of neighbouring fingers known from keyboard playing (Parncutt et al. 1997, Music
/// Perception 14, in semitones, here times 13.7 mm) and finger lengths (Chatzıoğlou, Pınar, Govsa 2024). No spans
/// measured on a neck were found; players can measure their own hand for [`Hand::new`] or [`Hand::measured`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hand {
    /// Fingers 1-2, 2-3 and 3-4.
    neighbours: [FingerReach; 3],
    /// Fingers 1-4.
    outer: FingerReach,
}

/// How far two fingers reach: comfortably, at most.
type FingerReach = (f64, f64);

/// The reach of the other pairs as a share of that from 1 to 4, from the same sources.
const NEIGHBOURS: [FingerReach; 3] = [
    (41.0 / 110.0, 69.0 / 137.0),
    (27.0 / 110.0, 55.0 / 137.0),
    (41.0 / 110.0, 69.0 / 137.0),
];
const ONE_BETWEEN: FingerReach = (69.0 / 110.0, 96.0 / 137.0);

impl Hand {
    /// 97 mm comfortably between fingers 1 and 4, 120 mm at most.
    pub const SMALL: Hand = Hand::of((97.0, 120.0));
    /// 110 mm comfortably between fingers 1 and 4, 137 mm at most.
    pub const MEDIUM: Hand = Hand::of((110.0, 137.0));
    /// 124 mm comfortably between fingers 1 and 4, 155 mm at most.
    pub const LARGE: Hand = Hand::of((124.0, 155.0));

    /// The hand of usual shape with this reach between fingers 1 and 4.
    const fn of(outer: FingerReach) -> Hand {
        Hand {
            neighbours: [
                share(outer, NEIGHBOURS[0]),
                share(outer, NEIGHBOURS[1]),
                share(outer, NEIGHBOURS[2]),
            ],
            outer,
        }
    }

    /// A hand measured by its owner: from finger 1 to finger 4, comfortably and at most, in whole
    /// millimetres.
    ///
    /// # Errors
    ///
    /// When `comfortable` is outside 40 to 250 or `utmost` is outside `comfortable` to 250.
    pub fn new(comfortable: u16, utmost: u16) -> Result<Hand, OutOfRange> {
        check_range("comfortable reach in mm", comfortable.into(), 40, 250)?;
        check_range("utmost reach in mm", utmost.into(), comfortable.into(), 250)?;
        Ok(Hand::of((comfortable.into(), utmost.into())))
    }

    /// A hand measured finger by finger: fingers 1-4 as for [`Hand::new`], then 1-2, 2-3 and 3-4,
    /// with the usual proportions where `None`.
    ///
    /// # Errors
    ///
    /// As for [`Hand::new`]; when neighbouring fingers reach less than 10 mm comfortably, less at most than
    /// comfortably, or farther than fingers 1 and 4.
    ///
    /// ```
    /// use fretlib::neck::{Finger, Hand};
    ///
    /// let hand = Hand::measured((105, 130), [Some((45, 70)), None, None])?;
    /// assert_eq!(hand.reach(Finger::First, Finger::Second), (45.0, 70.0));
    /// assert!(Hand::measured((105, 130), [Some((45, 131)), None, None]).is_err());
    /// # Ok::<(), fretlib::OutOfRange>(())
    /// ```
    pub fn measured(
        outer: (u16, u16),
        neighbours: [Option<(u16, u16)>; 3],
    ) -> Result<Hand, OutOfRange> {
        let mut hand = Hand::new(outer.0, outer.1)?;
        for (reach, measured) in hand.neighbours.iter_mut().zip(neighbours) {
            if let Some((comfortable, utmost)) = measured {
                check_range(
                    "comfortable reach in mm",
                    comfortable.into(),
                    10,
                    outer.0.into(),
                )?;
                check_range(
                    "utmost reach in mm",
                    utmost.into(),
                    comfortable.into(),
                    outer.1.into(),
                )?;
                *reach = (comfortable.into(), utmost.into());
            }
        }
        Ok(hand)
    }

    /// The arguments of [`Hand::measured`] that make this hand.
    #[cfg(feature = "serde")]
    pub(crate) fn measures(self) -> HandMeasures {
        // Measures are whole numbers; any other reach is the usual share of the outer one.
        let whole = |reach: FingerReach| (reach.0 as u16, reach.1 as u16);
        let usual = Hand::of(self.outer);
        let mut neighbours = [None; 3];
        for (index, measure) in neighbours.iter_mut().enumerate() {
            if self.neighbours[index] != usual.neighbours[index] {
                *measure = Some(whole(self.neighbours[index]));
            }
        }
        (whole(self.outer), neighbours)
    }

    /// The comfortable and the greatest distance between two fingers, in millimetres.
    ///
    /// ```
    /// use fretlib::neck::{Finger, Hand};
    ///
    /// assert_eq!(Hand::MEDIUM.reach(Finger::First, Finger::Fourth), (110.0, 137.0));
    /// assert_eq!(Hand::MEDIUM.reach(Finger::Third, Finger::Second).0.round(), 27.0);
    /// ```
    pub fn reach(self, one: Finger, other: Finger) -> (f64, f64) {
        let (low, high) = (one.min(other), one.max(other));
        match high.get() - low.get() {
            0 => (0.0, 0.0),
            1 => self.neighbours[usize::from(low.get() - 1)],
            2 => share(self.outer, ONE_BETWEEN),
            _ => self.outer,
        }
    }
}

/// The reach of fingers 1-4, and of 1-2, 2-3 and 3-4 unless it is the usual one.
#[cfg(feature = "serde")]
pub(crate) type HandMeasures = ((u16, u16), [Option<(u16, u16)>; 3]);

const fn share(reach: FingerReach, share: FingerReach) -> FingerReach {
    (reach.0 * share.0, reach.1 * share.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_utmost_reach_is_no_less_than_the_comfortable_one() {
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
