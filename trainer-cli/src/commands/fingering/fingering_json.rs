//! The JSON of `neckline fingering`: stable, `"schema": 1`.

use fretlib::fingering::{FingeredNote, Region};
use serde::Serialize;

use super::Found;
use crate::report::json::EachOf;

/// The one object that is printed.
#[derive(Serialize)]
pub struct FingeringDocument<'a> {
    schema: u8,
    fingerings: EachOf<'a, Found, OneFingering<'a>>,
}

#[derive(Serialize)]
struct OneFingering<'a> {
    cost: f64,
    region: Option<&'static str>,
    shifts: usize,
    places: EachOf<'a, FingeredNote, PlayedNote>,
}

#[derive(Serialize)]
struct PlayedNote {
    note: usize,
    position: u8,
    string: u8,
    fret: u8,
    finger: u8,
}

impl FingeringDocument<'_> {
    /// Fingerings, best first; finger 0 is an open string.
    pub(super) fn new(found: &[Found]) -> FingeringDocument<'_> {
        FingeringDocument {
            schema: 1,
            fingerings: EachOf {
                items: found,
                item: one,
            },
        }
    }
}

fn one(_: usize, found: &Found) -> OneFingering<'_> {
    let fingering = &found.fingering;
    OneFingering {
        region: found.region_it_lies_in().map(|region| match region {
            Region::Low => "low",
            Region::Second => "second",
            Region::Middle => "middle",
            Region::High => "high",
        }),
        cost: fingering.cost,
        shifts: fingering.shifts().count(),
        places: EachOf {
            items: &fingering.notes,
            item: played,
        },
    }
}

fn played(index: usize, note: &FingeredNote) -> PlayedNote {
    PlayedNote {
        note: index + 1,
        position: note.position.get(),
        string: note.place.string.get(),
        fret: note.place.fret.get(),
        finger: note.finger.map_or(0, |finger| finger.get()),
    }
}
