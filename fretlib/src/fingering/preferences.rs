//! What the player prefers at each note, beside what is required.

use super::home::{self, Pull};
use super::pinned::{AboutNote, Pinned};
use super::{FingeringSearch, TimedMelody};

/// The pull of homes, and what pins tell about other notes.
pub(super) struct Preferences {
    /// By note; empty without homes.
    pulls: Vec<Option<Pull>>,
    pinned: Pinned,
}

impl Preferences {
    pub(super) fn new(search: &FingeringSearch, line: &TimedMelody) -> Preferences {
        let FingeringSearch {
            constraints, homes, ..
        } = search;
        let sections = line.sections();
        Preferences {
            pulls: home::pulls(constraints, homes, line, &sections),
            pinned: Pinned::new(constraints, line, &sections),
        }
    }

    /// The pull of home on a note.
    pub(super) fn pull(&self, index: usize) -> Option<&Pull> {
        self.pulls.get(index)?.as_ref()
    }

    /// What pins tell about a note that is not pinned, if they tell anything.
    pub(super) fn about(&self, line: &TimedMelody, index: usize) -> Option<AboutNote> {
        self.pinned.about(line, index)
    }
}
