//! Which part of a neck a drawing shows, and which way round.

use std::ops::RangeInclusive;

use super::instrument::Instrument;
use super::place::{Fret, Place};
use super::position::{Finger, Position};

/// The inlay behind a fret, which marks it for the eye.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum Inlay {
    /// Bare wood.
    #[default]
    None,
    /// One dot.
    One,
    /// Two dots, at the octave.
    Two,
}

impl Inlay {
    /// The number of dots.
    pub const fn dots(self) -> usize {
        self as usize
    }
}

impl Instrument {
    /// The inlay behind a fret that is counted from the capo: a capo moves the count, not the wood.
    ///
    /// Common practice, no source: frets 3, 5, 7 and 9, two dots at 12, and the same an octave
    /// higher.
    ///
    /// ```
    /// use fretlib::neck::{Fret, Inlay, Instrument, InstrumentSpec};
    ///
    /// let guitar = Instrument::default();
    /// let capo = Instrument::new(InstrumentSpec { capo: 2, ..guitar.build().clone() })?;
    /// assert_eq!(guitar.inlay(Fret::new(12)?), Inlay::Two);
    /// assert_eq!(capo.inlay(Fret::new(10)?), Inlay::Two); // the twelfth fret of the wood
    /// assert_eq!(capo.inlay(Fret::new(12)?), Inlay::None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub const fn inlay(&self, fret: Fret) -> Inlay {
        let wood = fret.get() + self.capo();
        match wood % 12 {
            0 if wood > 0 => Inlay::Two,
            3 | 5 | 7 | 9 => Inlay::One,
            _ => Inlay::None,
        }
    }
}

/// A column of a drawn neck: the places of one fret, or the open strings.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct FretColumn {
    /// The fret; [`Fret::OPEN`] for the open strings beside the nut.
    pub fret: Fret,
    /// The inlay there.
    pub inlay: Inlay,
    /// The finger that stands over it, when the hand has a position.
    pub finger: Option<Finger>,
}

impl FretColumn {
    /// Whether these are the open strings.
    pub fn is_open(&self) -> bool {
        self.fret == Fret::OPEN
    }
}

/// The part of a neck that a drawing shows. String 1 is on top; the nut is at the left, or at the right for a
/// left-handed player. Text, sheet and screen all draw this.
///
/// ```
/// use fretlib::neck::{Fret, Instrument, NeckLayout};
///
/// let places = ["2:5".parse()?, "1:8".parse()?];
/// let layout = NeckLayout::around(&Instrument::default(), places, Some("V".parse()?));
/// let frets: Vec<u8> = layout.columns().iter().map(|column| column.fret.get()).collect();
/// assert_eq!(frets, [5, 6, 7, 8]);
/// assert!(!layout.is_at_nut());
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NeckLayout {
    // Invariant: at least one column; frets rise by one; the open strings stand first, and only before fret 1.
    columns: Vec<FretColumn>,
    left_handed: bool,
}

impl NeckLayout {
    /// The frets from the lowest to the highest that has a place or a finger of the position, at least four.
    ///
    /// From the second fret down the drawing begins at the nut, and shows the open strings there.
    pub fn around(
        instrument: &Instrument,
        places: impl IntoIterator<Item = Place>,
        position: Option<Position>,
    ) -> NeckLayout {
        let mut has_open = false;
        let (mut low, mut high) = match position {
            Some(position) => (position.get(), position.fret(Finger::Fourth).get()),
            None => (u8::MAX, 0),
        };
        for place in places {
            match place.fret.get() {
                0 => has_open = true,
                fret => (low, high) = (low.min(fret), high.max(fret)),
            }
        }
        if has_open || low <= 2 || low > high {
            low = 1;
        }
        let high = high.max(low + 3);
        NeckLayout::frets(instrument, low..=high, position)
    }

    /// These frets, as far as the instrument has them; with the open strings if they begin at fret
    /// 1.
    pub fn frets(
        instrument: &Instrument,
        frets: RangeInclusive<u8>,
        position: Option<Position>,
    ) -> NeckLayout {
        let highest = instrument.highest_fret().get();
        let low = (*frets.start()).clamp(1, highest);
        let high = (*frets.end()).clamp(low, highest);
        let first = if low == 1 { 0 } else { low };
        let over = |fret: Fret| {
            let mut fingers = Finger::ALL.into_iter();
            fingers.find(|finger| position.is_some_and(|position| position.fret(*finger) == fret))
        };
        let column = |fret: Fret| FretColumn {
            fret,
            inlay: instrument.inlay(fret),
            finger: over(fret),
        };
        let columns = (first..=high).filter_map(|number| Fret::new(number).ok());
        NeckLayout {
            columns: columns.map(column).collect(),
            left_handed: false,
        }
    }

    /// Mirrored for a left-handed player when `left_handed` is true.
    #[must_use]
    pub fn mirrored(self, left_handed: bool) -> NeckLayout {
        NeckLayout {
            left_handed,
            ..self
        }
    }

    /// At most this many frets beside the open strings, and at least one, starting at the hand.
    #[must_use]
    pub fn narrowed(mut self, most: usize) -> NeckLayout {
        let most = most.max(1);
        let frets = self.columns.len() - usize::from(self.is_at_nut());
        if frets > most {
            let open = self.columns.first().copied().filter(FretColumn::is_open);
            let stopped = self.columns.split_off(usize::from(open.is_some()));
            let hand = stopped.iter().position(|column| column.finger.is_some());
            let first = hand.unwrap_or(0).min(frets - most);
            // Open strings are only shown beside the nut.
            self.columns = open.filter(|_| first == 0).into_iter().collect();
            self.columns.extend(&stopped[first..first + most]);
        }
        self
    }

    /// The columns from the nut on, whichever way the neck is turned.
    pub fn columns(&self) -> &[FretColumn] {
        &self.columns
    }

    /// The columns as they are drawn, from left to right.
    pub fn left_to_right(&self) -> impl Iterator<Item = &FretColumn> {
        let count = self.columns.len();
        let turned = move |index| {
            if self.left_handed {
                count - 1 - index
            } else {
                index
            }
        };
        (0..count).map(move |index| &self.columns[turned(index)])
    }

    /// The columns that have a fret.
    pub fn stopped(&self) -> &[FretColumn] {
        &self.columns[usize::from(self.is_at_nut())..]
    }

    /// Whether the drawing begins at the nut or the capo, with the open strings beside it.
    pub fn is_at_nut(&self) -> bool {
        self.columns.first().is_some_and(FretColumn::is_open)
    }

    /// Whether the nut is at the right.
    pub fn is_left_handed(&self) -> bool {
        self.left_handed
    }

    /// Where a fret stands among the columns from the nut on; `None` when it is not shown.
    pub fn index_of(&self, fret: Fret) -> Option<usize> {
        self.columns.iter().position(|column| column.fret == fret)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::neck::InstrumentSpec;

    fn guitar(capo: u8) -> Instrument {
        let spec = Instrument::default().build().clone();
        Instrument::new(InstrumentSpec { capo, ..spec }).unwrap()
    }

    fn shown(layout: &NeckLayout) -> Vec<u8> {
        layout
            .left_to_right()
            .map(|column| column.fret.get())
            .collect()
    }

    fn around(places: &str, position: Option<&str>) -> NeckLayout {
        let places = places
            .split_whitespace()
            .map(|place| place.parse().unwrap());
        let position = position.map(|numeral| numeral.parse().unwrap());
        NeckLayout::around(&guitar(0), places, position)
    }

    #[test]
    fn the_places_and_the_hand_are_shown() {
        assert_eq!(shown(&around("3:7", Some("V"))), [5, 6, 7, 8]);
        assert_eq!(shown(&around("3:4 2:9", Some("V"))), [4, 5, 6, 7, 8, 9]);
        assert_eq!(shown(&around("3:3", Some("II"))), [0, 1, 2, 3, 4, 5]);
        assert_eq!(shown(&around("3:0 2:7", None)), [0, 1, 2, 3, 4, 5, 6, 7]);
        assert_eq!(shown(&around("", None)), [0, 1, 2, 3, 4]);
        assert_eq!(shown(&around("1:22", None)), [22]); // there is nothing above
    }

    #[test]
    fn fingers_stand_over_their_frets() {
        let layout = around("3:4", Some("V"));
        let fingers: Vec<_> = layout
            .columns()
            .iter()
            .map(|column| column.finger)
            .collect();
        let of = |number| Finger::new(number).ok();
        assert_eq!(fingers, [None, of(1), of(2), of(3), of(4)]);
    }

    // Common practice, no source: a capo does not move the inlays.
    #[test]
    fn inlays_stay_on_the_wood() {
        for capo in 0..6 {
            let neck = guitar(capo);
            for fret in 0..=neck.highest_fret().get() {
                let here = neck.inlay(Fret::new(fret).unwrap());
                let bare = guitar(0).inlay(Fret::new(fret + capo).unwrap());
                assert_eq!(here, bare, "fret {fret} with the capo at {capo}");
            }
        }
        let dots: Vec<usize> = (0..=24)
            .map(|fret| guitar(0).inlay(Fret::new(fret).unwrap()).dots())
            .collect();
        let expected = [
            0, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 0, 2, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 0, 2,
        ];
        assert_eq!(dots, expected);
    }

    #[test]
    fn a_left_handed_neck_is_mirrored_and_a_narrow_one_shows_the_hand() {
        let layout = around("3:4 2:9", Some("V"));
        assert_eq!(shown(&layout.clone().mirrored(true)), [9, 8, 7, 6, 5, 4]);
        assert_eq!(shown(&layout.clone().narrowed(4)), [5, 6, 7, 8]);
        assert_eq!(shown(&layout.narrowed(0)), [5]);
        let at_nut = around("3:0 2:7", Some("I"));
        assert_eq!(shown(&at_nut.clone().narrowed(3)), [0, 1, 2, 3]);
        assert_eq!(shown(&at_nut.mirrored(true).narrowed(3)), [3, 2, 1, 0]);
    }
}
