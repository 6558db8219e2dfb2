//! `neckline convert`.

use std::path::PathBuf;

use clap::ValueEnum;
use fretlib::format::{Format, LostMatter};
use fretlib::neck::Position;
use fretlib::theory::Octave;

use super::hand_args::HandArgs;
use super::instrument_args::InstrumentArgs;
use super::tune_args::TuneArgs;
use crate::commands::convert::{ConvertRequest, MidiOrder, Target};
use crate::output::Existing;

const FORMATS: &str = "\
The ending of OUT chooses the format (.ron, .abc, .musicxml or .xml, .mxl, .mid) or by --format. A score has a staff and a \
tablature staff; the tablature is the best placement of the map, or the one picked with --position and --octave, and where \
no position holds the whole tune the best fingering along the neck. A MIDI file sounds as the instrument does, with the repeats played out.";

const EXAMPLES: &str = "\
Examples:
  neckline convert tune.abc tune.musicxml --position V
  neckline convert score.mxl tune.ron --part Flute
  neckline convert take.mid - --format abc --grid 1/16
  neckline convert --all tunes/ scores/ --format musicxml
  neckline convert --all book.abc tunes/ --format ron";

/// Formats and examples, with what each format has no place for as the library has it.
fn long_help() -> String {
    let formats = [Format::Abc, Format::MusicXml, Format::Midi];
    let lost = formats.map(|format| {
        let lost = LostMatter::of_format(format);
        let names: Vec<&str> = lost.iter().map(|it| it.name()).collect();
        format!("  {:<9} {}\n", format.name(), names.join(", "))
    });
    let lost = lost.concat();
    format!(
        "{FORMATS}\n\nRON keeps everything. What another format cannot hold is lost, and the program names it:\n{lost}\n{EXAMPLES}"
    )
}

/// Write a tune as RON, ABC, MusicXML with tablature, or MIDI.
#[derive(Debug, clap::Args)]
#[command(after_long_help = long_help())]
pub struct ConvertArgs {
    #[command(flatten)]
    tune: TuneArgs,

    /// The file to write, `-`, or with --all a folder
    ///
    /// `-` is standard output.
    #[arg(value_name = "OUT", help_heading = "Output", display_order = 0)]
    out: Option<PathBuf>,

    /// The format [default: by the ending of OUT]
    #[arg(
        long,
        value_enum,
        hide_possible_values = true,
        value_name = "FORMAT",
        help_heading = "Output"
    )]
    format: Option<FormatArg>,

    /// Convert every tune of a folder or book
    #[arg(long, help_heading = "Output")]
    all: bool,

    /// Write a MIDI file bar by bar as the tune is written, not as its repeats are played
    #[arg(long, help_heading = "Output", hide_short_help = true)]
    written_order: bool,

    /// Write over files that are there
    #[arg(long, help_heading = "Output")]
    replace: bool,

    /// The position of the tablature, such as V or 5 [default: the best]
    #[arg(
        long,
        value_name = "POSITION",
        help_heading = "Output",
        hide_short_help = true
    )]
    position: Option<Position>,

    /// The octave to move the tune by, such as +1 [default: the nearest that is on the neck]
    #[arg(
        long,
        value_name = "OCTAVE",
        help_heading = "Output",
        allow_hyphen_values = true,
        hide_short_help = true
    )]
    octave: Option<Octave>,

    #[command(flatten)]
    hand: HandArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum FormatArg {
    /// A tune to type and edit
    Ron,
    /// ABC 2.1
    Abc,
    /// MusicXML 4.0, a staff over tablature
    Musicxml,
    /// MusicXML 4.0, compressed
    Mxl,
    /// A MIDI file
    Midi,
}

impl From<ConvertArgs> for ConvertRequest {
    fn from(args: ConvertArgs) -> Self {
        ConvertRequest {
            tune: args.tune.into(),
            out: args.out,
            format: args.format.map(|format| match format {
                FormatArg::Ron => Target::Ron,
                FormatArg::Abc => Target::Abc,
                FormatArg::Musicxml => Target::Musicxml,
                FormatArg::Mxl => Target::Mxl,
                FormatArg::Midi => Target::Midi,
            }),
            all: args.all,
            midi_order: match args.written_order {
                true => MidiOrder::Written,
                false => MidiOrder::Played,
            },
            existing: Existing::from_option(args.replace),
            position: args.position,
            octave: args.octave,
            hand: args.hand.into(),
            instrument: args.instrument.into(),
        }
    }
}
