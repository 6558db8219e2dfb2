//! `neckline convert`: a tune from one format into another.

mod all;
mod target;

use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::neck::Position;
use fretlib::theory::Octave;

use crate::args::{InstrumentArgs, TuneArgs};
use crate::failure::Failure;
use crate::hand::HandArgs;
use crate::instrument::instrument;
use crate::output::write_file;
use crate::streams::Streams;
use crate::tune::{KeySource, tune};

use target::Lie;
pub use target::Target;

/// Write a tune in another format: RON, ABC, MusicXML with tablature, or MIDI.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The format goes by the ending of OUT (.ron, .abc, .musicxml or .xml, .mxl, .mid) or by --format. A score has a staff and a \
tablature staff; the tablature is the best placement of the map, or the one picked with --position and --octave, and where \
no position holds the whole tune the best fingering along the neck. A MIDI file sounds as the instrument does.

What a format has no place for is lost: phrases in ABC, MusicXML and MIDI; in MIDI also chord symbols, the spelling of \
chromatic notes, and modes other than major and minor.

Examples:
  neckline convert tune.abc tune.musicxml --position V
  neckline convert score.mxl tune.ron --part Flute
  neckline convert take.mid - --format abc --grid 1/16
  neckline convert --all tunes/ scores/ --format musicxml
  neckline convert --all book.abc tunes/ --format ron")]
pub struct Convert {
    #[command(flatten)]
    pub tune: TuneArgs,

    /// The file to write, or `-` for standard output; with --all a folder
    #[arg(value_name = "OUT", help_heading = "Output", display_order = 0)]
    pub out: Option<PathBuf>,

    /// The format to write [default: by the ending of OUT]
    #[arg(long, value_enum, value_name = "FORMAT", help_heading = "Output")]
    pub format: Option<Target>,

    /// Convert every tune of a folder or of a tune book, into the folder OUT
    #[arg(long, help_heading = "Output")]
    pub all: bool,

    /// Write over files that are there
    #[arg(long, help_heading = "Output")]
    pub replace: bool,

    /// The position of the tablature, such as V or 5 [default: the best]
    #[arg(long, value_name = "POSITION", help_heading = "Output")]
    pub position: Option<Position>,

    /// The octave to move the tune by, such as +1 [default: the nearest that is on the neck]
    #[arg(
        long,
        value_name = "OCTAVE",
        help_heading = "Output",
        allow_hyphen_values = true
    )]
    pub octave: Option<Octave>,

    #[command(flatten)]
    pub hand: HandArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,
}

impl Convert {
    fn lie(&self, streams: &Streams) -> Result<Lie, Failure> {
        Ok(Lie {
            position: self.position,
            octave: self.octave,
            hand: self.hand.hand(streams)?,
        })
    }
}

/// Converts one tune, or all of them.
pub fn run(args: &Convert, streams: &mut Streams) -> Result<(), Failure> {
    let Some(out) = &args.out else {
        return Err(Failure::usage(
            "convert needs a tune and a file to write",
            "as in `neckline convert tune.abc tune.musicxml`",
        ));
    };
    let instrument = instrument(&args.instrument)?;
    if args.all {
        return all::run(args, out, &instrument, streams);
    }
    let format = match args.format {
        Some(format) => format,
        None => Target::by_ending(out).ok_or_else(|| {
            Failure::usage(
                format!("the ending of `{}` names no format", out.display()),
                "end the name in .ron, .abc, .musicxml, .mxl or .mid, or give --format",
            )
        })?,
    };
    let tune = tune(&args.tune, streams)?;
    if tune.key_source == KeySource::Estimated {
        writeln!(
            streams.stderr,
            "note: the tune does not say its key: {} is written, found from its notes; `--key` takes another",
            tune.key
        )?;
    }
    let written = target::write(&tune.melody, &instrument, format, args.lie(streams)?)?;
    for remark in &written.warnings {
        writeln!(streams.stderr, "note: {remark}")?;
    }
    if out == Path::new("-") {
        streams.stdout.write_all(&written.bytes)?;
        return Ok(());
    }
    write_new(out, &written.bytes, args.replace)
}

/// Writes a file; one that is there already only when it is to be replaced.
fn write_new(path: &Path, bytes: &[u8], replace: bool) -> Result<(), Failure> {
    if !replace && path.is_file() {
        return Err(Failure::could_not(
            format!("`{}` is there already", path.display()),
            "choose another name, or give `--replace`",
        ));
    }
    write_file(path, bytes)
}
