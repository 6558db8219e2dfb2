//! `neckline transcribe`: the notes of a recording.

mod struck_json;

use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::hearing::StruckNote;
use fretlib::neck::Instrument;
use fretlib::theory::Pitch;

use crate::audio::{Recording, listen_to};
use crate::commands::convert::{MidiOrder, TablatureChoice, Target, write_tune};
use crate::failure::Failure;
use crate::output::{Existing, write_file_with};
use crate::report::count::count;
use crate::report::json::write_json;
use crate::request::HandRequest;
use crate::terminal::Streams;

/// What to transcribe, and how.
#[derive(Debug)]
pub struct TranscribeRequest {
    /// The recording.
    pub recording: PathBuf,
    /// Print one JSON object instead of a list.
    pub json: bool,
    /// Write the notes down as a tune into this file.
    pub output: Option<PathBuf>,
    /// What is done about a file that is there.
    pub existing: Existing,
    /// The hand that plays it in tablature.
    pub hand: HandRequest,
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
        return write_json(
            streams,
            &struck_json::StruckDocument::new(&recording, &struck),
        );
    }
    if let Some(file) = &request.output {
        return write_down(&struck, file, request, streams);
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

/// Writes the notes down as a tune in the format of the file's ending.
fn write_down(
    struck: &[StruckNote],
    file: &Path,
    request: &TranscribeRequest,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let format = Target::by_ending(file).ok_or_else(|| {
        Failure::usage(
            format!("the ending of `{}` names no format", file.display()),
            "end the name in .ron, .abc, .musicxml, .mxl or .mid",
        )
    })?;
    let melody = StruckNote::written_down(struck).map_err(|error| {
        Failure::could_not(
            format!("the notes make no tune: {error}"),
            "record a shorter stretch",
        )
    })?;
    let said = |it: Option<String>| it.unwrap_or_else(|| "free".into());
    writeln!(
        streams.stderr,
        "note: {} found, in {} and {}, at {} quarter notes a minute; look them over",
        count(melody.notes().len(), "note"),
        said(melody.keys().first().map(ToString::to_string)),
        said(
            melody
                .meters()
                .first()
                .copied()
                .flatten()
                .map(|it| it.to_string())
        ),
        said(
            melody
                .tempos()
                .first()
                .map(|it| it.quarters_per_minute().to_string())
        )
    )?;
    let hand = &request.hand;
    let tablature = TablatureChoice {
        own: None,
        position: None,
        octave: None,
        hand: hand.open(streams)?,
        open_strings: hand.open_strings(streams)?,
        preference: hand.preference(streams)?,
    };
    let written = write_tune(
        &melody,
        &Instrument::default(),
        format,
        &tablature,
        MidiOrder::Written,
    )?;
    write_file_with(file, request.existing, |out| written.write_to(out))
}

/// `in tune`, `12 cents flat`: the tuning of the strings relative to A4.
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
