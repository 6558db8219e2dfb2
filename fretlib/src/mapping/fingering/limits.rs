//! What a player asks of a fingering.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::RangeInclusive;

use thiserror::Error;

use super::Step;
use crate::neck::{Place, Position};

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
    /// True when this step may play the note `number`, 1 being the first, `last` the last.
    pub(super) fn allow(&self, number: usize, last: usize, step: &Step) -> bool {
        let position = step.position;
        self.positions
            .as_ref()
            .is_none_or(|range| range.contains(&position))
            && self
                .strings
                .as_ref()
                .is_none_or(|range| range.contains(&step.place.string.get()))
            && !(self.no_open && step.finger.is_none())
            && !(number == 1 && self.start.is_some_and(|start| start != position))
            && !(number == last && self.end.is_some_and(|end| end != position))
            && self
                .pins
                .get(&number)
                .is_none_or(|place| *place == step.place)
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
    pub midi: u8,
    /// Each of these alone would free it; when empty, it takes several, another octave, another instrument or hand.
    pub reliefs: Vec<Relief>,
}
