//! `neckline shelf`.

use std::path::PathBuf;

use fretlib::neck::PositionSet;
use fretlib::theory::Key;

use super::hand_args::HandArgs;
use super::instrument_args::InstrumentArgs;
use crate::commands::shelf::ShelfRequest;

/// Rank the tunes of a folder by difficulty, with the reasons
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Ten things make a tune hard: fast notes, many shifts, fast shifts, stretches, wide moves, notes outside the scale, wide leaps, \
varied rhythm, high positions, string crossings. Each is a percentile of this folder; a tune stands where its three highest \
put it, and they are named. There are no grades.

Examples:
  neckline shelf tunes/
  neckline shelf tunes/ --key G --position I-V --under 100bpm
  neckline shelf book.abc --json")]
pub struct ShelfArgs {
    /// A folder of tunes, or a tune book in ABC
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,

    /// Only tunes in this key, such as G or `E minor`
    #[arg(long, value_name = "KEY")]
    key: Option<Key>,

    /// Only tunes that lie whole in one of these positions, as written
    #[arg(long = "position", value_name = "POSITIONS")]
    positions: Option<PositionSet>,

    /// Only tunes slower than this, such as 100bpm
    #[arg(long, value_name = "TEMPO", value_parser = beats_a_minute)]
    under: Option<f64>,

    /// Print one JSON object a line
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    hand: HandArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,
}

fn beats_a_minute(text: &str) -> Result<f64, String> {
    let number = text.trim_end_matches("bpm").trim();
    match number.parse() {
        Ok(tempo) if (1.0..=1000.0).contains(&tempo) => Ok(tempo),
        _ => Err("give quarter notes a minute, such as 100bpm".into()),
    }
}

impl From<ShelfArgs> for ShelfRequest {
    fn from(args: ShelfArgs) -> Self {
        ShelfRequest {
            folder: args.folder,
            key: args.key,
            positions: args.positions,
            under: args.under,
            json: args.json,
            hand: args.hand.into(),
            instrument: args.instrument.into(),
        }
    }
}
