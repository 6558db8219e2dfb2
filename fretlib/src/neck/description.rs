//! How an instrument is written down in RON.

use serde::Deserialize;
use thiserror::Error;

use super::instrument::{Build, Instrument, InstrumentError};
use super::tuning;
use crate::error::ParseError;
use crate::theory::Pitch;

/// An instrument as it stands in a file; checked by [`Description::instrument`].
///
/// Text is borrowed, so that whoever has the file can tell where in it a word stands.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Instrument")]
pub(crate) struct Description<'a> {
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
pub(crate) enum DescriptionError<'a> {
    #[error("{error}")]
    Word { word: &'a str, error: ParseError },
    #[error("{0}")]
    Instrument(#[from] InstrumentError),
}

impl<'a> Description<'a> {
    pub(crate) fn instrument(self) -> Result<Instrument, DescriptionError<'a>> {
        let unreadable = |word, error| DescriptionError::Word { word, error };
        let strings = tuning::words(self.strings)
            .rev()
            .map(|word| word.parse().map_err(|error| unreadable(word, error)))
            .collect::<Result<Vec<Pitch>, _>>()?;
        let sounding = self
            .sounding
            .parse()
            .map_err(|error| unreadable(self.sounding, error))?;
        Ok(Instrument::new(Build {
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
