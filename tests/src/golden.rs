//! The records of `data/golden`: 240 tunes on which independent readers agree (source in the README there).

use std::collections::HashMap;

use fretlib::melody::{AnalysedNote, Melody, Quarters};
use serde::Deserialize;

/// One tune; `data/README.md` explains the fields.
#[derive(Clone, Debug, Deserialize)]
pub struct Golden {
    pub id: String,
    pub title: String,
    pub key: String,
    pub fifths: i8,
    pub meter: String,
    pub notes: Vec<GoldenNote>,
    pub intervals: Vec<String>,
    pub low: String,
    pub high: String,
    pub key_estimates: HashMap<String, String>,
    pub musicxml_file: Option<String>,
    pub midi_file: Option<String>,
}

#[derive(Clone, Debug, Deserialize, Eq, PartialEq)]
pub struct GoldenNote {
    pub pitch: String,
    pub midi: u8,
    pub onset: String,
    pub dur: String,
    pub bar: u32,
    pub degree: String,
    pub membership: String,
}

impl From<&AnalysedNote> for GoldenNote {
    fn from(line: &AnalysedNote) -> GoldenNote {
        GoldenNote {
            pitch: line.note.pitch.to_string(),
            midi: line.note.pitch.midi().get(),
            onset: line.note.onset.to_string(),
            dur: line.note.duration.to_string(),
            bar: line.bar,
            degree: line.degree.to_string(),
            membership: line.membership.name().to_owned(),
        }
    }
}

/// All tunes, collection by collection.
pub fn tunes() -> Vec<Golden> {
    let mut files: Vec<String> = std::fs::read_dir(crate::data("golden"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.sort();
    files
        .iter()
        .flat_map(|file| crate::json_lines(&format!("golden/{file}")))
        .collect()
}

/// The tunes of the collections whose names begin so.
pub fn collection(name: &str) -> impl Iterator<Item = Golden> + use<'_> {
    tunes()
        .into_iter()
        .filter(move |tune| tune.id.starts_with(name))
}

impl Golden {
    /// The tune as ABC.
    pub fn abc(&self) -> Vec<u8> {
        std::fs::read(self.abc_path()).unwrap_or_else(|error| panic!("{}: {error}", self.id))
    }

    /// The path of the tune as ABC, for a command line.
    pub fn abc_path(&self) -> String {
        let path = crate::data(&format!("abc/{}.abc", self.id));
        path.to_str()
            .expect("the tests lie below a name in Unicode")
            .to_owned()
    }

    /// The title with single spaces, as the readers give it.
    pub fn tidy_title(&self) -> String {
        self.title.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Compares MIDI number, onset and duration of every note; gives how many are spelled alike.
    ///
    /// The records allow for clocks that stray by `midi_tolerance`; a reader with a grid does not need that.
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
