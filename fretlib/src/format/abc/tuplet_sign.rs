//! Tuplets: `(3ABc`.

use super::note_length::Length;
use crate::melody::Meter;

/// The largest number of a tuplet, for its notes and for their time.
const MOST: u32 = 99;

/// The current tuplet, which is over when no notes are left in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct TupletSign {
    share: Length,
    left: u32,
    /// The count, and the time that it takes.
    pub ratio: (u32, u32),
}

impl TupletSign {
    /// No tuplet.
    pub const OVER: TupletSign = TupletSign {
        share: Length::ONE,
        left: 0,
        ratio: (1, 1),
    };

    /// `(p:q:r`: p notes in the time of q, for the next r notes and rests. `None` when q is neither given nor known, or
    /// when a number is above 99.
    ///
    /// Where q is not given it is 3 for 2, 4 and 8 notes, 2 for 3 and 6; for 5, 7 and 9 it is 3 in compound meters, else
    /// 2. Source: ABC 2.1, 4.13 (from memory).
    pub fn new(
        notes: u32,
        time: Option<u32>,
        span: Option<u32>,
        meter: Option<Meter>,
    ) -> Option<TupletSign> {
        let by_meter = match meter {
            Some(meter) if meter.is_compound() => 3,
            _ => 2,
        };
        let time = match (time, notes) {
            (Some(time), _) => time,
            (None, 2 | 4 | 8) => 3,
            (None, 3 | 6) => 2,
            (None, 5 | 7 | 9) => by_meter,
            (None, _) => return None,
        };
        let span = span.unwrap_or(notes);
        if notes.max(time).max(span) > MOST {
            return None;
        }
        Some(TupletSign {
            share: Length::new(time, notes)?,
            left: span,
            ratio: (notes, time),
        })
    }

    /// The share of the next note or rest.
    pub fn next_share(&mut self) -> Length {
        match self.left.checked_sub(1) {
            Some(left) => {
                self.left = left;
                self.share
            }
            None => Length::ONE,
        }
    }

    pub fn is_over(&self) -> bool {
        self.left == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_meter_decides_the_default() {
        let cases = [
            (2, "4/4", 3),
            (3, "6/8", 2),
            (4, "6/8", 3),
            (5, "4/4", 2),
            (5, "6/8", 3),
            (6, "3/4", 2),
            (7, "9/8", 3),
            (8, "4/4", 3),
            (9, "3/4", 2), // simple: three beats that divide in two
        ];
        for (notes, meter, time) in cases {
            let mut tuplet = TupletSign::new(notes, None, None, meter.parse().ok()).unwrap();
            for _ in 0..notes {
                assert!(!tuplet.is_over());
                assert_eq!(
                    Some(tuplet.next_share()),
                    Length::new(time, notes),
                    "{notes} in {meter}"
                );
            }
            assert!(tuplet.is_over());
            assert_eq!(tuplet.next_share(), Length::ONE);
        }
    }

    #[test]
    fn unusual_tuplets_need_all_numbers() {
        assert!(TupletSign::new(11, None, None, None).is_none());
        assert!(TupletSign::new(11, Some(8), None, None).is_some());
        for (time, span) in [(100, 1), (1, 100)] {
            assert!(TupletSign::new(3, Some(time), Some(span), None).is_none());
        }
    }
}
