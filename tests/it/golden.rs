//! The records of `data/golden` (source in its README).

use std::path::Path;

use fretlib::melody::{Melody, Quarters};
use serde::Deserialize;

#[derive(Deserialize)]
pub struct Tune {
    pub title: String,
    pub key: String,
    pub musicxml_file: Option<String>,
    pub notes: Vec<GoldenNote>,
    id: String,
}

#[derive(Deserialize)]
pub struct GoldenNote {
    pub pitch: String,
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
