//! Tuning the strings of an instrument to other notes.

use super::instrument::{Instrument, InstrumentError, InstrumentSpec};
use crate::error::{ParseError, is_error};
use crate::theory::{Pitch, PitchClass};
use std::fmt;

/// Why a list of open strings is not a tuning.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum TuningError {
    /// A word is not the name of a note.
    Unreadable(ParseError),
    /// Some strings have an octave and some have none.
    SomeOctaves {
        /// The first string with an octave.
        with: Pitch,
        /// The first string without one.
        without: PitchClass,
    },
    /// The strings do not make an instrument.
    Instrument(InstrumentError),
}

impl fmt::Display for TuningError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TuningError::Unreadable(error) => error.fmt(f),
            TuningError::SomeOctaves { with, without } => write!(
                f,
                "{with} has an octave and {without} has none: give one for every string or for none"
            ),
            TuningError::Instrument(error) => error.fmt(f),
        }
    }
}

is_error!(
    TuningError,
    Unreadable(ParseError),
    Instrument(InstrumentError)
);

impl Instrument {
    /// The same instrument with its strings tuned as players say it, from the lowest string to string 1.
    ///
    /// Notes are separated by spaces, or run together in capitals: `E A D G B E`, `DADGAD`, `Eb Ab Db Gb Bb Eb`. With
    /// octaves (`D3 A3 D4 G4 A4 D5`) they are exact, as written pitch. Without octaves, each string moves to the
    /// nearest such note, and down if up is equally far. When the number of strings differs, this holds for the
    /// lowest string only; every other string takes the next such note above the string before it.
    ///
    /// # Errors
    ///
    /// When a word is not a note, only some strings have octaves, there are not 1 to 12 strings, or a fret would be above
    /// MIDI note 127.
    ///
    /// ```
    /// use fretlib::neck::Instrument;
    ///
    /// let guitar = Instrument::default().tuned("DADGAD")?;
    /// let strings: Vec<String> = guitar.strings().iter().map(ToString::to_string).collect();
    /// assert_eq!(strings.join(" "), "D5 A4 G4 D4 A3 D3");
    /// assert_eq!(guitar.name(), "guitar tuned D A D G A D");
    /// # Ok::<(), fretlib::neck::TuningError>(())
    /// ```
    pub fn tuned(&self, tuning: &str) -> Result<Instrument, TuningError> {
        let names = words(tuning)
            .map(str::parse)
            .collect::<Result<Vec<OpenString>, _>>()?;
        let mut strings = pitches(&names, self.strings())?;
        strings.reverse();
        if strings == self.strings() {
            return Ok(self.clone());
        }
        let names: Vec<&str> = words(tuning).collect();
        Ok(Instrument::new(InstrumentSpec {
            name: format!("{} tuned {}", self.name(), names.join(" ")),
            strings,
            ..self.build().clone()
        })?)
    }
}

/// The words of a list of notes, separated by spaces or commas, or run together in capitals.
pub(crate) fn words(text: &str) -> impl DoubleEndedIterator<Item = &str> {
    let is_letter = |c: char| matches!(c, 'A'..='G');
    text.split(|c: char| c.is_whitespace() || c == ',')
        .flat_map(move |word| {
            let starts: Vec<usize> = word
                .match_indices(is_letter)
                .map(|(start, _)| start)
                .filter(|start| *start > 0)
                .collect();
            let ends = starts.clone().into_iter().chain([word.len()]);
            [0].into_iter()
                .chain(starts)
                .zip(ends)
                .map(|(start, end)| &word[start..end])
                .collect::<Vec<_>>()
        })
        .filter(|word| !word.is_empty())
}

/// The name of a string: a note without its octave, or a pitch.
enum OpenString {
    Class(PitchClass),
    Pitch(Pitch),
}

impl std::str::FromStr for OpenString {
    type Err = ParseError;

    fn from_str(word: &str) -> Result<Self, ParseError> {
        if word.contains(|c: char| c.is_ascii_digit()) {
            word.parse().map(OpenString::Pitch)
        } else {
            word.parse().map(OpenString::Class)
        }
    }
}

/// The pitches of strings named from the lowest, on an instrument whose strings were `usual`.
/// String 1 comes first.
fn pitches(names: &[OpenString], usual: &[Pitch]) -> Result<Vec<Pitch>, TuningError> {
    let with = names.iter().find_map(|name| match name {
        OpenString::Pitch(pitch) => Some(*pitch),
        OpenString::Class(_) => None,
    });
    let mut pitches: Vec<Pitch> = Vec::with_capacity(names.len());
    for (index, name) in names.iter().enumerate() {
        let usual_here = match usual.len() {
            count if count == names.len() => usual.get(count - 1 - index),
            count if index == 0 => usual.get(count - 1),
            _ => None,
        };
        pitches.push(match (name, with, usual_here) {
            (OpenString::Pitch(pitch), ..) => *pitch,
            (OpenString::Class(without), Some(with), _) => {
                return Err(TuningError::SomeOctaves {
                    with,
                    without: *without,
                });
            }
            (OpenString::Class(class), None, Some(usual)) => {
                // Six semitones down to five up.
                lowest_from(*class, i16::from(usual.midi().get()) - 6)?
            }
            (OpenString::Class(class), None, None) => {
                let below = pitches.last().map_or(0, |pitch| pitch.midi().get().into());
                lowest_from(*class, below + 1)?
            }
        });
    }
    Ok(pitches)
}

/// The lowest pitch of this class whose MIDI number is at least `midi`.
fn lowest_from(class: PitchClass, midi: i16) -> Result<Pitch, ParseError> {
    let above = (i16::from(class.chroma()) - midi).rem_euclid(12);
    let natural = midi + above - i16::from(class.alteration());
    let octave = natural.div_euclid(12) - 1;
    // MIDI numbers and alterations are small: the octave is −2 to 10.
    Ok(Pitch::new(
        class.letter(),
        class.alteration(),
        octave as i8,
    )?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(instrument: &str, tuning: &str, strings: &str) {
        let instrument = Instrument::built_in(instrument).unwrap();
        let found: Vec<String> = instrument
            .tuned(tuning)
            .unwrap()
            .strings()
            .iter()
            .rev()
            .map(ToString::to_string)
            .collect();
        assert_eq!(found.join(" "), strings, "{tuning}");
    }

    #[test]
    fn strings_take_the_octave_nearest_to_what_they_were() {
        check("guitar", "E A D G B E", "E3 A3 D4 G4 B4 E5");
        check("guitar", "d,a,d,g,a,d", "D3 A3 D4 G4 A4 D5");
        check("guitar", "DGDGBD", "D3 G3 D4 G4 B4 D5");
        check("guitar", "C G C G C E", "C3 G3 C4 G4 C5 E5"); // string 2 goes up by a semitone
        check("guitar", "EbAbDbGbBbEb", "Eb3 Ab3 Db4 Gb4 Bb4 Eb5");
        check("guitar", "Bb A D G B E", "Bb2 A3 D4 G4 B4 E5"); // six semitones either way: slackened
        check("guitar", "Cb A D G B Fb", "Cb3 A3 D4 G4 B4 Fb5"); // the octave goes with the letter
        check("ukulele", "A D F# B", "A4 D4 F#4 B4"); // stays re-entrant
    }

    #[test]
    fn another_number_of_strings_is_stacked_upwards() {
        check("guitar", "B E A D G B E", "B2 E3 A3 D4 G4 B4 E5");
        check("guitar", "G D A E", "G3 D4 A4 E5");
        check("guitar", "E", "E3");
        check("bass", "D D", "D2 D3");
    }

    #[test]
    fn octaves_are_exact() {
        check("guitar", "G5 C4 E4 A4", "G5 C4 E4 A4");
        check("guitar", "D3A3D4G4A4D5", "D3 A3 D4 G4 A4 D5");
    }

    #[test]
    fn the_usual_tuning_changes_nothing() {
        let guitar = Instrument::default();
        assert_eq!(guitar.tuned("EADGBE"), Ok(guitar));
    }

    #[test]
    fn impossible_tunings_are_refused() {
        let cases = [
            ("", "number of strings 0 is not in the range 1 to 12"),
            (
                "E A D G B E A D G B E A D",
                "number of strings 13 is not in the range 1 to 12",
            ),
            (
                "E A H",
                "expected a note name such as C, F# or Bb, found `H`",
            ),
            (
                "E2 A=9",
                "expected a note with its octave such as E2, F#4 or Bb3, found `A=9`",
            ),
            ("E2 A2 C-2", "MIDI note -12 is not in the range 0 to 127"),
            (
                "E2 A",
                "E2 has an octave and A has none: give one for every string or for none",
            ),
            (
                "E2 G8",
                "fret 22 of string 1 (G8) would be above MIDI note 127",
            ),
        ];
        for (tuning, message) in cases {
            let error = Instrument::default().tuned(tuning).unwrap_err();
            assert_eq!(error.to_string(), message, "{tuning}");
        }
    }

    quickcheck::quickcheck! {
        fn any_text_is_a_tuning_or_an_error(text: String) -> bool {
            match Instrument::default().tuned(&text) {
                Ok(instrument) => (1..=12).contains(&instrument.strings().len()),
                Err(error) => !error.to_string().is_empty(),
            }
        }

        fn a_class_is_found_in_the_octave_from_a_number(class: Pitch, from: u8) -> bool {
            let from = i16::from(from % 100) + 2;
            let class = class.class();
            let found = lowest_from(class, from).unwrap();
            found.class() == class && (from..from + 12).contains(&i16::from(found.midi().get()))
        }
    }
}
