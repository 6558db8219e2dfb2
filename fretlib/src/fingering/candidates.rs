//! The ways to play a pitch.

use std::ops::{Range, RangeInclusive};

use super::cost;
use super::term::Weights;
use super::{Constraints, FingeredNote, Player};
use crate::neck::{Finger, Position, StringNumber};
use crate::theory::MidiNumber;

impl Player<'_> {
    /// Every way to play a note (its MIDI number, written pitch) from any position.
    ///
    /// Fingers stand a fret apart. A finger that comes down a fret early is offered too, as editors print it near the
    /// nut. Common practice, no source.
    pub fn candidates(&self, midi: MidiNumber) -> Vec<FingeredNote> {
        let mut candidates = Vec::new();
        for place in self.instrument.places_for(midi) {
            for position in self.instrument.positions() {
                if place.fret.get() == 0 {
                    candidates.push(FingeredNote {
                        position,
                        place,
                        finger: None,
                    });
                    continue;
                }
                let fingers: &[Finger] =
                    match i16::from(place.fret.get()) - i16::from(position.get()) {
                        -1 => &[Finger::First],
                        0 => &[Finger::First, Finger::Second],
                        1 => &[Finger::Second, Finger::Third],
                        2 => &[Finger::Third, Finger::Fourth],
                        3 | 4 => &[Finger::Fourth],
                        _ => &[],
                    };
                candidates.extend(fingers.iter().map(|finger| FingeredNote {
                    position,
                    place,
                    finger: Some(*finger),
                }));
            }
        }
        candidates
    }
}

/// A way to play a pitch, with its own cost as a short and as a long note.
pub(super) struct Candidate {
    pub(super) note: FingeredNote,
    short: f64,
    long: f64,
}

impl Candidate {
    pub(super) fn cost(&self, long: bool) -> f64 {
        if long { self.long } else { self.short }
    }
}

/// The ways to play a pitch, by position; by default none.
#[derive(Default)]
pub(super) struct Candidates {
    pub(super) all: Vec<Candidate>,
    /// Their strings, and their lowest and highest position.
    pub(super) strings: Vec<(u8, RangeInclusive<Position>)>,
    /// Ranges of candidates with the same position and place but other fingers.
    pub(super) spots: Vec<Range<usize>>,
    by_position: Vec<Range<usize>>,
    by_string_and_finger: Vec<[Vec<usize>; 4]>,
}

impl Candidates {
    /// The candidates that the constraints allow for any note.
    pub(super) fn new(
        player: &Player,
        weights: &Weights,
        constraints: &Constraints,
        midi: MidiNumber,
    ) -> Candidates {
        let mut notes = player.candidates(midi);
        notes.retain(|note| constraints.allow_anywhere(note));
        notes.sort_by_key(|note| (note.position, note.place.string.get()));
        let strings = player.instrument.strings().len();
        let mut candidates = Candidates {
            by_position: vec![0..0; usize::from(Position::HIGHEST) + 1],
            by_string_and_finger: vec![<[Vec<usize>; 4]>::default(); strings + 1],
            ..Candidates::default()
        };
        for (index, note) in notes.iter().enumerate() {
            candidates.index(index, note, &notes);
        }
        let price =
            |note: &FingeredNote, long| weights.total(|add| cost::alone(player, long, note, add));
        candidates.all = notes
            .into_iter()
            .map(|note| Candidate {
                short: price(&note, false),
                long: price(&note, true),
                note,
            })
            .collect();
        candidates
    }

    fn index(&mut self, index: usize, note: &FingeredNote, notes: &[FingeredNote]) {
        let range = &mut self.by_position[usize::from(note.position.get())];
        if range.end == 0 {
            range.start = index;
        }
        range.end = index + 1;
        let same_spot = |spot: &Range<usize>| {
            let first = notes[spot.start];
            (first.position, first.place) == (note.position, note.place)
        };
        match self.spots.last_mut() {
            Some(spot) if same_spot(spot) => spot.end = index + 1,
            _ => self.spots.push(index..index + 1),
        }
        let string = note.place.string.get();
        match self.strings.iter_mut().find(|(it, _)| *it == string) {
            Some((_, positions)) => *positions = *positions.start()..=note.position,
            None => self.strings.push((string, note.position..=note.position)),
        }
        if let Some(finger) = note.finger {
            self.by_string_and_finger[usize::from(string)][finger as usize - 1].push(index);
        }
    }

    /// The indices of the candidates in a position.
    pub(super) fn in_position(&self, position: Position) -> Range<usize> {
        self.by_position[usize::from(position.get())].clone()
    }

    /// The indices of the candidates that stop a string with a finger.
    pub(super) fn held_by(&self, string: StringNumber, finger: Finger) -> &[usize] {
        &self.by_string_and_finger[usize::from(string.get())][finger as usize - 1]
    }
}
