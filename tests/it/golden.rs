//! The records of `data/golden` (source in its README).

use std::path::Path;

use fretlib::melody::{Melody, Quarters};
use serde::Deserialize;

#[derive(Deserialize)]
pub struct Tune {
    pub title: String,
    pub key: String,
    pub musicxml_file: Option<String>,
    pub midi_file: Option<String>,
    pub notes: Vec<GoldenNote>,
    id: String,
}

#[derive(Deserialize)]
pub struct GoldenNote {
    pub pitch: String,
    pub midi: u8,
    pub onset: String,
    pub dur: String,
}

pub fn tunes() -> Vec<Tune> {
    let mut tunes = Vec::new();
    for entry in
        std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("data/golden")).unwrap()
    {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        tunes.extend(
            text.lines()
                .map(|line| serde_json::from_str::<Tune>(line).unwrap()),
        );
    }
    tunes
}

impl Tune {
    /// MIDI number, onset and duration of every note; how many are spelled alike.
    ///
    /// The records allow for files whose clock strays by `midi_tolerance`; a reader with a grid needs no allowance.
    pub fn check_sound(&self, melody: &Melody) -> usize {
        assert_eq!(melody.notes().len(), self.notes.len(), "{}", self.id);
        let mut spelled_alike = 0;
        for (note, golden) in melody.notes().iter().zip(&self.notes) {
            let read = (
                note.pitch.midi().get(),
                note.onset.to_string(),
                note.duration.to_string(),
            );
            let expected = (golden.midi, golden.onset.clone(), golden.dur.clone());
            assert_eq!(read, expected, "{}", self.id);
            spelled_alike += usize::from(note.pitch.to_string() == golden.pitch);
        }
        spelled_alike
    }

    /// Pitch, onset and duration of every note.
    pub fn check_notes(&self, melody: &Melody) {
        let read: Vec<(String, Quarters, Quarters)> = melody
            .notes()
            .iter()
            .map(|note| (note.pitch.to_string(), note.onset, note.duration))
            .collect();
        let golden: Vec<(String, Quarters, Quarters)> = self
            .notes
            .iter()
            .map(|note| {
                (
                    note.pitch.clone(),
                    note.onset.parse().unwrap(),
                    note.dur.parse().unwrap(),
                )
            })
            .collect();
        let first = read
            .iter()
            .zip(&golden)
            .position(|(read, golden)| read != golden);
        assert_eq!(
            first.map(|at| (&read[at], &golden[at])),
            None,
            "{}",
            self.id
        );
        assert_eq!(read.len(), golden.len(), "{}", self.id);
    }
}
