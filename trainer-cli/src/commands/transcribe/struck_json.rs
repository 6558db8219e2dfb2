//! The JSON of `neckline transcribe`; its keys are a promise, see docs/json.md.

use fretlib::hearing::StruckNote;
use serde::Serialize;

use crate::audio::Recording;
use crate::report::json::rounded;

/// The whole document.
#[derive(Serialize)]
pub struct StruckDocument {
    schema: u32,
    sample_rate: u32,
    seconds: f64,
    struck: Vec<Struck>,
}

#[derive(Serialize)]
struct Struck {
    onset_seconds: f64,
    end_seconds: f64,
    midi: u8,
    cents: f64,
    level_db: f64,
}

impl StruckDocument {
    /// What is printed of a recording.
    pub fn new(recording: &Recording, struck: &[StruckNote]) -> StruckDocument {
        StruckDocument {
            schema: 1,
            sample_rate: recording.rate.get(),
            seconds: rounded(recording.heard.seconds(), 3),
            struck: struck
                .iter()
                .map(|note| Struck {
                    onset_seconds: rounded(note.onset, 4),
                    end_seconds: rounded(note.end, 4),
                    midi: note.pitch.get(),
                    cents: rounded(note.cents.into(), 1),
                    level_db: rounded(note.level_db.into(), 1),
                })
                .collect(),
        }
    }
}
