//! `neckline map`: where a melody lies on the neck.

mod json;
mod page;

use fretlib::mapping::{OpenStrings, Placement};
use fretlib::melody::AnalysedNote;
use fretlib::neck::Instrument;
use fretlib::theory::Octave;

use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::report::json::write_json;
use crate::request::{InstrumentRequest, PlacementRequest, TuneRequest, neck_map};
use crate::terminal::{Streams, colour};

/// What to show, and how.
#[derive(Debug)]
pub struct MapRequest {
    /// Use open strings in every position.
    pub open: bool,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// The placements looked at, and the one drawn.
    pub placement: PlacementRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
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
pub fn run(request: &MapRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let open_strings = if request.open {
        OpenStrings::Anywhere
    } else {
        OpenStrings::FirstPosition
    };
    let map = neck_map(&tune, &instrument, open_strings)?;
    let drawn = request.placement.pick(&map, &instrument)?;
    let in_range = map
        .placements()
        .iter()
        .filter(|it| request.placement.is_in_range(it));
    let mapped = Mapped {
        notes: tune.melody.analyse(tune.key),
        octaves: map.octaves(),
        placements: in_range.cloned().collect(),
        tune,
        instrument,
    };
    if request.json {
        return write_json(streams, &json::Document::new(&mapped));
    }
    let page = page::Page {
        mapped: &mapped,
        drawn,
        left_handed: request.instrument.left_handed,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}
