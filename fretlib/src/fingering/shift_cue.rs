//! The shifts of a fingering, and what makes each a good moment.

use std::ops::Range;

use super::cost::amounts_from;
use super::preferences::Preferences;
use super::term::{Term, Weights};
use super::{FingeredNote, Fingering, FingeringSearch, Home, Player, TimedMelody};
use crate::neck::{Position, Reach};

/// Avoiding a stretch within this many notes is a reason to shift; a later shift could avoid later stretches. Chosen by
/// ear.
const SOON: usize = 6;
/// What a shift brings within reach or spares is looked for among this many notes; a later shift could do the rest. Chosen by
/// ear.
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
            ShiftCue::LongNote => "late in a long note",
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
    /// To come nearer to this home.
    Home(Home),
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
        let out_of_reach = (index..end)
            .filter(stopped)
            .find(|at| reach(from, *at).is_none());
        if let Some(at) = out_of_reach.filter(|at| at - index < AHEAD) {
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
        if let Some(home) = preferences.pull(index).and_then(|it| it.nearer(from, to)) {
            return ShiftReason::Home(home);
        }
        // The hand has to move some time before it, and this is the best moment.
        if let Some(at) = out_of_reach {
            return ShiftReason::Reach(at);
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
                // The first of equals, which is the nearest.
                let hardest = (0..moved.len())
                    .rev()
                    .max_by(|one, other| saved(*one).total_cmp(&saved(*other)));
                most = hardest.map(|at| (*term, stay.start + at, sum));
            }
        }
        most.map(|(term, at, _)| (term, at))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Home, Player};
    use super::*;
    use crate::melody::{Draft, Melody, Quarters};
    use crate::neck::{Finger, Hand, Instrument, Place};
    use crate::theory::{Octave, Pitch};

    /// The reason for the only shift of a fingering, such as `3:5-4@II 3:7-3@V`: string, fret, finger and position. Half notes.
    fn reason(played: &str, home: Option<&str>) -> ShiftReason {
        let guitar = Instrument::default();
        let mut draft = Draft::default();
        let mut notes = Vec::new();
        for note in played.split(' ') {
            let (note, position) = note.split_once('@').unwrap();
            let (place, finger) = note.split_once('-').unwrap();
            let place: Place = place.parse().unwrap();
            let pitch = Pitch::from_midi(guitar.midi_at(place).unwrap());
            draft.note(pitch, Quarters::from(2)).unwrap();
            let finger = Finger::ALL[finger.parse::<usize>().unwrap() - 1];
            notes.push(FingeredNote {
                place,
                finger: Some(finger),
                position: position.parse().unwrap(),
            });
        }
        let melody = Melody::new(draft).unwrap();
        let line = TimedMelody::new(&melody, Octave::WRITTEN, None).unwrap();
        let mut search = FingeringSearch::new(Player {
            instrument: &guitar,
            hand: Hand::MEDIUM,
        });
        if let Some(home) = home {
            let home = Home::at(home.parse().unwrap());
            search.homes = vec![(0..notes.len(), home)];
        }
        let fingering = Fingering { notes, cost: 0.0 };
        let shifts = fingering.explain_shifts(&search, &line);
        assert_eq!(shifts.len(), 1, "{played}");
        shifts[0].reason
    }

    /// All are common practice, no source.
    #[test]
    fn every_shift_has_the_reason_of_a_player() {
        use ShiftReason::{Reach, Ready, Without, WithoutStretch};
        // D5 on string 3 lies beyond the four frets of II and the stretch to the sixth.
        assert_eq!(reason("3:5-4@II 3:7-3@V", None), Reach(1));
        // What cannot be reached is the reason even when it comes later.
        assert_eq!(reason("3:5-4@II 3:5-1@V 3:8-4@V", None), Reach(2));
        // But not when a stretch is spared at once, and the other comes many notes later.
        let far_ahead = format!("3:4-2@III 3:2-1@II{} 4:1-1@II", " 3:5-4@II".repeat(16));
        assert_eq!(reason(&far_ahead, None), WithoutStretch(1));
        // Without a nearer one it is.
        let far_ahead = format!("3:4-1@IV 3:4-2@III{} 3:2-1@III", " 3:5-3@III".repeat(16));
        assert_eq!(reason(&far_ahead, None), Reach(18));
        // The sixth fret is a stretch of the fourth finger from II, not from III.
        assert_eq!(reason("3:5-4@II 3:6-4@III", None), WithoutStretch(1));
        // Nor is the second fret from III, where the first finger would reach back.
        assert_eq!(reason("3:5-3@III 3:2-1@II", None), WithoutStretch(1));
        // Where both positions reach it, home decides.
        let home = Home::at("V".parse().unwrap());
        assert_eq!(
            reason("3:5-4@II 3:5-1@V", Some("V")),
            ShiftReason::Home(home)
        );
        // The third finger instead of the fourth, and that at once.
        let third = "3:5-4@II 3:5-3@III 3:4-2@III 3:5-3@III";
        assert_eq!(reason(third, None), Without(Term::Fourth, 1));
        // Nothing is spared here.
        assert_eq!(reason("3:5-3@III 3:5-1@V", None), Ready(1));
    }
}
