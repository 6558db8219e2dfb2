//! A recording held against a tune.

use std::collections::BTreeSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Write;
use std::path::Path;

use fretlib::hearing::{Heard, HeardPass, JudgedNote, NoteVerdict, Take};
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

/// The verdicts on a pass.
pub const RIGHT: &str = "right";
pub const WITH_FAULTS: &str = "with faults";

/// `Bars 5-12, 152 to the minute`
pub fn pass_in_words(pass: &HeardPass) -> String {
    let tempo = pass.tempo;
    let tempo = tempo.map_or_else(String::new, |it| format!(", {it:.0} to the minute"));
    format!("Bars {}{tempo}", pass.bars_in_words())
}

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

    /// Whether a pass went through the bar.
    pub fn is_played(&self, bar: u32) -> bool {
        let passes = self.take.passes.iter();
        let mut bars = passes.map(|pass| pass.bars);
        bars.any(|(first, last)| (first..=last).contains(&bar))
    }

    /// `Bars 1-4, 9-32`: those with notes that no pass went through; empty when all were played.
    pub fn bars_not_played(&self) -> String {
        let mut runs: Vec<(u32, u32)> = Vec::new();
        let melody = &self.melody;
        let notes = melody.notes().iter();
        let begun: BTreeSet<u32> = notes.map(|it| melody.bar_at(it.onset).number).collect();
        // A pickup belongs to the bar after it; there is nothing to play in a rest or where a note is held.
        let bars = melody.bars().iter();
        for bar in bars.filter(|it| it.number > 0 && begun.contains(&it.number)) {
            match runs.last_mut() {
                _ if self.is_played(bar.number) => {}
                Some((_, last)) if bar.number - *last <= 1 => *last = bar.number,
                _ => runs.push((bar.number, bar.number)),
            }
        }
        let is_one = matches!(runs.as_slice(), [(first, last)] if first == last);
        let words: Vec<String> = runs
            .into_iter()
            .map(|(first, last)| match first == last {
                true => first.to_string(),
                false => format!("{first}-{last}"),
            })
            .collect();
        match words.is_empty() {
            true => String::new(),
            false => format!(
                "{} {}",
                if is_one { "Bar" } else { "Bars" },
                words.join(", ")
            ),
        }
    }

    /// Which bars were played, how fast and how, and which were not, a sentence each.
    pub fn played(&self) -> Vec<String> {
        let passes = self.take.passes.iter().map(|pass| {
            let word = if pass.is_right() { RIGHT } else { WITH_FAULTS };
            format!("{}: {word}.", pass_in_words(pass))
        });
        let silent = Some(self.bars_not_played()).filter(|bars| !bars.is_empty());
        let silent = silent.map(|bars| format!("{bars} not played."));
        passes.chain(silent).collect()
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
