//! What a hand remembers that makes later notes harder.

use super::Step;
use super::line::Line;
use crate::neck::{Finger, Place};

/// How many notes back a string is remembered.
pub(super) const MEMORY: usize = 3;

/// The smallest leap, in semitones: less is a step.
pub(super) const LEAP: u16 = 3;

/// What the hand remembers since it came to its position.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct Past {
    /// The strings of the notes before, the latest first; 0 where nothing depends on it any more.
    pub(super) strings: [u8; MEMORY],
    /// The last note that was stopped: its finger and place.
    pub(super) stopped: Option<(Finger, Place)>,
}

impl Past {
    /// True when every term read from here is also read from `other`.
    pub(super) fn remembers_no_more_than(&self, other: &Past) -> bool {
        let within = |(own, theirs): (&u8, &u8)| *own == 0 || own == theirs;
        self.strings.iter().zip(&other.strings).all(within)
            && (self.stopped.is_none() || self.stopped == other.stopped)
    }

    /// After this step, the hand staying where it is.
    ///
    /// Of notes on one string only the latest is remembered, and only while it is still to come again.
    pub(super) fn then(self, recall: &Recall, step: &Step) -> Past {
        let string = step.place.string.get();
        let mut strings = [0; MEMORY];
        if recall.awaited {
            strings[0] = string;
        }
        let earlier = self.strings.into_iter().zip(&recall.earlier);
        for (kept, (before, earlier)) in strings[1..].iter_mut().zip(earlier) {
            if before != string && earlier.awaited {
                *kept = before;
            }
        }
        Past {
            strings,
            stopped: step
                .finger
                .map(|finger| (finger, step.place))
                .or(self.stopped),
        }
    }

    /// After this step, the hand having just come to its position.
    pub(super) fn first(recall: &Recall, step: &Step) -> Past {
        Past::default().then(recall, step)
    }
}

/// What a note has to do with the notes before it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Recall {
    /// True when the note comes again soon.
    pub(super) awaited: bool,
    /// The notes before, the latest first.
    pub(super) earlier: [Earlier; MEMORY],
}

/// What an earlier note means to the one at hand.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Earlier {
    /// It has the same pitch.
    pub(super) same: bool,
    /// It is still to come again after the note at hand.
    pub(super) awaited: bool,
    /// It is a third or more away.
    pub(super) leap: bool,
}

impl Recall {
    pub(super) fn new(line: &Line, index: usize) -> Recall {
        let notes = line.notes();
        let note = notes[index];
        let earlier = |back: usize| {
            let Some(earlier) = index.checked_sub(1 + back).map(|at| notes[at]) else {
                return Earlier::default();
            };
            Earlier {
                same: earlier.midi == note.midi,
                awaited: earlier.returns.is_some_and(|returns| returns > index),
                leap: (earlier.midi - note.midi).unsigned_abs() >= LEAP,
            }
        };
        Recall {
            awaited: note.returns.is_some(),
            earlier: std::array::from_fn(earlier),
        }
    }
}
