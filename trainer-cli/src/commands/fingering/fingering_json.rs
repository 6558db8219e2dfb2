//! The JSON of `neckline fingering`: stable, `"schema": 1`.

use fretlib::fingering::{FingeredNote, Region};
use serde::Serialize;

use super::Found;

/// The one object that is printed.
#[derive(Serialize)]
pub struct FingeringDocument {
    schema: u8,
    fingerings: Vec<OneFingering>,
}

#[derive(Serialize)]
struct OneFingering {
    cost: f64,
    region: Option<&'static str>,
    shifts: usize,
    places: Vec<PlayedNote>,
}

#[derive(Serialize)]
struct PlayedNote {
    note: usize,
    position: u8,
    string: u8,
    fret: u8,
    finger: u8,
}

impl FingeringDocument {
    /// Fingerings, best first; finger 0 is an open string.
    pub(super) fn new(found: &[Found]) -> FingeringDocument {
        FingeringDocument {
            schema: 1,
            fingerings: found.iter().map(one).collect(),
        }
    }
}

fn one(found: &Found) -> OneFingering {
    let fingering = &found.fingering;
    OneFingering {
        region: found.region.map(|region| match region {
            Region::Low => "low",
            Region::Middle => "middle",
            Region::High => "high",
        }),
        cost: fingering.cost,
        shifts: fingering.shifts().count(),
        places: fingering
            .notes
            .iter()
            .zip(1..)
            .map(|(note, number)| played(number, note))
            .collect(),
    }
}

fn played(number: usize, note: &FingeredNote) -> PlayedNote {
    PlayedNote {
        note: number,
        position: note.position.get(),
        string: note.place.string.get(),
        fret: note.place.fret.get(),
        finger: note.finger.map_or(0, |finger| finger.get()),
    }
}
