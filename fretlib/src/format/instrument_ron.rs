//! An instrument of the player's own, written in RON.
//!
//! ```ron
//! (
//!     name: "parlour guitar",
//!     strings: "E3 A3 D4 G4 B4 E5", // written pitch, from the lowest string to string 1
//!     frets: 19,
//!     scale_length: 620,            // millimetres from nut to bridge
//! )
//! ```
//!
//! Three more fields may follow: `capo`, the fret it is on; `sounding`, the interval from the written to the sounding
//! pitch, an octave down (`"-P8"`) when left out; `program`, the MIDI program counted from 0, 25 (a steel-string
//! guitar) when left out.

use serde::Deserialize;
use thiserror::Error;

use super::{Diagnostic, Location, ReadError, ron_source};
use crate::error::ParseError;
use crate::neck::{Instrument, InstrumentError, InstrumentSpec, words};
use crate::theory::Pitch;

/// Reads one instrument.
///
/// # Errors
///
/// When the text is not as above, or [`Instrument::new`] refuses the instrument.
///
/// ```
/// use fretlib::format::instrument_ron;
///
/// let error = instrument_ron::read("(name: \"lute\",\n strings: \"G3 H4\", frets: 9, scale_length: 600)").unwrap_err();
/// assert_eq!(
///     error.to_string(),
///     "line 2, column 15: expected a note with its octave such as E2, F#4 or Bb3, found `H4`"
/// );
/// ```
pub fn read(source: &str) -> Result<Instrument, ReadError> {
    let description: Description = ron_source::read(source).map_err(ReadError::new)?;
    description.instrument().map_err(|error| {
        ReadError::new(Diagnostic {
            at: match &error {
                DescriptionError::Word { word, .. } => ron_source::location(source, word),
                DescriptionError::Instrument(_) => Location::Whole,
            },
            problem: error.to_string(),
            hint: None,
        })
    })
}

/// An instrument as read from a file; [`Description::instrument`] checks it.
///
/// Text is borrowed, so that the place of a word in the file can be found.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Instrument")]
struct Description<'a> {
    name: String,
    /// Written pitches of the open strings, named from the lowest string to string 1.
    strings: &'a str,
    frets: u8,
    #[serde(default)]
    capo: u8,
    scale_length: f64,
    #[serde(default = "octave_below")]
    sounding: &'a str,
    #[serde(default = "steel_string_guitar")]
    program: u8,
}

/// A guitar sounds an octave below what is written.
fn octave_below() -> &'static str {
    "-P8"
}

/// Number 26 of General MIDI, counted from 0.
fn steel_string_guitar() -> u8 {
    25
}

/// What is wrong with a description.
#[derive(Debug, Error)]
enum DescriptionError<'a> {
    #[error("{error}")]
    Word { word: &'a str, error: ParseError },
    #[error("{0}")]
    Instrument(#[from] InstrumentError),
}

impl<'a> Description<'a> {
    fn instrument(self) -> Result<Instrument, DescriptionError<'a>> {
        let unreadable = |word, error| DescriptionError::Word { word, error };
        let strings = words(self.strings)
            .rev()
            .map(|word| word.parse().map_err(|error| unreadable(word, error)))
            .collect::<Result<Vec<Pitch>, _>>()?;
        let sounding = self
            .sounding
            .parse()
            .map_err(|error| unreadable(self.sounding, error))?;
        Ok(Instrument::new(InstrumentSpec {
            name: self.name,
            strings,
            frets: self.frets,
            capo: self.capo,
            scale_length: self.scale_length,
            sounding,
            program: self.program,
        })?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_are_those_of_a_guitar() {
        let text = r#"Instrument(name: "mine", strings: "E3 A3 D4 G4 B4 E5", frets: 22, scale_length: 648)"#;
        let mine = read(text).unwrap();
        let guitar = Instrument::default();
        assert_eq!(mine.name(), "mine");
        assert_eq!(mine.strings(), guitar.strings());
        assert_eq!(mine.sounding(), guitar.sounding());
        assert_eq!(mine.program(), guitar.program());
        assert_eq!(mine.capo(), 0);
    }

    #[test]
    fn errors_have_their_place() {
        let cases = [
            (
                "(name: \"mine\",\n  srtings: \"E3\")",
                "line 2, column 3: there is no field `srtings` here",
            ),
            (
                "(name: \"mine\",\n  strings: \"E3\", scale_length: 648)",
                "line 2, column 35: the field `frets` is missing",
            ),
            (
                "(name: \"mine\", strings: \"E3\", frets: 40, scale_length: 648)",
                "in the file: number of frets 40 is not in the range 1 to 36",
            ),
            (
                "(name: \"mine\", strings: \"E3\", frets: 12, scale_length: 648,\n sounding: \"down\")",
                "line 2, column 13: expected an interval such as m3, +P5 or -M2, found `down`",
            ),
            ("(name: mine)", "line 1, column 8: expected text"),
            (
                "",
                "line 1, column 1: expected opening `(` for struct `Instrument`",
            ),
        ];
        for (text, message) in cases {
            assert_eq!(read(text).unwrap_err().to_string(), message, "{text}");
        }
    }

    quickcheck::quickcheck! {
        fn any_text_is_an_instrument_or_a_fault(text: String) -> bool {
            read(&text).is_ok() || !read(&text).unwrap_err().diagnostics().is_empty()
        }
    }
}
