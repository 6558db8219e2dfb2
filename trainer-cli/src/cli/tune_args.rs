//! Which tune, and how to read and move it.

use fretlib::melody::{BarChoice, Quarters};
use fretlib::theory::{Interval, PitchClass};

use crate::request::TuneRequest;

#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Tune")]
pub struct TuneArgs {
    /// Built-in tune, file or `-` [default: the first]
    ///
    /// `-` is standard input; `neckline tunes` lists the built-in tunes.
    #[arg(value_name = "TUNE", display_order = 0)]
    tune: Option<String>,

    /// The number of the tune in a tune book
    #[arg(
        long = "tune",
        value_name = "N",
        display_order = 1,
        hide_short_help = true
    )]
    number: Option<u32>,

    /// The voice to read, by its id or name
    #[arg(long, value_name = "VOICE", hide_short_help = true)]
    voice: Option<String>,

    /// The part of a score to read, by its name or number [default: the one most like a lead line]
    #[arg(long, value_name = "PART", hide_short_help = true)]
    part: Option<String>,

    /// The track of a MIDI file to read, by its name or number [default: the most melodic]
    #[arg(long, value_name = "TRACK", hide_short_help = true)]
    track: Option<String>,

    /// The note value that a MIDI file's notes are rounded to, such as 1/16 [default: found from the file]
    #[arg(long, value_name = "VALUE", value_parser = note_value, hide_short_help = true)]
    grid: Option<Quarters>,

    /// Octaves from the numbers in a MIDI file to the written notes, such as +1 [default: by its program]
    #[arg(
        long,
        value_name = "N",
        allow_hyphen_values = true,
        value_parser = clap::value_parser!(i8).range(-10..=10),
        hide_short_help = true
    )]
    octave_shift: Option<i8>,

    /// The key, such as `E minor`, or `estimate` to find it from the notes [default: the tune's own]
    #[arg(long, value_name = "KEY", hide_short_help = true)]
    key: Option<String>,

    /// Only these bars: 1-8, 5, A, A2, `second ending`
    #[arg(long, value_name = "BARS")]
    bars: Option<BarChoice>,

    /// Move it by an interval, such as +m3 or -P4
    #[arg(
        long,
        value_name = "INTERVAL",
        hide_short_help = true,
        conflicts_with = "to_key",
        allow_hyphen_values = true
    )]
    transpose: Option<Interval>,

    /// Move the tune to the key on this note, the nearest way
    #[arg(long, value_name = "TONIC", hide_short_help = true)]
    to_key: Option<PitchClass>,
}

impl From<TuneArgs> for TuneRequest {
    fn from(args: TuneArgs) -> Self {
        TuneRequest {
            source: args.tune,
            number: args.number,
            voice: args.voice,
            part: args.part,
            track: args.track,
            grid: args.grid,
            octave_shift: args.octave_shift,
            key: args.key,
            bars: args.bars,
            transpose: args.transpose,
            to_key: args.to_key,
        }
    }
}

/// Reads a note value such as `1/16` as its length in quarter notes.
fn note_value(text: &str) -> Result<Quarters, String> {
    let denominator = text.strip_prefix("1/").and_then(|it| it.parse().ok());
    denominator
        .filter(|denominator| (1..=64).contains(denominator))
        .map(|denominator| Quarters::new(4, denominator))
        .ok_or_else(|| format!("expected a note value such as 1/8, 1/12 or 1/16, found `{text}`"))
}
