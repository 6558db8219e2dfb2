//! The JSON of `neckline map`; its keys are a promise, see docs/json.md.

use serde::{Serialize, Serializer};

use super::Mapped;
use crate::report::instrument_json::InstrumentJson;
use crate::report::json::EachOf;
use fretlib::mapping::{PlacedNote, Placement};
use fretlib::melody::{AnalysedNote, Quarters};
use fretlib::neck::Finger;

/// The whole document.
#[derive(Serialize)]
pub struct MapDocument<'a> {
    schema: u32,
    melody: MappedTuneJson<'a>,
    instrument: InstrumentJson,
    placements: EachOf<'a, &'a Placement, PlacementJson>,
}

#[derive(Serialize)]
struct MappedTuneJson<'a> {
    title: &'a str,
    key: String,
    key_source: &'static str,
    meter: Option<String>,
    /// Quarter notes a minute.
    tempo: Option<serde_json::Number>,
    /// What the tune counts, in quarter notes, and how many of it there are to the minute.
    tempo_unit: Option<String>,
    tempo_count: Option<serde_json::Number>,
    range: Range,
    notes: EachOf<'a, AnalysedNote, MapNote>,
}

#[derive(Serialize)]
struct Range {
    low: String,
    high: String,
}

#[derive(Serialize)]
struct MapNote {
    number: usize,
    bar: u32,
    onset: String,
    duration: String,
    pitch: String,
    midi: u8,
    degree: String,
    membership: &'static str,
    interval: Option<String>,
    chord: Option<String>,
    chord_degree: Option<String>,
}

#[derive(Serialize)]
struct PlacementJson {
    position: u8,
    octave: i8,
    whole: bool,
    stretches: usize,
    missing: Vec<usize>,
    #[serde(serialize_with = "places")]
    places: Placement,
}

#[derive(Serialize)]
struct PlaceJson {
    note: usize,
    string: u8,
    fret: u8,
    finger: u8,
    reach: &'static str,
}

impl<'a> MapDocument<'a> {
    /// What is printed of a mapped tune.
    pub fn new(mapped: &'a Mapped<'a>) -> Self {
        let melody = &mapped.tune.melody;
        let (low, high) = melody.range();
        let tempo = melody.tempos().first().copied();
        MapDocument {
            schema: 1,
            melody: MappedTuneJson {
                title: melody.title(),
                key: mapped.tune.key.to_string(),
                key_source: mapped.tune.key_source.name(),
                meter: melody
                    .meters()
                    .first()
                    .copied()
                    .flatten()
                    .map(|it| it.to_string()),
                tempo: tempo.and_then(|it| number(it.quarters_per_minute())),
                tempo_unit: tempo.map(|it| it.unit().to_string()),
                tempo_count: tempo.and_then(|it| number(it.count())),
                range: Range {
                    low: low.to_string(),
                    high: high.to_string(),
                },
                notes: EachOf {
                    items: &mapped.notes,
                    item: note,
                },
            },
            instrument: InstrumentJson::from(&mapped.instrument),
            placements: EachOf {
                items: &mapped.placements,
                item: placement,
            },
        }
    }
}

/// A number, written without a fraction if it is whole.
fn number(value: Quarters) -> Option<serde_json::Number> {
    if value.is_integer() {
        return Some(value.to_integer().into());
    }
    serde_json::Number::from_f64(value.to_f64())
}

fn note(index: usize, it: &AnalysedNote) -> MapNote {
    MapNote {
        number: index + 1,
        bar: it.bar,
        onset: it.note.onset.to_string(),
        duration: it.note.duration.to_string(),
        pitch: it.note.pitch.to_string(),
        midi: it.note.pitch.midi().get(),
        degree: it.degree.to_string(),
        membership: it.membership.name(),
        interval: it.interval.map(|interval| interval.to_string()),
        chord: it.chord.map(|chord| chord.to_string()),
        chord_degree: it
            .chord
            .map(|chord| chord.degree(it.note.pitch.class()).to_string()),
    }
}

fn placement(_: usize, it: &&Placement) -> PlacementJson {
    // A copy is laid out and dropped with its line: all placements of a long tune at once take gigabytes.
    let placement = Placement::clone(it);
    PlacementJson {
        position: placement.position.get(),
        octave: placement.octave.get(),
        whole: placement.is_whole(),
        stretches: placement.stretches(),
        missing: placement.missing().iter().map(|note| note + 1).collect(),
        places: placement,
    }
}

fn places<S: Serializer>(placement: &Placement, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(placement.places().iter().map(place))
}

fn place(it: &PlacedNote) -> PlaceJson {
    PlaceJson {
        note: it.note + 1,
        string: it.place.string.get(),
        fret: it.place.fret.get(),
        finger: it.finger.map_or(0, Finger::get),
        reach: it.reach.name(),
    }
}
