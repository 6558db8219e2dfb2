//! The agreement of a fingering with a printed one.

use fretlib::fingering::FingeredNote;
use fretlib::fingering::learn::amounts;
use fretlib::neck::{Finger, Fret, Position};

use crate::editions::{Staff, player};

/// Counts of agreement with print.
#[derive(Clone, Copy, Debug, Default)]
pub struct Agreement {
    /// Notes whose place is known, and those at the same place.
    pub all: (usize, usize),
    /// The same for notes with several possible places.
    pub places: (usize, usize),
    /// The same for notes with their own marks.
    pub direct: (usize, usize),
    /// Printed fingers.
    pub fingers: (usize, usize),
    /// Printed open strings.
    pub open_strings: (usize, usize),
    /// Position marks, within one fret.
    pub positions: (usize, usize),
    /// Notes and shifts.
    pub shifts: (usize, usize),
    /// The longest move of the hand between two notes in mm.
    pub hardest: f64,
    /// Fingerings with a note out of reach.
    pub beyond: usize,
}

impl Agreement {
    /// Adds a fingering.
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

/// Every note at its lowest fret, in a position with a finger there: the baseline of any search.
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

/// The columns of [`Agreement`].
pub const HEADING: &str =
    "notes  place ambiguous direct  finger open found pos. ±1 shifts/100 longest mm  beyond";
