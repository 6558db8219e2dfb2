//! `neckline convert`: a tune from one format into another.

mod all;
mod target;

use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::fingering::Player;
use fretlib::neck::Position;
use fretlib::theory::Octave;

use crate::failure::Failure;
use crate::input::tune::KeySource;
use crate::output::{Existing, write_file_with};
use crate::request::{HandRequest, InstrumentRequest, TuneRequest};
use crate::terminal::Streams;

use target::Written;
pub use target::{MidiOrder, TablatureChoice, Target, write as write_tune};

/// What to convert, and into what.
#[derive(Debug)]
pub struct ConvertRequest {
    /// Which tune; with `all` a folder or a tune book.
    pub tune: TuneRequest,
    /// The file to write, or `-` for standard output; with `all` a folder.
    pub out: Option<PathBuf>,
    /// The format; `None` for that of the file's ending.
    pub format: Option<Target>,
    /// Convert every tune of a folder or of a tune book.
    pub all: bool,
    /// What is done about files that are there.
    pub existing: Existing,
    /// The position of the tablature; `None` for the best.
    pub position: Option<Position>,
    /// The octave to move the tune by; `None` for the nearest on the neck.
    pub octave: Option<Octave>,
    /// In which order a MIDI file has the bars.
    pub midi_order: MidiOrder,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

impl ConvertRequest {
    /// Whether a fingering kept with the tune is written, where the format has a place for it.
    fn shows_own(&self) -> bool {
        self.position.is_none() && self.octave.is_none()
    }

    fn tablature(&self, streams: &Streams) -> Result<TablatureChoice, Failure> {
        Ok(TablatureChoice {
            own: None,
            position: self.position,
            octave: self.octave,
            hand: self.hand.open(streams)?,
            open_strings: self.hand.open_strings(streams)?,
            preference: self.hand.preference(streams)?,
        })
    }
}

/// Converts one tune, or all of them.
pub fn run(request: &ConvertRequest, streams: &mut Streams) -> Result<(), Failure> {
    let Some(out) = &request.out else {
        return Err(Failure::usage(
            "convert needs a tune and a file to write",
            "as in `neckline convert tune.abc tune.musicxml`",
        ));
    };
    let instrument = request.instrument.open()?;
    if request.all {
        return all::run(request, out, &instrument, streams);
    }
    let format = match request.format {
        Some(format) => format,
        None => Target::by_ending(out).ok_or_else(|| {
            Failure::usage(
                format!("the ending of `{}` names no format", out.display()),
                "end the name in .ron, .abc, .musicxml, .mxl or .mid, or give --format",
            )
        })?,
    };
    let tune = request.tune.open(streams)?;
    if tune.key_source == KeySource::Estimated {
        writeln!(
            streams.stderr,
            "note: no key declared; using {} (estimated). Set it with `--key`",
            tune.key
        )?;
    }
    let mut tablature = request.tablature(streams)?;
    if request.shows_own() {
        let player = Player {
            instrument: &instrument,
            hand: tablature.hand,
        };
        let own = request.tune.own_fingering(&tune, player, streams)?;
        tablature.own = own.map(|own| (own.fingering.clone(), own.octave()));
    }
    let written = target::write(
        &tune.melody,
        &instrument,
        format,
        &tablature,
        request.midi_order,
    )?;
    for remark in &written.warnings {
        writeln!(streams.stderr, "note: {remark}")?;
    }
    if out == Path::new("-") {
        return write_to_stdout(&written, format, streams);
    }
    write_file_with(out, request.existing, |out| written.write_to(out))
}

/// Writes a file to standard output: unchanged for another program, as clean text for a terminal.
fn write_to_stdout(
    written: &Written,
    format: Target,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if !streams.stdout_is_terminal {
        return Ok(written.write_to(streams.stdout.unfiltered())?);
    }
    if !format.is_text() {
        return Err(Failure::usage(
            "such a file is not for a terminal to show",
            "name a file to write, or pass it to another program",
        ));
    }
    Ok(written.write_to(&mut streams.stdout)?)
}
