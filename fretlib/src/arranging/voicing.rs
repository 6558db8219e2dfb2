//! A voicing: notes that sound together, with their places and fingers.

use std::fmt;
use std::str::FromStr;

use super::chord_role::ChordRole;
use crate::error::ParseError;
use crate::neck::{Finger, Fret, Instrument, Place, StringNumber};
use crate::theory::{ChordDegree, Pitch};

/// A place on the neck and the finger on it.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct FingeredPlace {
    /// The string and the fret.
    pub place: Place,
    /// The finger; `None` on an open string, and where the thumb comes over the neck.
    pub finger: Option<Finger>,
}

impl FingeredPlace {
    /// True on an open string.
    pub fn is_open(self) -> bool {
        self.place.fret == Fret::OPEN
    }

    /// True where the thumb comes over the neck.
    pub fn is_thumb(self) -> bool {
        self.finger.is_none() && !self.is_open()
    }
}

/// A note of a voicing under the melody.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct UnderNote {
    /// Its place and finger.
    pub at: FingeredPlace,
    /// Written pitch, spelled by the chord.
    pub pitch: Pitch,
    /// Its degree over the chord.
    pub degree: ChordDegree,
    /// Its role in the chord.
    pub role: ChordRole,
}

impl UnderNote {
    /// True for the root, the fifth and the bass the symbol asks for: what a bass may be.
    pub fn is_bass(&self) -> bool {
        matches!(
            self.role,
            ChordRole::Root | ChordRole::Fifth | ChordRole::Bass
        )
    }
}

/// A finger that lies across several strings at one fret.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Barre {
    /// The finger.
    pub finger: Finger,
    /// The fret.
    pub fret: u8,
    /// The highest string it holds, with the lower number.
    pub from: StringNumber,
    /// The lowest string it holds.
    pub to: StringNumber,
}

impl Barre {
    /// How many strings it covers.
    pub fn strings(self) -> u8 {
        self.to.get() - self.from.get() + 1
    }
}

/// A melody note with at least one note under it.
#[derive(Clone, Debug, PartialEq)]
pub struct Voicing {
    /// The melody note.
    pub melody: FingeredPlace,
    // Invariant: not empty, lowest first, all below the melody, one note a string.
    pub(super) under: Vec<UnderNote>,
    pub(super) barre: Option<Barre>,
    pub(super) omitted: Vec<ChordDegree>,
    /// True when no guide tone is missing, including the melody.
    pub(super) is_complete: bool,
}

impl Voicing {
    /// The notes under the melody, lowest first; never empty.
    pub fn under(&self) -> &[UnderNote] {
        &self.under
    }

    /// The finger that lies across several strings, if one does.
    pub fn barre(&self) -> Option<Barre> {
        self.barre
    }

    /// The root, fifth and guide tones that sound neither in the melody nor under it.
    pub fn omitted(&self) -> &[ChordDegree] {
        &self.omitted
    }

    /// True when every guide tone sounds, including the melody.
    pub fn is_complete(&self) -> bool {
        self.is_complete
    }

    /// All places with their fingers, the lowest note first, the melody last.
    pub fn places(&self) -> impl DoubleEndedIterator<Item = FingeredPlace> + '_ {
        self.under.iter().map(|note| note.at).chain([self.melody])
    }

    /// True when the lowest note is the root or the fifth of the chord, or the bass its symbol asks for.
    pub fn has_bass(&self) -> bool {
        self.under[0].is_bass()
    }

    /// The notes between bass and melody, or all notes under the melody when there is no bass.
    pub fn inner(&self) -> &[UnderNote] {
        &self.under[usize::from(self.has_bass())..]
    }

    /// The position of the hand; `None` when no finger is down.
    pub fn position(&self) -> Option<u8> {
        let low = self
            .places()
            .filter_map(|it| Some((it.finger?, it.place.fret.get())))
            .min_by_key(|(finger, _)| *finger)?;
        Some((low.1 + 1).saturating_sub(low.0.get()).max(1))
    }

    /// From the lowest stopped fret to the highest one in millimetres.
    pub fn reach_mm(&self, instrument: &Instrument) -> f64 {
        reach_mm(self.places().map(|it| it.place), instrument)
    }

    /// True when the thumb comes over the neck.
    pub fn has_thumb(&self) -> bool {
        self.under.iter().any(|note| note.at.is_thumb())
    }

    /// How many fingers are down, the thumb left out.
    pub fn fingers(&self) -> usize {
        Finger::ALL
            .into_iter()
            .filter(|finger| self.places().any(|it| it.finger == Some(*finger)))
            .count()
    }

    /// Frets from the lowest string to the highest, as players write a shape: `x-10-x-10-11-10`.
    pub fn shape(&self, instrument: &Instrument) -> Shape {
        let fret = |string: StringNumber| {
            let at = self.places().find(|it| it.place.string == string)?;
            Some(at.place.fret.get())
        };
        Shape(instrument.string_numbers().rev().map(fret).collect())
    }
}

/// From the lowest stopped fret to the highest one in millimetres.
pub(super) fn reach_mm(places: impl Iterator<Item = Place>, instrument: &Instrument) -> f64 {
    let frets: Vec<Fret> = places
        .map(|place| place.fret)
        .filter(|fret| *fret > Fret::OPEN)
        .collect();
    match (frets.iter().min(), frets.iter().max()) {
        (Some(low), Some(high)) => {
            instrument.millimetres_at(*high) - instrument.millimetres_at(*low)
        }
        _ => 0.0,
    }
}

/// A fret for each string from the lowest to the highest; `None` is a string that does not sound.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Shape(pub Vec<Option<u8>>);

impl Shape {
    /// True when a voicing has this shape on an instrument.
    pub(super) fn is_of(&self, voicing: &Voicing, instrument: &Instrument) -> bool {
        let strings = instrument.strings().len();
        let fret = |it: FingeredPlace| {
            let from_the_lowest = strings.checked_sub(usize::from(it.place.string.get()))?;
            self.0.get(from_the_lowest).copied().flatten()
        };
        let sounding = self.0.iter().flatten().count();
        self.0.len() == strings
            && sounding == voicing.under.len() + 1
            && voicing
                .places()
                .all(|it| fret(it) == Some(it.place.fret.get()))
    }
}

impl fmt::Display for Shape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let frets = self.0.iter().map(|fret| match fret {
            Some(fret) => fret.to_string(),
            None => "x".into(),
        });
        f.pad(&frets.collect::<Vec<_>>().join("-"))
    }
}

impl FromStr for Shape {
    type Err = ParseError;

    /// Reads frets from the lowest string, `x` where a string does not sound.
    fn from_str(text: &str) -> Result<Shape, ParseError> {
        let unreadable = || {
            ParseError::unreadable(
                text,
                "a shape from the lowest string such as x-10-x-10-11-10",
            )
        };
        let fret = |word: &str| match word {
            "x" | "X" => Ok(None),
            number => {
                let fret = number
                    .parse()
                    .ok()
                    .and_then(|number| Fret::new(number).ok());
                fret.map(|fret| Some(fret.get())).ok_or_else(unreadable)
            }
        };
        let frets: Vec<Option<u8>> = text.trim().split('-').map(fret).collect::<Result<_, _>>()?;
        if frets.len() > usize::from(StringNumber::MOST) {
            return Err(unreadable());
        }
        Ok(Shape(frets))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes_are_read_back_and_nothing_else() {
        for text in ["x-10-x-10-11-10", "0", "x-x-0-2-x-x"] {
            assert_eq!(text.parse::<Shape>().unwrap().to_string(), text);
        }
        for text in [
            "",
            "x-",
            "x--1",
            "37",
            "a-b",
            "1-2-3-4-5-6-7-8-9-10-11-12-13",
        ] {
            assert!(text.parse::<Shape>().is_err(), "{text}");
        }
    }
}
