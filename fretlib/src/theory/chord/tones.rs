//! What a chord is made of: a set of places on the line of fifths above its root.

use std::fmt;
use std::str::FromStr;

use crate::error::ParseError;
use crate::theory::spelling::{parse_alteration, write_alteration};
use crate::theory::{Degree, PitchClass};

/// The degree of a note over a chord, as players name it: `1`, `b9`, `#11`, `13`.
///
/// Chord numbers run to 13: the notes between the chord tones are counted in the second octave, except where a chord
/// uses them in place of a third (`2` and `4`) or of a seventh (`6`). [`Chord::degree`] says which name belongs where.
///
/// [`Chord::degree`]: super::Chord::degree
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct ChordDegree {
    // Invariant: one of `ALL`.
    number: u8,
    alteration: i8,
}

impl ChordDegree {
    /// Every name, upwards from the root through one octave.
    pub const ALL: [ChordDegree; 20] = [
        ChordDegree::new(1, 0),
        ChordDegree::new(9, -1),
        ChordDegree::new(2, 0),
        ChordDegree::new(9, 0),
        ChordDegree::new(9, 1),
        ChordDegree::new(3, -1),
        ChordDegree::new(3, 0),
        ChordDegree::new(4, 0),
        ChordDegree::new(11, 0),
        ChordDegree::new(11, 1),
        ChordDegree::new(5, -1),
        ChordDegree::new(5, 0),
        ChordDegree::new(5, 1),
        ChordDegree::new(6, -1),
        ChordDegree::new(13, -1),
        ChordDegree::new(6, 0),
        ChordDegree::new(13, 0),
        ChordDegree::new(7, -2),
        ChordDegree::new(7, -1),
        ChordDegree::new(7, 0),
    ];

    const fn new(number: u8, alteration: i8) -> ChordDegree {
        ChordDegree { number, alteration }
    }

    /// The number: 1 to 7, 9, 11 or 13.
    pub const fn number(self) -> u8 {
        self.number
    }

    /// Semitones above the root, octaves left out: 2 for 9, 3 for `b3`.
    pub const fn semitones(self) -> u8 {
        const MAJOR: [i8; 7] = [0, 2, 4, 5, 7, 9, 11];
        let natural = MAJOR[(self.number as usize - 1) % 7];
        (natural + self.alteration).rem_euclid(12) as u8
    }

    /// Semitones by which it differs from the same number over the major scale: −1 for `b9`.
    pub const fn alteration(self) -> i8 {
        self.alteration
    }
}

impl fmt::Display for ChordDegree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_alteration(self.alteration, f)?;
        write!(f, "{}", self.number)
    }
}

impl fmt::Debug for ChordDegree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for ChordDegree {
    type Err = ParseError;

    /// Reads one of the names in [`ChordDegree::ALL`], with `#` and `b` or `♯` and `♭`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "a chord degree such as b3, 5, #11 or 13");
        let split = text
            .find(|c: char| c.is_ascii_digit())
            .ok_or_else(unreadable)?;
        let (accidentals, digits) = text.split_at(split);
        let alteration = parse_alteration(accidentals).ok_or_else(unreadable)?;
        ChordDegree::ALL
            .into_iter()
            .find(|it| it.alteration == alteration && it.number.to_string() == digits)
            .ok_or_else(unreadable)
    }
}

/// Steps on the line of fifths above the root.
///
/// The letter and the accidental follow from the number alone, so no spelling table is needed: `b3` is −3 over
/// every root, and the note is the root's place plus this.
pub(super) type Fifths = i8;

pub(super) const SECOND: Fifths = 2;
pub(super) const MINOR_THIRD: Fifths = -3;
pub(super) const MAJOR_THIRD: Fifths = 4;
pub(super) const FOURTH: Fifths = -1;
pub(super) const FIFTH: Fifths = 1;
pub(super) const SIXTH: Fifths = 3;
const THIRDS: [Fifths; 2] = [MINOR_THIRD, MAJOR_THIRD];
const FIFTHS: [Fifths; 3] = [-6, FIFTH, 8];
const SEVENTHS: [Fifths; 3] = [-9, -2, 5];

/// The tones of a chord above its root, as a bit set over the line of fifths.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) struct ChordTones(
    // Invariant: bit n stands for n − WIDEST fifths; the root is always in the set.
    u32,
);

impl ChordTones {
    /// The widest tones: a diminished seventh nine fifths below the root, a raised ninth nine above
    /// it.
    pub(super) const WIDEST: Fifths = 9;

    /// Reads a formula as theory books print it, `1 3 5 b7`.
    pub(super) const fn formula(text: &str) -> ChordTones {
        let bytes = text.as_bytes();
        let mut tones = ChordTones(0);
        let mut alteration = 0;
        let mut number = 0;
        let mut index = 0;
        while index <= bytes.len() {
            let byte = if index < bytes.len() {
                bytes[index]
            } else {
                b' '
            };
            match byte {
                b'#' => alteration += 1,
                b'b' => alteration -= 1,
                b' ' => {
                    tones = tones.with(fifths_of(number, alteration));
                    alteration = 0;
                    number = 0;
                }
                digit => number = 10 * number + (digit - b'0') as i8,
            }
            index += 1;
        }
        assert!(tones.has(0), "a chord has a root");
        tones
    }

    /// These notes as tones above a root, by their spelling; `None` when one of them cannot be a
    /// chord tone.
    pub(super) fn above(root: PitchClass, notes: &[PitchClass]) -> Option<ChordTones> {
        notes
            .iter()
            .try_fold(ChordTones::formula("1"), |tones, note| {
                let tone = note.fifths() - root.fifths();
                let is_known = tone.unsigned_abs() <= Self::WIDEST.unsigned_abs();
                // No tone of any symbol lies seven or eight fifths below its root, nor seven above.
                (is_known && !matches!(tone, -8 | -7 | 7)).then(|| tones.with(tone))
            })
    }

    pub(super) const fn has(self, tone: Fifths) -> bool {
        tone.unsigned_abs() <= Self::WIDEST.unsigned_abs() && self.0 & Self::bit(tone) != 0
    }

    pub(super) const fn with(self, tone: Fifths) -> ChordTones {
        ChordTones(self.0 | Self::bit(tone))
    }

    pub(super) const fn without(self, tone: Fifths) -> ChordTones {
        ChordTones(self.0 & !Self::bit(tone))
    }

    const fn bit(tone: Fifths) -> u32 {
        1 << (tone + Self::WIDEST)
    }

    /// The tones, in no particular order.
    pub(super) fn iter(self) -> impl Iterator<Item = Fifths> {
        (-Self::WIDEST..=Self::WIDEST).filter(move |tone| self.has(*tone))
    }

    /// The tones in stacked order: 1 3 5 7 9 11 13.
    pub(super) fn stacked(self) -> Vec<Fifths> {
        let mut tones: Vec<Fifths> = self.iter().collect();
        tones.sort_by_key(|tone| {
            let name = self.name(*tone);
            (name.number, name.alteration)
        });
        tones
    }

    pub(super) fn third(self) -> Option<Fifths> {
        THIRDS.into_iter().find(|tone| self.has(*tone))
    }

    pub(super) fn seventh(self) -> Option<Fifths> {
        SEVENTHS.into_iter().find(|tone| self.has(*tone))
    }

    pub(super) fn without_third(self) -> ChordTones {
        THIRDS.into_iter().fold(self, ChordTones::without)
    }

    pub(super) fn without_fifth(self) -> ChordTones {
        FIFTHS.into_iter().fold(self, ChordTones::without)
    }

    /// The name of a tone among these others, when its spelling has a chord name.
    pub(super) fn name(self, tone: Fifths) -> ChordDegree {
        let alteration = alteration_of(tone);
        let number = match (number_of(tone), alteration) {
            (2, 0) if self.is_suspended_second() => 2,
            (2, _) => 9,
            (4, 0) if self.third().is_none() => 4,
            (4, _) => 11,
            (6, _) if self.seventh().is_some() => 13,
            (number, _) => number,
        };
        ChordDegree { number, alteration }
    }

    fn is_suspended_second(self) -> bool {
        self.has(SECOND) && !self.has(FOURTH) && self.third().is_none()
    }

    /// The name of any note, however spelled, over a chord with these tones.
    pub(super) fn degree(self, note: Fifths) -> ChordDegree {
        if self.has(note) {
            return self.name(note);
        }
        let sound = semitones_of(note);
        if let Some(tone) = self.iter().find(|tone| semitones_of(*tone) == sound) {
            return self.name(tone);
        }
        let is_sharp_side = note > 0;
        let takes_raised_ninth = self.has(MAJOR_THIRD) && self.seventh().is_some();
        self.name(match sound {
            1 => -5,
            2 => SECOND,
            3 if is_sharp_side || takes_raised_ninth => 9,
            3 => MINOR_THIRD,
            4 => MAJOR_THIRD,
            5 => FOURTH,
            6 if is_sharp_side => 6,
            6 => -6,
            7 => FIFTH,
            8 if is_sharp_side => 8,
            8 => -4,
            9 => SIXTH,
            10 => -2,
            11 => 5,
            _ => 0,
        })
    }
}

/// The place on the line of fifths of a chord number with its alteration.
pub(super) const fn fifths_of(number: i8, alteration: i8) -> Fifths {
    (2 * (number - 1) + 1).rem_euclid(7) - 1 + 7 * alteration
}

pub(super) const fn alteration_of(tone: Fifths) -> i8 {
    degree_of(tone).alteration()
}

const fn number_of(tone: Fifths) -> u8 {
    degree_of(tone).number()
}

const fn semitones_of(tone: Fifths) -> u8 {
    degree_of(tone).semitones()
}

/// Pitch classes are at most 62 fifths apart, and degrees reach 64.
const fn degree_of(tone: Fifths) -> Degree {
    match Degree::from_fifths(tone) {
        Ok(degree) => degree,
        Err(_) => unreachable!(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_formula_is_read_as_printed() {
        let cases = [
            ("1", &[0][..]),
            ("1 3 5", &[0, 4, 1]),
            ("1 b3 b5 bb7", &[0, -3, -6, -9]),
            ("1 3 #5 b7 b9 #9 #11 b13", &[0, 4, 8, -2, -5, 9, 6, -4]),
        ];
        for (text, tones) in cases {
            let expected = tones
                .iter()
                .fold(ChordTones(0), |set, tone| set.with(*tone));
            assert_eq!(ChordTones::formula(text), expected, "{text}");
        }
    }

    #[test]
    fn every_name_is_read_back_and_nothing_else() {
        for degree in ChordDegree::ALL {
            assert_eq!(degree.to_string().parse(), Ok(degree));
        }
        assert_eq!("♭9".parse::<ChordDegree>().unwrap().to_string(), "b9");
        for text in ["", "0", "8", "10", "b", "#13", "b2", "9b", "011", "bb5"] {
            assert!(text.parse::<ChordDegree>().is_err(), "{text}");
        }
    }

    #[test]
    fn every_note_has_a_name_that_exists_and_sounds_right() {
        for formula in [
            "1",
            "1 3 5",
            "1 4 5 b7",
            "1 2 5",
            "1 b3 b5 bb7",
            "1 3 5 6 9",
        ] {
            let tones = ChordTones::formula(formula);
            for note in -62..=62 {
                let name = tones.degree(note);
                assert!(
                    ChordDegree::ALL.contains(&name),
                    "{formula}: {note} is {name}"
                );
                let spelled = fifths_of(name.number() as i8, name.alteration());
                assert_eq!(
                    semitones_of(spelled),
                    semitones_of(note),
                    "{formula}: {note} is {name}"
                );
            }
        }
    }
}
