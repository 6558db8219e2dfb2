//! The forty tunes of `data/abc` with chords made from their keys (source in the README of `data`).

use fretlib::format::abc;
use fretlib::melody::{Melody, Quarters};
use serde::Deserialize;

/// A tune with its chords.
#[derive(Deserialize)]
pub struct Harmonised {
    pub tune: String,
    /// Kept out of tuning.
    pub kept_out: bool,
    /// Onsets in quarter notes and chord symbols.
    pub chords: Vec<(String, String)>,
}

impl Harmonised {
    /// The tune.
    ///
    /// # Panics
    ///
    /// When its file is missing or cannot be read.
    pub fn melody(&self) -> Melody {
        let bytes = std::fs::read(crate::data("abc").join(&self.tune)).unwrap();
        let reading = abc::read(&bytes, &abc::AbcOptions::default()).unwrap();
        let mut draft = reading.melody.into_draft();
        draft.chords = Default::default();
        for (onset, chord) in &self.chords {
            let onset: Quarters = onset.parse().unwrap();
            draft.chords.set(onset, Some(chord.parse().unwrap()));
        }
        Melody::new(draft).unwrap()
    }
}

/// All forty.
pub fn tunes() -> Vec<Harmonised> {
    let all: Vec<Harmonised> = crate::json_lines("harmonised.jsonl");
    assert_eq!(all.len(), 40);
    all
}
