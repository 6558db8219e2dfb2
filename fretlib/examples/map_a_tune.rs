//! Types a tune, finds where it lies whole on a guitar, and draws the best place.
//!
//!     cargo run -p fretlib --example map_a_tune

use std::error::Error;

use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::{Draft, Melody};
use fretlib::neck::Instrument;

fn main() -> Result<(), Box<dyn Error>> {
    let mut draft = Draft {
        title: "Oars Away".to_owned(),
        ..Draft::default()
    };
    for pitch in ["D4", "F#4", "A4", "B4", "A4", "D5"] {
        draft.note(pitch.parse()?, 1.into())?;
    }
    let melody = Melody::new(draft)?;

    let guitar = Instrument::default();
    let map = NeckMap::new(&melody, &guitar, OpenStrings::default());
    for placement in map.whole() {
        println!(
            "position {}, octave {:+}: {} stretches",
            placement.position,
            placement.octave.get(),
            placement.stretches()
        );
    }
    if let Some(best) = map.best_where(|_| true) {
        let places: Vec<String> = best
            .places()
            .iter()
            .map(|it| it.place.to_string())
            .collect();
        println!("best in {}: {}", best.position, places.join(" "));
    }
    Ok(())
}
