//! `neckline map`: where a melody lies on the neck.

mod json;
mod page;

use std::io::Write;

use fretlib::mapping::{OpenStrings, Placement};
use fretlib::melody::{AnalysedNote, analyse};
use fretlib::neck::Instrument;
use fretlib::theory::Octave;

use crate::args::{InstrumentArgs, PlacementArgs, TuneArgs};
use crate::failure::Failure;
use crate::instrument::instrument;
use crate::paint;
use crate::placement::neck_map;
use crate::streams::Streams;
use crate::tune::{Tune, tune};

/// Show where a melody lies on the neck, position by position and octave by octave.
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
pub struct Map {
    /// Use open strings in every position [default: in position I only]
    #[arg(long)]
    pub open: bool,

    /// Print one JSON object instead of a page
    #[arg(long)]
    pub json: bool,

    #[command(flatten)]
    pub placement: PlacementArgs,

    #[command(flatten)]
    pub tune: TuneArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,
}

/// A tune mapped on an instrument, cut to the positions asked for.
struct Mapped {
    tune: Tune,
    instrument: Instrument,
    notes: Vec<AnalysedNote>,
    octaves: Vec<Octave>,
    placements: Vec<Placement>,
}

/// Prints the page or the JSON.
pub fn run(args: &Map, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = instrument(&args.instrument)?;
    let tune = tune(&args.tune, streams)?;
    let open_strings = if args.open {
        OpenStrings::Anywhere
    } else {
        OpenStrings::FirstPosition
    };
    let map = neck_map(&tune, &instrument, open_strings)?;
    let drawn = args.placement.pick(&map, &instrument)?;
    let in_range = map
        .placements()
        .iter()
        .filter(|it| args.placement.is_in_range(it));
    let mapped = Mapped {
        notes: analyse(&tune.melody, tune.key),
        octaves: map.octaves(),
        placements: in_range.cloned().collect(),
        tune,
        instrument,
    };
    if args.json {
        serde_json::to_writer(&mut streams.stdout, &json::Document::new(&mapped))
            .map_err(std::io::Error::from)?;
        writeln!(streams.stdout)?;
        return Ok(());
    }
    let page = page::Page {
        mapped: &mapped,
        drawn,
        left_handed: args.instrument.left_handed,
        ascii: streams.ascii,
        width: streams.width,
    };
    paint::write(streams, &page.draw())?;
    Ok(())
}
