//! Where the hand moves in a fingering, and why there.

use super::{Fingering, Line};
use crate::neck::Position;

/// What makes a moment good for a shift.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Ease {
    /// A phrase begins.
    Phrase,
    /// There is silence before it.
    Rest,
    /// An open string sounds while the hand moves.
    OpenString,
    /// A note of half a second or more gives time.
    LongNote,
    /// A finger stays on its string and leads.
    GuideFinger,
    /// The hand arrives on a beat.
    Beat,
    /// Nothing: the hand moves in passing.
    Passing,
}

impl Ease {
    /// How it is said after "shift".
    pub const fn name(self) -> &'static str {
        match self {
            Ease::Phrase => "between phrases",
            Ease::Rest => "during a rest",
            Ease::OpenString => "over an open string",
            Ease::LongNote => "after a long note",
            Ease::GuideFinger => "with a guide finger",
            Ease::Beat => "to a beat",
            Ease::Passing => "in passing",
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
    pub ease: Ease,
    /// The time the hand has for it, in seconds.
    pub seconds: f64,
    /// The index of the first note from here on, before the next shift, that is played where the old position does not
    /// reach; none when the shift is for ease alone.
    pub reaches: Option<usize>,
}

/// The shifts of a fingering of this line, in order.
pub fn shifts(line: &Line, fingering: &Fingering) -> Vec<Shift> {
    const LONG: f64 = 0.5;
    let starts: Vec<usize> = fingering.shifts().collect();
    let steps = &fingering.steps;
    let describe = |(nth, &index): (usize, &usize)| {
        let (before, after) = (steps[index - 1], steps[index]);
        let (note, earlier) = (line.notes()[index], line.notes()[index - 1]);
        let same_string = before.place.string == after.place.string;
        let ease = if note.phrase {
            Ease::Phrase
        } else if note.rest > 0.0 {
            Ease::Rest
        } else if before.finger.is_none() {
            Ease::OpenString
        } else if earlier.seconds >= LONG {
            Ease::LongNote
        } else if same_string && before.finger == after.finger {
            Ease::GuideFinger
        } else if note.on_beat {
            Ease::Beat
        } else {
            Ease::Passing
        };
        let until = starts.get(nth + 1).copied().unwrap_or(steps.len());
        let reaches = (index..until).find(|later| {
            steps[*later].finger.is_some()
                && before.position.reach(steps[*later].place.fret).is_none()
        });
        Shift {
            index,
            from: before.position,
            to: after.position,
            ease,
            seconds: fingering.time_to_move(line, index),
            reaches,
        }
    };
    starts.iter().enumerate().map(describe).collect()
}
