//! What a player asks of a fingering.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::RangeInclusive;

use thiserror::Error;

use super::Step;
use crate::neck::{Place, Position};
use crate::theory::MidiNumber;

/// What a fingering must keep to; the default is free.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits {
    /// The positions the hand may take.
    pub positions: Option<RangeInclusive<Position>>,
    /// The strings that may be played, by number; one string alone is `2..=2`.
    pub strings: Option<RangeInclusive<u8>>,
    /// The position of the first note.
    pub start: Option<Position>,
    /// The position of the last note.
    pub end: Option<Position>,
    /// No open strings.
    pub no_open: bool,
    /// How many times the hand may move at most.
    pub max_shifts: Option<u8>,
    /// Places of single notes, by the number of the note, 1 being the first.
    pub pins: BTreeMap<usize, Place>,
}

impl Limits {
    /// True when this step may play some note.
    pub(super) fn allow_anywhere(&self, step: &Step) -> bool {
        self.positions
            .as_ref()
            .is_none_or(|range| range.contains(&step.position))
            && self
                .strings
                .as_ref()
                .is_none_or(|range| range.contains(&step.place.string.get()))
            && !(self.no_open && step.finger.is_none())
    }

    /// What is asked of the note `number` alone, 1 being the first, `last` the last; `None` when nothing is.
    pub(super) fn at(&self, number: usize, last: usize) -> Option<Asked> {
        let asked = Asked {
            start: self.start.filter(|_| number == 1),
            end: self.end.filter(|_| number == last),
            place: self.pins.get(&number).copied(),
        };
        (asked != Asked::default()).then_some(asked)
    }

    /// Every limit that is set, each with the limits that remain without it.
    pub(super) fn without_each(&self) -> Vec<(Relief, Limits)> {
        let mut reliefs = Vec::new();
        let mut offer = |set: bool, relief: Relief, change: &dyn Fn(&mut Limits)| {
            if set {
                let mut rest = self.clone();
                change(&mut rest);
                reliefs.push((relief, rest));
            }
        };
        offer(self.positions.is_some(), Relief::Positions, &|it| {
            it.positions = None
        });
        offer(self.strings.is_some(), Relief::Strings, &|it| {
            it.strings = None
        });
        offer(self.start.is_some(), Relief::Start, &|it| it.start = None);
        offer(self.end.is_some(), Relief::End, &|it| it.end = None);
        offer(self.no_open, Relief::NoOpen, &|it| it.no_open = false);
        offer(self.max_shifts.is_some(), Relief::MaxShifts, &|it| {
            it.max_shifts = None
        });
        for number in self.pins.keys() {
            offer(true, Relief::Pin(*number), &|it| {
                it.pins.remove(number);
            });
        }
        reliefs
    }
}

/// What is asked of one note.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Asked {
    start: Option<Position>,
    end: Option<Position>,
    place: Option<Place>,
}

impl Asked {
    /// True when this step does what is asked.
    pub(super) fn allow(&self, step: &Step) -> bool {
        let positions = [self.start, self.end];
        positions
            .iter()
            .flatten()
            .all(|position| *position == step.position)
            && self.place.is_none_or(|place| place == step.place)
    }
}

/// A limit that, given up, would let the note be had.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Relief {
    /// Other positions.
    Positions,
    /// Other strings.
    Strings,
    /// Another position to start in.
    Start,
    /// Another position to end in.
    End,
    /// Open strings.
    NoOpen,
    /// More shifts.
    MaxShifts,
    /// Another place for the note with this number.
    Pin(usize),
}

impl fmt::Display for Relief {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Relief::Positions => f.write_str("allow other positions"),
            Relief::Strings => f.write_str("allow other strings"),
            Relief::Start => f.write_str("start in another position"),
            Relief::End => f.write_str("end in another position"),
            Relief::NoOpen => f.write_str("allow open strings"),
            Relief::MaxShifts => f.write_str("allow more shifts"),
            Relief::Pin(note) => write!(f, "give note {note} another place"),
        }
    }
}

/// There is no fingering.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("note {note} (MIDI {midi}) cannot be had")]
pub struct Impossible {
    /// The number of the first note that cannot be had, 1 being the first.
    pub note: usize,
    /// Its MIDI number, written pitch.
    pub midi: MidiNumber,
    /// Each of these alone would free it; when empty, it takes several, another octave, another instrument or hand.
    pub reliefs: Vec<Relief>,
}
