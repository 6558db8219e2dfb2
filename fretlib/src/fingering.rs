//! The best fingering: a string, a fret, a finger and a hand position for every note.
//!
//! A [`TimedMelody`] is what the hand needs to know of a melody; a [`FingeringSearch`] finds the fingering that costs least
//! within the [`Constraints`]. The cost is a sum of [`Term`]s. The search is exact: no other fingering costs less.
//!
//! ```
//! use fretlib::fingering::{Constraints, FingeringSearch, Player, TimedMelody};
//! use fretlib::mapping::OpenStrings;
//! use fretlib::melody::{Draft, Melody, Quarters};
//! use fretlib::neck::{Finger, Hand, Instrument, Position};
//! use fretlib::theory::Octave;
//!
//! let mut draft = Draft::default();
//! for name in ["A4", "B4", "C5", "D5", "E5", "D5", "C5", "B4", "A4"] {
//!     draft.note(name.parse()?, Quarters::new(1, 2))?;
//! }
//! let melody = Melody::new(draft)?;
//!
//! let guitar = Instrument::default();
//! let player = Player { instrument: &guitar, hand: Hand::MEDIUM };
//! let mut search = FingeringSearch::new(player);
//! search.constraints = Constraints::in_position(Position::new(5)?);
//! search.constraints.open_strings = OpenStrings::Nowhere;
//!
//! let line = TimedMelody::new(&melody, Octave::WRITTEN, None).expect("written as it is");
//! let best = &search.run(&line)?[0];
//! let places: Vec<String> = best.notes.iter().map(|note| note.place.to_string()).collect();
//! assert_eq!(places, ["4:7", "3:4", "3:5", "3:7", "2:5", "3:7", "3:5", "3:4", "4:7"]);
//! assert_eq!(best.notes[1].finger, Some(Finger::First), "it stretches back a fret");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod candidates;
mod constraints;
mod cost;
mod difficulty;
mod economy;
mod hand_state;
mod home;
mod kept;
#[cfg(test)]
mod known_fingerings;
mod pinned;
mod preferences;
mod region;
pub(crate) mod same_notes;
mod search;
mod shift_cue;
mod term;
mod timed_melody;

pub use constraints::{Constraints, NoFingering, Pin, Relaxation};
pub use difficulty::FingeringMeasure;
pub use home::Home;
pub use kept::{BarsHome, FittedFingering, KeptFingering, KeptNote, Misfit};
pub use region::Region;
pub use search::{FingeringSearch, Objective};
pub use shift_cue::{Shift, ShiftCue, ShiftReason};
pub use term::{Term, TermCosts};
pub use timed_melody::{TimedMelody, TimedNote};

use crate::neck::{Finger, Hand, Instrument, Place, Position, Reach};

/// How one note is played.
///
/// On an open string, `position` is where the hand waits.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct FingeredNote {
    /// Where the hand stands.
    pub position: Position,
    /// The string and the fret.
    pub place: Place,
    /// The finger; `None` on an open string.
    pub finger: Option<Finger>,
}

impl FingeredNote {
    /// True when the first or fourth finger reaches a fret out of the position.
    pub fn is_stretched(&self) -> bool {
        let reach = self.position.reach(self.place.fret);
        self.finger.is_some() && matches!(reach, Some((Reach::Stretch, _)))
    }
}

/// A whole melody fingered.
#[derive(Clone, Debug, PartialEq)]
pub struct Fingering {
    /// One for each note of the melody, in order.
    pub notes: Vec<FingeredNote>,
    /// The sum of all terms over all notes, whatever the objective was.
    pub cost: f64,
}

impl Fingering {
    /// The indices of the notes at which the hand has moved to another position.
    pub fn shifts(&self) -> impl Iterator<Item = usize> + '_ {
        (1..self.notes.len())
            .filter(|index| self.notes[*index].position != self.notes[index - 1].position)
    }

    /// True when both play every note at the same place, with whatever fingers.
    pub fn has_places_of(&self, other: &Fingering) -> bool {
        let places = |fingering: &Fingering| -> Vec<Place> {
            fingering.notes.iter().map(|note| note.place).collect()
        };
        places(self) == places(other)
    }

    /// The seconds that the hand has to move before the note `index` of this melody; 0 before the first.
    pub fn time_to_move(&self, line: &TimedMelody, index: usize) -> f64 {
        match index {
            0 => 0.0,
            _ => cost::time_to_move(line, index, self.notes[index - 1].finger.is_none()),
        }
    }

    /// The cost of each note in this search, term by term. Their sum is [`Fingering::cost`] when the search found this
    /// fingering.
    ///
    /// `None` when the hand cannot reach from one note to the next, or the melody has another number of notes.
    pub fn breakdown(
        &self,
        search: &FingeringSearch,
        line: &TimedMelody,
    ) -> Option<Vec<TermCosts>> {
        search.breakdown(line, &self.notes)
    }
}

/// An instrument and the hand that plays it.
#[derive(Clone, Copy, Debug)]
pub struct Player<'a> {
    /// The instrument.
    pub instrument: &'a Instrument,
    /// The fretting hand.
    pub hand: Hand,
}

/// Needed by the program that learns the weights; not part of the public API.
#[doc(hidden)]
pub mod learn {
    pub use super::cost::amounts;
    pub use super::economy::find_with_few_shifts;
    pub use super::search::{CostBias, find_cheapest};
    pub use super::term::Weights;
}
