//! Types a tune and fingers it: position, place and finger of every note, and where the hand moves.
//!
//!     cargo run -p fretlib --example finger_a_tune

use std::error::Error;

use fretlib::fingering::{FingeringSearch, Player, TimedMelody};
use fretlib::melody::{Draft, Melody, Quarters};
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::Octave;

fn main() -> Result<(), Box<dyn Error>> {
    let mut draft = Draft {
        title: "Boathouse Steps".to_owned(),
        ..Draft::default()
    };
    for pitch in ["G4", "B4", "D5", "G5", "A5", "B5", "G5", "D5", "B4", "G4"] {
        draft.note(pitch.parse()?, Quarters::new(1, 2))?;
    }
    let line = TimedMelody::new(&Melody::new(draft)?, Octave::WRITTEN, None)
        .ok_or("a note is out of range")?;

    let guitar = Instrument::default();
    let search = FingeringSearch::new(Player {
        instrument: &guitar,
        hand: Hand::MEDIUM,
    });
    let best = &search.run(&line)?[0];
    for (note, fingered) in line.notes().iter().zip(&best.notes) {
        let finger = fingered
            .finger
            .map_or("open".to_owned(), |finger| format!("finger {finger}"));
        println!(
            "{:4} in {:4} {} {finger}",
            note.pitch.to_string(),
            fingered.position.to_string(),
            fingered.place
        );
    }
    for shift in best.explain_shifts(&line) {
        println!(
            "note {}: {} to {}, {}",
            shift.index + 1,
            shift.from,
            shift.to,
            shift.cue.name()
        );
    }
    Ok(())
}
