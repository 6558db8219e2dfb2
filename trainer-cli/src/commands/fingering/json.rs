//! The JSON of `neckline fingering`: stable, `"schema": 1`.

use fretlib::fingering::{Fingering, Step};
use serde::Serialize;

/// The one object that is printed.
#[derive(Serialize)]
pub struct Document {
    schema: u8,
    fingerings: Vec<Way>,
}

#[derive(Serialize)]
struct Way {
    cost: f64,
    shifts: usize,
    places: Vec<Played>,
}

#[derive(Serialize)]
struct Played {
    note: usize,
    position: u8,
    string: u8,
    fret: u8,
    finger: u8,
}

impl Document {
    /// Fingerings, best first; finger 0 is an open string.
    pub fn new(ways: &[Fingering]) -> Document {
        Document {
            schema: 1,
            fingerings: ways.iter().map(way).collect(),
        }
    }
}

fn way(it: &Fingering) -> Way {
    Way {
        cost: it.cost,
        shifts: it.shifts().count(),
        places: it
            .steps
            .iter()
            .zip(1..)
            .map(|(step, note)| played(note, step))
            .collect(),
    }
}

fn played(note: usize, step: &Step) -> Played {
    Played {
        note,
        position: step.position.get(),
        string: step.place.string.get(),
        fret: step.place.fret.get(),
        finger: step.finger.map_or(0, |finger| finger.get()),
    }
}
