//! How far a fingering agrees with what an editor printed.

use fretlib::fingering::FingeredNote;
use fretlib::fingering::learn::amounts;
use fretlib::neck::{Finger, Fret, Position};

use crate::editions::{Staff, player};

/// Agreement with print, counted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Agreement {
    /// Notes whose place is known, and those placed alike.
    pub all: (usize, usize),
    /// Those that could lie elsewhere too.
    pub places: (usize, usize),
    /// Those with marks of their own.
    pub direct: (usize, usize),
    /// Printed fingers.
    pub fingers: (usize, usize),
    /// Printed open strings.
    pub open_strings: (usize, usize),
    /// Position marks, within one fret.
    pub positions: (usize, usize),
    /// Notes and shifts.
    pub shifts: (usize, usize),
    /// The longest way of the hand between two notes in mm.
    pub hardest: f64,
    /// Fingerings in which some finger cannot reach.
    pub beyond: usize,
}

impl Agreement {
    /// Counts a fingering in.
    pub fn add(&mut self, staff: &Staff, notes: &[FingeredNote]) {
        let count = |pair: &mut (usize, usize), hit: bool| {
            pair.0 += 1;
            pair.1 += usize::from(hit);
        };
        let player = player();
        let nut = |position: Position| {
            let fret = position.fret(Finger::First);
            player.instrument.millimetres_at(fret)
        };
        for (index, (printed, note)) in staff.printed.iter().zip(notes).enumerate() {
            if printed.place.is_some_and(|place| place.fret == Fret::OPEN) {
                count(&mut self.open_strings, note.finger.is_none());
            }
            if printed.place.is_some() {
                count(&mut self.all, printed.place == Some(note.place));
            }
            if printed.proves {
                count(&mut self.places, printed.place == Some(note.place));
                if printed.direct {
                    count(&mut self.direct, printed.place == Some(note.place));
                }
            }
            if let Some(finger) = printed.finger {
                count(
                    &mut self.fingers,
                    finger == note.finger.map_or(0, Finger::get),
                );
            }
            if let Some(position) = printed.position {
                count(
                    &mut self.positions,
                    position.abs_diff(note.position.get()) <= 1,
                );
            }
            let before = notes[index.saturating_sub(1)].position;
            count(&mut self.shifts, before != note.position);
            self.hardest = self.hardest.max((nut(before) - nut(note.position)).abs());
        }
        self.beyond += usize::from(amounts(&staff.search(), &staff.line(), notes).is_none());
    }

    /// A share in percent.
    pub fn percent((all, hits): (usize, usize)) -> f64 {
        100.0 * hits as f64 / all.max(1) as f64
    }
}

impl std::fmt::Display for Agreement {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = Agreement::percent;
        write!(
            f,
            "{:5} {:6.1} {:9.1} {:6.1} {:7.1} {:5}/{:<4} {:6.1} {:10.1} {:11.0} {:7}",
            self.all.0,
            percent(self.all),
            percent(self.places),
            percent(self.direct),
            percent(self.fingers),
            self.open_strings.1,
            self.open_strings.0,
            percent(self.positions),
            percent(self.shifts),
            self.hardest,
            self.beyond
        )
    }
}

/// Every note at its lowest fret, in the position that puts a finger there: what any search must beat.
pub fn lowest_fret(staff: &Staff) -> Vec<FingeredNote> {
    let lowest = |midi| {
        let candidates = player().candidates(midi).into_iter();
        candidates.min_by_key(|note| (note.place.fret, note.position.get()))
    };
    let notes = staff.melody.notes().iter();
    notes
        .map(|note| lowest(note.pitch.midi()).expect("on the neck"))
        .collect()
}

/// What the columns of [`Agreement`] are.
pub const HEADING: &str =
    "notes  place ambiguous direct  finger open found pos. ±1 shifts/100 longest mm  beyond";
