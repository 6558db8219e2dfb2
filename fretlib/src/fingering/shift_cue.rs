//! The shifts of a fingering, and what makes each a good moment.

use std::ops::Range;

use super::cost::amounts_from;
use super::preferences::Preferences;
use super::term::{Term, Weights};
use super::{FingeredNote, Fingering, FingeringSearch, Player, TimedMelody};
use crate::neck::{Position, Reach};

/// Avoiding a stretch within this many notes is a reason to shift; a later shift could avoid later stretches. Chosen by
/// ear.
const SOON: usize = 6;
/// What a shift spares is looked for among this many notes; a later shift could spare the rest. Chosen by ear.
const AHEAD: usize = 16;

/// What makes a moment good for a shift.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ShiftCue {
    /// A phrase begins.
    Phrase,
    /// There is a rest before it.
    Rest,
    /// An open string sounds while the hand moves.
    OpenString,
    /// A note of more than half a second gives time.
    LongNote,
    /// A finger stays on its string and guides the hand.
    GuideFinger,
    /// The hand arrives on a beat.
    Beat,
    /// Nothing in particular.
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

/// The reason for a shift.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ShiftReason {
    /// To play the note with this index, which the old position does not reach.
    Reach(usize),
    /// To play the note with this index without a stretch.
    WithoutStretch(usize),
    /// To come nearer to home.
    Home,
    /// To play the note with this index without what a term counts.
    Without(Term, usize),
    /// To be in place for the note with this index.
    Ready(usize),
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
    /// The cue for this moment.
    pub cue: ShiftCue,
    /// The time the hand has for it, in seconds.
    pub seconds: f64,
    /// Its reason.
    pub reason: ShiftReason,
}

impl Fingering {
    /// The shifts of this fingering, in order, each with its cue and its reason.
    pub fn explain_shifts(&self, search: &FingeringSearch, line: &TimedMelody) -> Vec<Shift> {
        let starts: Vec<usize> = self.shifts().collect();
        let ends = starts.iter().skip(1).copied().chain([self.notes.len()]);
        let preferences = search.preferences(line);
        let shift = |(index, end): (&usize, usize)| {
            let reason = self.reason(&search.player, &preferences, line, *index, end);
            self.shift(line, *index, reason)
        };
        starts.iter().zip(ends).map(shift).collect()
    }

    /// The shift to the note `index`.
    fn shift(&self, line: &TimedMelody, index: usize, reason: ShiftReason) -> Shift {
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
        Shift {
            index,
            from: before.position,
            to: after.position,
            cue,
            seconds: self.time_to_move(line, index),
            reason,
        }
    }

    /// The reason for the shift to the note `index`; the hand then stays until `end`.
    fn reason(
        &self,
        player: &Player,
        preferences: &Preferences,
        line: &TimedMelody,
        index: usize,
        end: usize,
    ) -> ShiftReason {
        let (from, to) = (self.notes[index - 1].position, self.notes[index].position);
        let stopped = |at: &usize| self.notes[*at].finger.is_some();
        let reach = |position: Position, at: usize| {
            position
                .reach(self.notes[at].place.fret)
                .map(|(reach, _)| reach)
        };
        if let Some(at) = (index..end)
            .filter(stopped)
            .find(|at| reach(from, *at).is_none())
        {
            return ShiftReason::Reach(at);
        }
        let stretch = Some(Reach::Stretch);
        let is_eased = |at: &usize| reach(from, *at) == stretch && reach(to, *at) != stretch;
        if let Some(at) = (index..end.min(index + SOON))
            .filter(stopped)
            .find(is_eased)
        {
            return ShiftReason::WithoutStretch(at);
        }
        let pull = preferences.pull(index);
        if pull.is_some_and(|pull| pull.distance(to) < pull.distance(from)) {
            return ShiftReason::Home;
        }
        let stay = index..end.min(index + AHEAD);
        let spared = self.spared(player, preferences, line, stay);
        spared.map_or_else(
            || ShiftReason::Ready((index..end).find(stopped).unwrap_or(index)),
            |(term, at)| ShiftReason::Without(term, at),
        )
    }

    /// What makes these notes hardest when the hand plays the same places from where it was before them, and at which note.
    fn spared(
        &self,
        player: &Player,
        preferences: &Preferences,
        line: &TimedMelody,
        stay: Range<usize>,
    ) -> Option<(Term, usize)> {
        let from = self.notes[stay.start - 1].position;
        let unmoved = |note: &FingeredNote| {
            let finger = match note.finger {
                Some(_) => from.reach(note.place.fret)?.1,
                None => None,
            };
            Some(FingeredNote {
                position: from,
                finger,
                ..*note
            })
        };
        let moved = &self.notes[stay.clone()];
        let unmoved: Vec<FingeredNote> = moved.iter().map(unmoved).collect::<Option<_>>()?;
        let amounts = |notes| amounts_from(stay.start, player, preferences, line, notes);
        let (moved, unmoved) = (amounts(moved)?, amounts(&unmoved)?);
        let weights = Weights::default();
        let mut most = None;
        for term in Term::ALL {
            let saved = |at: usize| {
                let more = unmoved[at][*term as usize] - moved[at][*term as usize];
                weights.get(*term) * more
            };
            let sum: f64 = (0..moved.len()).map(saved).sum();
            if sum > most.map_or(0.0, |(_, _, most)| most) {
                let hardest =
                    (0..moved.len()).max_by(|one, other| saved(*one).total_cmp(&saved(*other)));
                most = hardest.map(|at| (*term, stay.start + at, sum));
            }
        }
        most.map(|(term, at, _)| (term, at))
    }
}
