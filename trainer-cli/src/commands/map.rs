//! `neckline map`: where a melody lies on the neck.

mod map_json;
mod map_page;

use std::path::PathBuf;

use fretlib::fingering::Player;
use fretlib::mapping::{OpenStrings, Placement};
use fretlib::melody::AnalysedNote;
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::Octave;

use self::map_page::Drawn;
use crate::failure::Failure;
use crate::input::settings::settings;
use crate::input::tune::Tune;
use crate::report::json::write_json;
use crate::request::{InstrumentRequest, PlacementRequest, TuneRequest, neck_map};
use crate::terminal::{Streams, colour};

/// What to show, and how.
#[derive(Debug)]
pub struct MapRequest {
    /// Where open strings are played; as the settings say when it is left open.
    pub open_strings: Option<OpenStrings>,
    /// Print everything: all notes outside the scale, the table of all placements, the tablature.
    pub all: bool,
    /// Print the tablature.
    pub tablature: bool,
    /// Print what each note is over its chord, under the tablature.
    pub chords: bool,
    /// Draw the fingering kept with the tune.
    pub as_fingered: bool,
    /// The file of the settings.
    pub settings: Option<PathBuf>,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// The placements to consider, and the one to draw.
    pub placement: PlacementRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// The most notes on a page, more than anyone reads or a terminal keeps.
const MOST_NOTES: usize = 20_000;

/// A tune mapped on an instrument, cut to the positions asked for.
struct Mapped<'a> {
    tune: Tune,
    instrument: Instrument,
    notes: Vec<AnalysedNote>,
    octaves: Vec<Octave>,
    placements: Vec<&'a Placement>,
}

/// Prints the page or the JSON.
pub fn run(request: &MapRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let notes = tune.melody.notes().len();
    if notes > MOST_NOTES && !request.json {
        return Err(Failure::could_not(
            format!("the tune has {notes} notes, and a page shows at most {MOST_NOTES}"),
            "map a part of it with `--bars`, or all of it with `--json`",
        ));
    }
    let settings = settings(request.settings.as_deref(), streams)?;
    let preference = settings.preference;
    let own = match request.as_fingered {
        true => {
            let player = Player {
                instrument: &instrument,
                hand: settings.hand.unwrap_or(Hand::MEDIUM),
            };
            let own = request.tune.own_fingering(&tune, player, streams)?;
            Some(own.ok_or_else(nothing_kept)?)
        }
        false => None,
    };
    let open_strings = request
        .open_strings
        .or(settings.open_strings)
        .unwrap_or_default();
    let map = neck_map(&tune, &instrument, open_strings, preference)?;
    let drawn = request.placement.pick(&map, &instrument)?;
    let in_range = map
        .placements()
        .iter()
        .filter(|it| request.placement.is_in_range(it));
    let mapped = Mapped {
        notes: tune.melody.analyse(tune.key),
        octaves: map.octaves(),
        placements: in_range.collect(),
        tune,
        instrument,
    };
    if request.json {
        return write_json(streams, &map_json::MapDocument::new(&mapped));
    }
    let in_range = |it: &&Placement| request.placement.is_in_range(it);
    let best: Vec<&Placement> = map.ranked().into_iter().filter(in_range).take(3).collect();
    let page = map_page::MapPage {
        mapped: &mapped,
        drawn: match &own {
            Some(own) => Drawn::Fingering(&own.fingering, own.octave()),
            None => Drawn::Placement(drawn),
        },
        // Whatever is shown, players want to know about open strings.
        on_open_strings: best
            .first()
            .and_then(|best| map.on_open_strings_beside(best))
            .filter(|it| !best.contains(it)),
        best,
        has_all: request.all,
        has_tablature: request.tablature || request.chords || request.all,
        has_chord_tones: request.chords,
        left_handed: request.instrument.left_handed,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

fn nothing_kept() -> Failure {
    Failure::could_not(
        "no fingering is kept with this tune",
        "`neckline fingering` finds one, and with `--save` keeps it",
    )
}
