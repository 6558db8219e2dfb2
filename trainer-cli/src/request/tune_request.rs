//! Which tune, and on which instrument.

use fretlib::melody::{BarChoice, Quarters};
use fretlib::theory::{Interval, PitchClass};
use serde::{Deserialize, Serialize};

use super::InstrumentRequest;
use crate::input::built_in_tunes::built_in;

/// Which tune, and how to read, cut and move it.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct TuneRequest {
    /// A built-in tune, a file, or `-` for standard input; `None` for the first built-in tune.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// The number of the tune in a tune book.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<u32>,
    /// The voice to read, by its id or name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voice: Option<String>,
    /// The part of a score to read, by its name or number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// The track of a MIDI file to read, by its name or number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub track: Option<String>,
    /// The length that a MIDI file's notes are rounded to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grid: Option<Quarters>,
    /// Octaves from the numbers in a MIDI file to the written notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub octave_shift: Option<i8>,
    /// The key, or `estimate` to find it from the notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key: Option<String>,
    /// Only these bars.
    #[serde(with = "bars", skip_serializing_if = "Option::is_none")]
    pub bars: Option<BarChoice>,
    /// The interval to move the tune by.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub transpose: Option<Interval>,
    /// The tonic to move the tune to, the nearest way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to_key: Option<PitchClass>,
}

impl TuneRequest {
    /// The same tune without a choice of bars.
    pub fn whole(&self) -> TuneRequest {
        TuneRequest {
            bars: None,
            ..self.clone()
        }
    }

    /// The same request from any folder: files have their absolute path.
    pub fn from_anywhere(&self) -> TuneRequest {
        let file = |name: &String| {
            let path = std::path::absolute(name).ok().filter(|path| path.is_file());
            match path {
                Some(path) if built_in(name).is_none() => path.to_string_lossy().into_owned(),
                _ => name.clone(),
            }
        };
        TuneRequest {
            source: self.source.as_ref().map(file),
            ..self.clone()
        }
    }
}

/// A tune on an instrument, as stored in the history.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct TuneOnInstrument {
    /// The tune.
    pub tune: TuneRequest,
    /// The instrument.
    pub instrument: InstrumentRequest,
}

/// Bars as typed. Older histories have the first and the last number.
mod bars {
    use std::ops::RangeInclusive;

    use fretlib::melody::BarChoice;
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Stored {
        Numbers(RangeInclusive<u32>),
        Typed(String),
    }

    pub fn serialize<S: Serializer>(
        bars: &Option<BarChoice>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        bars.as_ref()
            .map(BarChoice::to_string)
            .serialize(serializer)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<BarChoice>, D::Error> {
        let stored: Option<Stored> = Option::deserialize(deserializer)?;
        stored
            .map(|stored| match stored {
                Stored::Numbers(numbers) => Ok(BarChoice::Numbers(numbers)),
                Stored::Typed(text) => text.parse().map_err(D::Error::custom),
            })
            .transpose()
    }
}
