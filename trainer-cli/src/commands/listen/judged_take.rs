//! A recording held against a tune.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Write;
use std::path::Path;

use fretlib::hearing::{Heard, JudgedNote, NoteVerdict, Take};
use fretlib::melody::{Melody, Note};
use fretlib::neck::Place;
use fretlib::practice::TuneId;
use fretlib::text::Role;

use super::take_findings::findings;
use crate::audio::listen_to;
use crate::commands::arrange::ArrangedTune;
use crate::commands::transcribe::no_string;
use crate::failure::Failure;
use crate::input::built_in_tunes::BUILT_IN;
use crate::input::tune::Tune;
use crate::report::heading::title_or_untitled;
use crate::terminal::Streams;

/// A take of a tune, judged.
pub struct JudgedTake {
    /// The verdicts.
    pub take: Take,
    /// How far the strings are from A4 = 440 Hz, in cents.
    pub tuning_cents: f32,
    /// The melody it was held against.
    pub melody: Melody,
    is_arranged: bool,
}

/// What the signs of verdicts mean.
pub const LEGEND: &str = "x wrong   - missing   < early   > late   ? not sure";

impl JudgedTake {
    /// Listens to a recording of a tune, played as it is arranged if it is.
    ///
    /// # Errors
    ///
    /// When the recording cannot be read, no string is heard in it, or it is of something else.
    pub fn of(
        recording: &Path,
        tune: &Tune,
        arranged: Option<&ArrangedTune>,
        streams: &mut Streams,
    ) -> Result<JudgedTake, Failure> {
        let recording = listen_to(recording)?;
        for remark in &recording.remarks {
            writeln!(streams.stderr, "note: {remark}")?;
        }
        if recording.heard.struck_notes().is_empty() {
            return Err(no_string(&recording));
        }
        let melody = arranged.map_or(&tune.melody, |arranged| &arranged.melody);
        let under = arranged.map_or(Vec::new(), ArrangedTune::struck_notes);
        let under: Vec<Note> = under.iter().map(|it| it.note).collect();
        let take = Take::of_arranged(&recording.heard, melody, &under);
        let agrees = take.as_ref().map_or(0.0, |it| it.fit);
        let Some(take) = take.filter(Take::fits) else {
            return Err(another_tune(&recording.heard, tune, agrees));
        };
        Ok(JudgedTake {
            take,
            tuning_cents: recording.heard.tuning_cents(),
            melody: melody.clone(),
            is_arranged: arranged.is_some(),
        })
    }

    /// Whether it was followed through an arrangement.
    pub fn is_arranged(&self) -> bool {
        self.is_arranged
    }

    /// A number that is the same for the same take and tune, so that one is not kept twice. Another version of the program
    /// may find another one.
    pub fn number(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        TuneId::of(&self.melody).hash(&mut hasher);
        for note in self.take.notes() {
            let heard = note.heard.map(|it| (it.pitch, (1000.0 * it.onset) as i64));
            (note.index, note.time, heard).hash(&mut hasher);
        }
        hasher.finish()
    }

    /// The sign of the worst verdict on each note of the melody, empty where it was right or not played.
    pub fn signs(&self) -> Vec<(String, Role)> {
        let mut signs = vec![(String::new(), Role::Plain); self.melody.notes().len()];
        for note in self.take.notes() {
            let sign = sign(note);
            if !sign.is_empty() {
                let role = if note.sure { Role::Wrong } else { Role::Plain };
                signs[note.index] = (sign.to_owned(), role);
            }
        }
        signs
    }

    /// What matters about it, a sentence each; notes are named by where they are played.
    pub fn sentences(&self, places: &[Option<Place>]) -> Vec<String> {
        let mut sentences = findings(&self.take, &self.melody, places);
        if self.is_arranged {
            sentences.insert(
                0,
                "The melody was followed through what lies under it, which is less certain than a line alone."
                    .into(),
            );
        }
        sentences
    }
}

/// The sign of a verdict under its note; empty for a right one.
pub fn sign(note: &JudgedNote) -> &'static str {
    match note.verdict {
        NoteVerdict::Right => "",
        _ if !note.sure => "?",
        NoteVerdict::Wrong => "x",
        NoteVerdict::Missing => "-",
        NoteVerdict::Early => "<",
        NoteVerdict::Late => ">",
    }
}

/// Reports that the recording is of something else, and names a built-in tune that fits.
fn another_tune(heard: &Heard, tune: &Tune, agrees: f64) -> Failure {
    let title = title_or_untitled(tune.melody.title()).to_owned();
    let fitting = BUILT_IN
        .iter()
        .filter_map(|it| Some((it.name, Take::of(heard, it.melody()).filter(Take::fits)?)))
        .max_by(|a, b| a.1.fit.total_cmp(&b.1.fit));
    match fitting {
        Some((name, take)) => {
            let first = take.passes.first().map_or(0, |it| it.bars.0);
            let last = take.passes.last().map_or(0, |it| it.bars.1);
            Failure::could_not(
                format!(
                    "this take does not fit {title}; {:.0} % of it fits bars {first}-{last} of another tune",
                    100.0 * take.fit
                ),
                format!("as in `neckline listen {name} --take …`"),
            )
        }
        None => Failure::could_not(
            format!(
                "this take does not fit {title}: {:.0} % of the notes agree, and {:.0} % would be enough",
                100.0 * agrees,
                100.0 * Take::FITS
            ),
            "check the tune, or play a longer stretch of it; `neckline transcribe` lists the notes that were heard",
        ),
    }
}
