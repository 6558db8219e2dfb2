//! `neckline map`.

use super::instrument_args::InstrumentArgs;
use super::placement_args::PlacementArgs;
use super::tune_args::TuneArgs;
use crate::commands::map::MapRequest;

/// Show where a melody lies on the neck, by position and octave.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The page shows the notes outside the scale, a table of positions by octave, and one placement drawn: the best one, or the \
one picked with --position and --octave. On the neck and under the tablature notes stand as degrees: [1] is the tonic, \
*#4 a note outside the scale, ^7 a raised degree of a minor key, ~6 a stretch.

Examples:
  neckline map                                    the first built-in tune
  neckline map tune.abc --position V --octave +1
  neckline map tune.ron --to-key Ab --bars 1-8
  neckline map tune.ron --tuning \"D A D G B E\" --capo 2
  neckline map tune.ron --json")]
pub struct MapArgs {
    /// Use open strings in every position [default: in position I only]
    #[arg(long)]
    open: bool,

    /// Print one JSON object instead of a page
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    placement: PlacementArgs,

    #[command(flatten)]
    tune: TuneArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,
}

impl From<MapArgs> for MapRequest {
    fn from(args: MapArgs) -> Self {
        MapRequest {
            open: args.open,
            json: args.json,
            placement: args.placement.into(),
            tune: args.tune.into(),
            instrument: args.instrument.into(),
        }
    }
}
