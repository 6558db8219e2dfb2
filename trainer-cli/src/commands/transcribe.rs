//! `neckline transcribe`: the notes of a recording.

mod struck_json;

use std::io::Write;
use std::path::PathBuf;

use fretlib::theory::Pitch;

use crate::audio::{Recording, listen_to};
use crate::failure::Failure;
use crate::report::count::count;
use crate::report::json::write_json;
use crate::terminal::Streams;

/// What to transcribe, and how.
#[derive(Debug)]
pub struct TranscribeRequest {
    /// The recording.
    pub recording: PathBuf,
    /// Print one JSON object instead of a list.
    pub json: bool,
}

/// Prints the list or the JSON.
pub fn run(request: &TranscribeRequest, streams: &mut Streams) -> Result<(), Failure> {
    let recording = listen_to(&request.recording)?;
    for remark in &recording.remarks {
        writeln!(streams.stderr, "note: {remark}")?;
    }
    let struck = recording.heard.struck_notes();
    if struck.is_empty() {
        return Err(no_string(&recording));
    }
    if request.json {
        return write_json(streams, &struck_json::Document::new(&recording, &struck));
    }
    let seconds = recording.heard.seconds();
    let cents = recording.heard.tuning_cents();
    writeln!(
        streams.stdout,
        "{} in {seconds:.1} seconds, the strings {} at 440 Hz",
        count(struck.len(), "note"),
        tuning_in_words(cents)
    )?;
    writeln!(streams.stdout)?;
    writeln!(streams.stdout, "seconds  length  written  cents  level")?;
    for note in &struck {
        let written = note.pitch.transpose(12).unwrap_or(note.pitch);
        writeln!(
            streams.stdout,
            "{:7.2}  {:6.2}  {:<7}  {:+5.0}  {:5.0}",
            note.onset,
            note.end - note.onset,
            Pitch::from_midi(written).to_string(),
            note.cents,
            note.level_db
        )?;
    }
    Ok(())
}

/// `in tune`, `12 cents flat`: how the strings stand to A4.
pub fn tuning_in_words(cents: f32) -> String {
    match cents.round() as i32 {
        -4..=4 => "in tune".into(),
        flat @ ..=-5 => format!("{} cents flat", -flat),
        sharp => format!("{sharp} cents sharp"),
    }
}

/// Why nothing was heard.
pub fn no_string(recording: &Recording) -> Failure {
    let (problem, hint) = if recording.heard.peak() < 1e-4 {
        (
            "no string was heard: the recording is silent",
            "check that the microphone was on",
        )
    } else {
        (
            "no string was heard: there is only noise in the recording",
            "play nearer to the microphone, or in a quieter room",
        )
    };
    Failure::could_not(problem, hint)
}
