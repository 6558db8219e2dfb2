//! `neckline map`.

use fretlib::mapping::OpenStrings;

use super::instrument_args::InstrumentArgs;
use super::placement_args::PlacementArgs;
use super::settings_args::SettingsArgs;
use super::tune_args::TuneArgs;
use crate::commands::map::MapRequest;

/// Show where a melody lies on the neck, by position and octave.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The page shows the notes outside the scale, the three best placements and one of them on the neck: the best one, or the one \
picked with --position and --octave. --all shows every note outside the scale, the table of all positions by octave, and the \
tablature. On the neck and under the tablature notes stand as degrees: [1] is the tonic, *#4 a note outside the scale, ^7 a \
raised degree of a minor key, ~6 a stretch.

The best placement has the fewest missing notes, then lies nearest the written octave, then is closed (every note stopped, at \
most one in twenty a stretch), then has the fewest stretches, then is the lowest. `open_strings_first: true` in your settings \
puts open strings before closed placements.

Examples:
  neckline map                                    the first built-in tune
  neckline map tune.abc --position V --octave +1
  neckline map tune.ron --all --positions V,X
  neckline map tune.ron --chords --bars 1-8       what each note is over its chord
  neckline map tune.ron --tuning \"D A D G B E\" --capo 2
  neckline map tune.ron --json")]
pub struct MapArgs {
    /// Show the table of all placements, and the tablature
    #[arg(long)]
    all: bool,

    /// Add the tablature
    #[arg(long)]
    tablature: bool,

    /// Add the tablature, and each note over its chord
    #[arg(long)]
    chords: bool,

    /// Draw your own fingering, as it is kept
    ///
    /// `neckline fingering --save` keeps it.
    #[arg(long, conflicts_with_all = ["position", "octave", "json"])]
    as_fingered: bool,

    /// Use open strings in every position [default: as in your settings, else in position I only]
    #[arg(long, hide_short_help = true)]
    open: bool,

    /// Use no open strings
    #[arg(long, conflicts_with = "open", hide_short_help = true)]
    no_open: bool,

    /// Print one JSON object instead of a page
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    settings: SettingsArgs,

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
            open_strings: match (args.open, args.no_open) {
                (true, _) => Some(OpenStrings::Anywhere),
                (_, true) => Some(OpenStrings::Nowhere),
                (false, false) => None,
            },
            all: args.all,
            tablature: args.tablature,
            chords: args.chords,
            as_fingered: args.as_fingered,
            settings: args.settings.settings,
            json: args.json,
            placement: args.placement.into(),
            tune: args.tune.into(),
            instrument: args.instrument.into(),
        }
    }
}
