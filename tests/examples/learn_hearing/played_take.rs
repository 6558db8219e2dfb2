//! Takes of which it is known what was played.

use std::error::Error;
use std::path::{Path, PathBuf};

use fretlib::hearing::{Heard, RecordingRate};
use fretlib::melody::{Draft, Melody, Quarters};
use fretlib::theory::{MidiNumber, Pitch};
use serde::Deserialize;

/// A guitar sounds an octave below what is written.
const WRITTEN_ABOVE: u8 = 12;

/// A take as its folder's `truth.json` tells it.
#[derive(Deserialize)]
pub struct PlayedTake {
    #[serde(skip)]
    folder: PathBuf,
    file: String,
    pub played: Vec<PlayedNote>,
    /// The melody: what should have sounded, and when and how long in quarter notes, as fractions.
    #[serde(default)]
    pub score: Vec<ScoreNote>,
    #[serde(default)]
    quarters: Vec<(String, String)>,
}

#[derive(Deserialize)]
pub struct PlayedNote {
    pub on: f64,
    pub midi: i32,
    /// Which note of the melody it is.
    pub score_i: Option<usize>,
}

#[derive(Deserialize)]
pub struct ScoreNote {
    pub midi: u8,
}

impl PlayedTake {
    /// The takes of some folders.
    pub fn all_in(folders: &[String]) -> Result<Vec<PlayedTake>, Box<dyn Error>> {
        let mut takes = Vec::new();
        for folder in folders.iter().map(Path::new) {
            let truth = std::fs::read(folder.join("truth.json"))?;
            let told: Vec<PlayedTake> = serde_json::from_slice(&truth)?;
            takes.extend(told.into_iter().map(|take| PlayedTake {
                folder: folder.to_owned(),
                ..take
            }));
        }
        Ok(takes)
    }

    pub fn heard(&self) -> Result<Heard, Box<dyn Error>> {
        let mut file = hound::WavReader::open(self.folder.join(&self.file))?;
        let samples = file
            .samples::<i16>()
            .map(|it| it.map(|it| f32::from(it) / 32_768.0))
            .collect::<Result<Vec<f32>, _>>()?;
        let rate = RecordingRate::new(file.spec().sample_rate)?;
        Ok(Heard::whole(&samples, rate))
    }

    /// The melody as written.
    pub fn melody(&self) -> Result<Melody, Box<dyn Error>> {
        let mut draft = Draft::default();
        for (note, (onset, length)) in self.score.iter().zip(&self.quarters) {
            let onset: Quarters = onset.parse()?;
            if onset > draft.now {
                draft.rest(onset - draft.now)?;
            }
            let midi = MidiNumber::new(note.midi + WRITTEN_ABOVE)?;
            draft.note(Pitch::from_midi(midi), length.parse()?)?;
        }
        Ok(Melody::new(draft)?)
    }
}
