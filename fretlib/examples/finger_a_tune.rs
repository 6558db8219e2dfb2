//! Fingers a tune and says where the hand moves.
//!
//!     cargo run -p fretlib --example finger_a_tune

use std::error::Error;

use fretlib::fingering::{FingeringSearch, Player, TimedMelody};
use fretlib::melody::{Draft, Melody, Quarters};
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::Octave;

fn main() -> Result<(), Box<dyn Error>> {
    let mut draft = Draft::default();
    for pitch in [
        "E4", "G4", "A4", "B4", "D5", "E5", "G5", "A5", "B5", "A5", "G5", "E5",
    ] {
        draft.note(pitch.parse()?, Quarters::new(1, 2))?;
    }
    let melody = Melody::new(draft)?;

    let guitar = Instrument::default();
    let search = FingeringSearch::new(Player {
        instrument: &guitar,
        hand: Hand::MEDIUM,
    });
    let line = TimedMelody::new(&melody, Octave::WRITTEN, None)
        .ok_or("the melody leaves the range of pitches")?;
    let best = &search.run(&line)?[0];
    for (note, fingered) in melody.notes().iter().zip(&best.notes) {
        let finger = fingered.finger.map_or(0, |finger| finger.get());
        println!(
            "{:3} {:5} finger {finger}, position {}",
            note.pitch, fingered.place, fingered.position
        );
    }
    println!(
        "the hand moves before these notes: {:?}",
        best.shifts().map(|it| it + 1).collect::<Vec<_>>()
    );
    Ok(())
}
