//! What a player requires of a fingering.

use std::collections::BTreeMap;
use std::fmt;

use super::FingeredNote;
use crate::error::is_error;
use crate::mapping::OpenStrings;
use crate::neck::{Finger, Place, Position, PositionSet, StringNumber};
use crate::theory::Pitch;

/// What a fingering must satisfy; the default allows everything.
#[derive(Clone, Debug, PartialEq)]
pub struct Constraints {
    /// The positions the hand may take; `None` for all.
    pub positions: Option<PositionSet>,
    /// The strings that may be played; `None` for all.
    pub strings: Option<Vec<StringNumber>>,
    /// The position of the first note.
    pub start: Option<Position>,
    /// The position of the last note.
    pub end: Option<Position>,
    /// Where open strings may be played.
    pub open_strings: OpenStrings,
    /// How many times the hand may move at most.
    pub max_shifts: Option<u8>,
    /// How single notes are played, by the index of the note.
    pub pins: BTreeMap<usize, Pin>,
}

/// How one note is to be played: where, and perhaps with which finger and from which position.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Pin {
    /// The string and the fret.
    pub place: Place,
    /// The finger; `None` for whichever is best.
    pub finger: Option<Finger>,
    /// Where the hand stands; `None` for wherever is best.
    pub position: Option<Position>,
}

impl Pin {
    /// True for a note that is played so.
    pub fn allows(&self, note: &FingeredNote) -> bool {
        self.place == note.place
            && self.finger.is_none_or(|finger| note.finger == Some(finger))
            && self
                .position
                .is_none_or(|position| position == note.position)
    }

    /// Where the hand stands, if that is said, or else follows from the finger: each finger over its own fret.
    ///
    /// ```
    /// use fretlib::fingering::Pin;
    /// use fretlib::neck::{Finger, Place, Position};
    ///
    /// let place: Place = "3:7".parse()?;
    /// let third = Pin {
    ///     finger: Some(Finger::Third),
    ///     ..Pin::from(place)
    /// };
    /// assert_eq!(third.stands(), Some(Position::new(5)?));
    /// assert_eq!(Pin::from(place).stands(), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn stands(&self) -> Option<Position> {
        let over = |finger: Finger| {
            let back = Position::FIRST.fret(finger).get() - Position::FIRST.get();
            Position::new(self.place.fret.get().checked_sub(back)?).ok()
        };
        self.position.or_else(|| over(self.finger?))
    }
}

impl From<Place> for Pin {
    /// With whichever finger, from wherever.
    fn from(place: Place) -> Pin {
        Pin {
            place,
            finger: None,
            position: None,
        }
    }
}

impl From<FingeredNote> for Pin {
    /// Exactly so.
    fn from(note: FingeredNote) -> Pin {
        Pin {
            place: note.place,
            finger: note.finger,
            position: Some(note.position),
        }
    }
}

impl Default for Constraints {
    fn default() -> Constraints {
        Constraints {
            positions: None,
            strings: None,
            start: None,
            end: None,
            open_strings: OpenStrings::Anywhere,
            max_shifts: None,
            pins: BTreeMap::new(),
        }
    }
}

impl Constraints {
    /// The hand held to one position, all else allowed.
    pub fn in_position(position: Position) -> Constraints {
        Constraints {
            positions: Some(position.into()),
            ..Constraints::default()
        }
    }

    /// True when any note may be played this way.
    pub(super) fn allow_anywhere(&self, note: &FingeredNote) -> bool {
        let in_position = |set: PositionSet| set.contains(note.position);
        let on_string = |strings: &Vec<StringNumber>| strings.contains(&note.place.string);
        self.positions.is_none_or(in_position)
            && self.strings.as_ref().is_none_or(on_string)
            && (note.finger.is_some() || self.open_strings.allow(note.position))
    }

    /// The constraints on the note `index` alone, where `last` is the last note; `None` when there are none.
    pub(super) fn at(&self, index: usize, last: usize) -> Option<NoteConstraints> {
        let asked = NoteConstraints {
            start: self.start.filter(|_| index == 0),
            end: self.end.filter(|_| index == last),
            pin: self.pins.get(&index).copied(),
        };
        (asked != NoteConstraints::default()).then_some(asked)
    }

    /// Every constraint that is set, each with the constraints that remain without it.
    pub(super) fn without_each(&self) -> Vec<(Relaxation, Constraints)> {
        let mut all = Vec::new();
        let mut offer = |set: bool, relaxation: Relaxation, relax: &dyn Fn(&mut Constraints)| {
            if set {
                let mut rest = self.clone();
                relax(&mut rest);
                all.push((relaxation, rest));
            }
        };
        offer(self.positions.is_some(), Relaxation::Positions, &|it| {
            it.positions = None
        });
        offer(self.strings.is_some(), Relaxation::Strings, &|it| {
            it.strings = None
        });
        offer(self.start.is_some(), Relaxation::Start, &|it| {
            it.start = None
        });
        offer(self.end.is_some(), Relaxation::End, &|it| it.end = None);
        let is_narrow = self.open_strings != OpenStrings::Anywhere;
        offer(is_narrow, Relaxation::OpenStrings, &|it| {
            it.open_strings = OpenStrings::Anywhere
        });
        offer(self.max_shifts.is_some(), Relaxation::MaxShifts, &|it| {
            it.max_shifts = None
        });
        for index in self.pins.keys() {
            offer(true, Relaxation::Pin(*index), &|it| {
                it.pins.remove(index);
            });
        }
        all
    }
}

/// The constraints on one note.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct NoteConstraints {
    start: Option<Position>,
    end: Option<Position>,
    pin: Option<Pin>,
}

impl NoteConstraints {
    pub(super) fn allow(&self, note: &FingeredNote) -> bool {
        let positions = [self.start, self.end];
        positions
            .iter()
            .flatten()
            .all(|position| *position == note.position)
            && self.pin.is_none_or(|pin| pin.allows(note))
    }
}

/// A constraint whose removal makes the note playable.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub enum Relaxation {
    /// Other positions.
    Positions,
    /// Other strings.
    Strings,
    /// Another position to start in.
    Start,
    /// Another position to end in.
    End,
    /// Open strings.
    OpenStrings,
    /// More shifts.
    MaxShifts,
    /// The pin of the note with this index.
    Pin(usize),
}

impl fmt::Display for Relaxation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Relaxation::Positions => f.write_str("allow other positions"),
            Relaxation::Strings => f.write_str("allow other strings"),
            Relaxation::Start => f.write_str("start in another position"),
            Relaxation::End => f.write_str("end in another position"),
            Relaxation::OpenStrings => f.write_str("allow open strings"),
            Relaxation::MaxShifts => f.write_str("allow more shifts"),
            Relaxation::Pin(index) => write!(f, "unpin note {}", index + 1),
        }
    }
}

/// No fingering satisfies the constraints.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NoFingering {
    /// The index of the first note that cannot be played.
    pub index: usize,
    /// Its written pitch.
    pub pitch: Pitch,
    /// Relaxing any one of these makes it playable; empty when several constraints conflict, or the note is beyond the
    /// instrument or the hand.
    pub relaxations: Vec<Relaxation>,
}

impl fmt::Display for NoFingering {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (number, pitch) = (self.index + 1, self.pitch);
        write!(
            f,
            "note {number} ({pitch}) cannot be played with these constraints"
        )
    }
}

is_error!(NoFingering);
