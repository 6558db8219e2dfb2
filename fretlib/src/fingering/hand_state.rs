//! The part of a fingering's history that affects the cost of later notes.

use super::{FingeredNote, TimedMelody};
use crate::neck::{Finger, Place};

/// For how many notes a string is remembered.
pub(super) const MEMORY: usize = 3;

/// The smallest leap, in semitones; anything less is a step.
pub(super) const LEAP: u16 = 3;

/// What later costs depend on, since the hand came to its position.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct HandState {
    /// The strings of the previous notes, the latest first; 0 once nothing depends on it.
    pub(super) strings: [u8; MEMORY],
    /// The last note that was stopped: its finger and place.
    pub(super) stopped: Option<(Finger, Place)>,
}

impl HandState {
    /// True when `other` remembers everything that this state does.
    pub(super) fn remembers_no_more_than(&self, other: &HandState) -> bool {
        let within = |(own, theirs): (&u8, &u8)| *own == 0 || own == theirs;
        self.strings.iter().zip(&other.strings).all(within)
            && (self.stopped.is_none() || self.stopped == other.stopped)
    }

    /// The state after this note, when the hand stays where it is.
    ///
    /// Of the notes on one string only the latest is remembered, and only while its pitch is still to come again.
    pub(super) fn then(self, context: &NoteContext, note: &FingeredNote) -> HandState {
        let string = note.place.string.get();
        let mut strings = [0; MEMORY];
        if context.returns {
            strings[0] = string;
        }
        let earlier = self.strings.into_iter().zip(&context.earlier);
        for (kept, (before, earlier)) in strings[1..].iter_mut().zip(earlier) {
            if before != string && earlier.returns {
                *kept = before;
            }
        }
        let stopped = note.finger.map(|finger| (finger, note.place));
        HandState {
            strings,
            stopped: stopped.or(self.stopped),
        }
    }

    /// The state after this note, when the hand has just come to its position.
    pub(super) fn first(context: &NoteContext, note: &FingeredNote) -> HandState {
        HandState::default().then(context, note)
    }
}

/// How a note relates to the notes before it.
#[derive(Clone, Copy, Debug)]
pub(super) struct NoteContext {
    /// True when its pitch comes again soon.
    pub(super) returns: bool,
    /// The previous notes, the latest first.
    pub(super) earlier: [EarlierNote; MEMORY],
}

/// How a previous note relates to the current one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct EarlierNote {
    /// It has the same pitch.
    pub(super) same: bool,
    /// Its pitch comes again after the current note.
    pub(super) returns: bool,
    /// It is a third or more away.
    pub(super) leap: bool,
}

impl NoteContext {
    pub(super) fn new(line: &TimedMelody, index: usize) -> NoteContext {
        let notes = line.notes();
        let midi = notes[index].pitch.midi();
        let earlier = |back: usize| {
            let Some(earlier) = index.checked_sub(1 + back).map(|at| notes[at]) else {
                return EarlierNote::default();
            };
            EarlierNote {
                same: earlier.pitch.midi() == midi,
                returns: earlier.returns.is_some_and(|returns| returns > index),
                leap: (earlier.pitch.midi() - midi).unsigned_abs() >= LEAP,
            }
        };
        NoteContext {
            returns: notes[index].returns.is_some(),
            earlier: std::array::from_fn(earlier),
        }
    }
}
