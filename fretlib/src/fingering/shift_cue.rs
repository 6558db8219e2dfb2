//! Where the hand moves in a fingering, and what makes that a good moment.

use super::{Fingering, TimedMelody};
use crate::neck::Position;

/// What makes a moment good for a shift.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ShiftCue {
    /// A phrase begins.
    Phrase,
    /// There is silence before it.
    Rest,
    /// An open string sounds while the hand moves.
    OpenString,
    /// A note of more than half a second gives time.
    LongNote,
    /// A finger stays on its string and leads.
    GuideFinger,
    /// The hand arrives on a beat.
    Beat,
    /// Nothing: the hand moves in passing.
    Passing,
}

impl ShiftCue {
    /// The words after "shift".
    pub const fn name(self) -> &'static str {
        match self {
            ShiftCue::Phrase => "between phrases",
            ShiftCue::Rest => "during a rest",
            ShiftCue::OpenString => "over an open string",
            ShiftCue::LongNote => "after a long note",
            ShiftCue::GuideFinger => "with a guide finger",
            ShiftCue::Beat => "to a beat",
            ShiftCue::Passing => "in passing",
        }
    }
}

/// A shift of the hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// The index of the first note in the new position.
    pub index: usize,
    /// Where the hand was.
    pub from: Position,
    /// Where it is now.
    pub to: Position,
    /// Why at this moment.
    pub cue: ShiftCue,
    /// The time the hand has for it, in seconds.
    pub seconds: f64,
    /// The index of the first note from here on, before the next shift, that the old position does not reach; `None` when
    /// the shift is for ease alone.
    pub reaches: Option<usize>,
}

impl Fingering {
    /// The shifts of this fingering of a melody, in order, each with its reason.
    pub fn explain_shifts(&self, line: &TimedMelody) -> Vec<Shift> {
        let starts: Vec<usize> = self.shifts().collect();
        let ends = starts.iter().skip(1).copied().chain([self.notes.len()]);
        let shift = |(index, end): (&usize, usize)| self.shift(line, *index, end);
        starts.iter().zip(ends).map(shift).collect()
    }

    /// The shift to the note `index`, the hand staying until `end`.
    fn shift(&self, line: &TimedMelody, index: usize, end: usize) -> Shift {
        let (before, after) = (self.notes[index - 1], self.notes[index]);
        let (note, earlier) = (line.notes()[index], line.notes()[index - 1]);
        let same_string = before.place.string == after.place.string;
        let cue = if note.starts_phrase {
            ShiftCue::Phrase
        } else if note.rest > 0.0 {
            ShiftCue::Rest
        } else if before.finger.is_none() {
            ShiftCue::OpenString
        } else if earlier.is_long() {
            ShiftCue::LongNote
        } else if same_string && before.finger == after.finger {
            ShiftCue::GuideFinger
        } else if note.on_beat {
            ShiftCue::Beat
        } else {
            ShiftCue::Passing
        };
        let reaches = (index..end).find(|later| {
            let later = self.notes[*later];
            later.finger.is_some() && before.position.reach(later.place.fret).is_none()
        });
        Shift {
            index,
            from: before.position,
            to: after.position,
            cue,
            seconds: self.time_to_move(line, index),
            reaches,
        }
    }
}
