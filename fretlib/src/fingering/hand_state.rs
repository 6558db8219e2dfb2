//! What the hand has done that makes later notes harder.

use super::{FingeredNote, TimedMelody};
use crate::neck::{Finger, Place};

/// How many notes back a string is remembered.
pub(super) const MEMORY: usize = 3;

/// The smallest leap, in semitones: less is a step.
pub(super) const LEAP: u16 = 3;

/// What later costs depend on since the hand came to its position.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct HandState {
    /// The strings of the notes before, the latest first; 0 where nothing depends on it any more.
    pub(super) strings: [u8; MEMORY],
    /// The last note that was stopped: its finger and place.
    pub(super) stopped: Option<(Finger, Place)>,
}

impl HandState {
    /// True when every term read from here is also read from `other`.
    pub(super) fn remembers_no_more_than(&self, other: &HandState) -> bool {
        let within = |(own, theirs): (&u8, &u8)| *own == 0 || own == theirs;
        self.strings.iter().zip(&other.strings).all(within)
            && (self.stopped.is_none() || self.stopped == other.stopped)
    }

    /// After this note, the hand staying where it is.
    ///
    /// Of notes on one string only the latest is remembered, and only while its pitch is still to come again.
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

    /// After this note, the hand having just come to its position.
    pub(super) fn first(context: &NoteContext, note: &FingeredNote) -> HandState {
        HandState::default().then(context, note)
    }
}

/// How a note relates to the notes before it.
#[derive(Clone, Copy, Debug)]
pub(super) struct NoteContext {
    /// True when its pitch comes again soon.
    pub(super) returns: bool,
    /// The notes before, the latest first.
    pub(super) earlier: [EarlierNote; MEMORY],
}

/// How an earlier note relates to the one at hand.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct EarlierNote {
    /// It has the same pitch.
    pub(super) same: bool,
    /// Its pitch comes again after the note at hand.
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
