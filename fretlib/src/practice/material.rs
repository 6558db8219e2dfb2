//! What a drill asks about: a melody, and the placements on the neck where it is asked.

use std::ops::{Range, RangeInclusive};

use super::kind::Kind;
use super::placement_key::PlacementKey;
use super::question::{Question, Task};
use crate::melody::{AnalysedNote, Melody};
use crate::neck::{Instrument, Place};
use crate::theory::{Degree, Key, Octave, Pitch};

/// A melody on an instrument, cut into phrases, with the placements where it is asked.
#[derive(Clone, Debug)]
pub struct PracticeMaterial {
    melody: Melody,
    home: Key,
    notes: Vec<AnalysedNote>,
    // Invariant: in order, each not empty, covering every note.
    phrases: Vec<Range<usize>>,
    instrument: Instrument,
    placements: Vec<PlacementKey>,
    // Invariant: within the melody, not empty.
    asked: Range<usize>,
}

impl PracticeMaterial {
    /// A whole melody; `home` is the key where the melody declares none.
    ///
    /// `phrases` are ranges of note indices. Notes in none of them are taken into the phrase before, so that each note
    /// has one.
    pub fn new(
        melody: Melody,
        home: Key,
        phrases: &[Range<usize>],
        instrument: Instrument,
        placements: Vec<PlacementKey>,
    ) -> PracticeMaterial {
        let count = melody.notes().len();
        let mut starts: Vec<usize> = phrases
            .iter()
            .map(|phrase| phrase.start)
            .filter(|start| *start > 0 && *start < count)
            .collect();
        starts.push(0);
        starts.sort_unstable();
        starts.dedup();
        let ends = starts.iter().skip(1).copied().chain([count]);
        let phrases = starts.iter().zip(ends).map(|(start, end)| *start..end);
        PracticeMaterial {
            home,
            notes: melody.analyse(home),
            phrases: phrases.collect(),
            instrument,
            placements,
            asked: 0..count,
            melody,
        }
    }

    /// Only these notes are asked about; `None` when the melody has none of them.
    pub fn only(mut self, notes: Range<usize>) -> Option<PracticeMaterial> {
        let end = notes.end.min(self.notes.len());
        self.asked = notes.start..end;
        (!self.asked.is_empty()).then_some(self)
    }

    /// The melody.
    pub fn melody(&self) -> &Melody {
        &self.melody
    }

    /// The instrument.
    pub fn instrument(&self) -> &Instrument {
        &self.instrument
    }

    /// The analysed notes of the melody.
    pub fn notes(&self) -> &[AnalysedNote] {
        &self.notes
    }

    /// The notes that are asked about.
    pub fn asked(&self) -> Range<usize> {
        self.asked.clone()
    }

    /// The phrases, as ranges of notes; they cover the melody.
    pub fn phrases(&self) -> &[Range<usize>] {
        &self.phrases
    }

    /// The bars of a phrase, by their numbers; `None` when there is no such phrase.
    pub fn phrase_bars(&self, phrase: usize) -> Option<RangeInclusive<u32>> {
        let notes = self.phrases.get(phrase)?.clone();
        let bar = |note: usize| self.notes.get(note).map(|it| it.bar);
        Some(bar(notes.start)?..=bar(notes.end - 1)?)
    }

    /// Which phrase a note belongs to, counted from 0.
    pub fn phrase_of(&self, note: usize) -> usize {
        self.phrases
            .partition_point(|phrase| phrase.start <= note)
            .saturating_sub(1)
    }

    /// The placements where the melody is asked.
    pub fn placements(&self) -> &[PlacementKey] {
        &self.placements
    }

    /// Adds missing placements at the end.
    pub fn add_placements(&mut self, more: impl IntoIterator<Item = PlacementKey>) {
        for placement in more {
            if !self.placements.contains(&placement) {
                self.placements.push(placement);
            }
        }
    }

    /// The key in force at a note.
    ///
    /// # Panics
    ///
    /// When the melody has no such note.
    pub fn key_at(&self, note: usize) -> Key {
        let onset = self.notes[note].note.onset;
        self.melody.keys().at(onset).copied().unwrap_or(self.home)
    }

    /// The pitch of a note at an octave; `None` when there is no such note or it leaves the range of pitches.
    pub fn pitch(&self, note: usize, octave: Octave) -> Option<Pitch> {
        let written = self.notes.get(note)?.note.pitch;
        written.transpose(octave.interval()).ok()
    }

    /// Every place of a note within reach at a placement, the least awkward first.
    pub fn places(&self, note: usize, placement: PlacementKey) -> Vec<Place> {
        match self.pitch(note, placement.octave) {
            Some(pitch) => placement.places(pitch.midi(), &self.instrument),
            None => Vec::new(),
        }
    }

    /// Whether this can be asked of a note. Kinds about the melody alone take no placement, the others need one.
    pub fn can_ask(&self, kind: Kind, note: usize, placement: Option<PlacementKey>) -> bool {
        let reaches = |note, placement: PlacementKey| {
            self.pitch(note, placement.octave).is_some_and(|pitch| {
                self.instrument
                    .places_for(pitch.midi())
                    .any(|place| placement.position.reach(place.fret).is_some())
            })
        };
        let has_next = note + 1 < self.notes.len();
        match (kind, placement) {
            // "Which degree of Bb major is Bb?" would contain its answer.
            (Kind::Degree | Kind::Scale, None) => self
                .notes
                .get(note)
                .is_some_and(|it| it.degree != Degree::TONIC),
            (Kind::Interval, None) => has_next,
            (Kind::Place | Kind::Name, Some(placement)) => reaches(note, placement),
            (Kind::Next, Some(placement)) => {
                has_next && reaches(note, placement) && reaches(note + 1, placement)
            }
            (Kind::Octave, Some(placement)) => {
                reaches(note, placement)
                    && self.octave_away(placement).any(|from| reaches(note, from))
            }
            _ => false,
        }
    }

    /// The placements in another position, an octave away from `placement`.
    fn octave_away(&self, placement: PlacementKey) -> impl Iterator<Item = PlacementKey> + '_ {
        self.placements.iter().copied().filter(move |from| {
            from.octave.get().abs_diff(placement.octave.get()) == 1
                && from.position != placement.position
        })
    }

    /// Makes the question; `pick(n)` chooses among `n` places or placements to show, and must be below `n`.
    ///
    /// `None` when [`PracticeMaterial::can_ask`] is false.
    pub fn question(
        &self,
        kind: Kind,
        note: usize,
        placement: Option<PlacementKey>,
        mut pick: impl FnMut(usize) -> usize,
    ) -> Option<Question> {
        if !self.can_ask(kind, note, placement) {
            return None;
        }
        let task = match (kind, placement) {
            (Kind::Degree, _) => Task::Degree {
                pitch: self.pitch(note, Octave::WRITTEN)?,
                key: self.key_at(note),
            },
            (Kind::Scale, _) => Task::Scale {
                pitch: self.pitch(note, Octave::WRITTEN)?,
                key: self.key_at(note),
            },
            (Kind::Interval, _) => Task::Interval {
                from: self.pitch(note, Octave::WRITTEN)?,
                to: self.pitch(note + 1, Octave::WRITTEN)?,
            },
            (Kind::Place, Some(placement)) => Task::Place {
                pitch: self.pitch(note, placement.octave)?,
                right: self.places(note, placement),
            },
            (Kind::Name, Some(placement)) => Task::Name {
                place: choose(&self.places(note, placement), &mut pick)?,
                pitch: self.pitch(note, placement.octave)?,
                key: self.key_at(note),
            },
            (Kind::Next, Some(placement)) => Task::Next {
                place: choose(&self.places(note, placement), &mut pick)?,
                pitch: self.pitch(note, placement.octave)?,
                next: self.pitch(note + 1, placement.octave)?,
                key: self.key_at(note + 1),
                right: self.places(note + 1, placement),
            },
            (Kind::Octave, Some(placement)) => {
                let from: Vec<PlacementKey> = self
                    .octave_away(placement)
                    .filter(|from| self.can_ask(Kind::Place, note, Some(*from)))
                    .collect();
                let shown = choose(&from, &mut pick)?;
                Task::Octave {
                    place: choose(&self.places(note, shown), &mut pick)?,
                    shown,
                    pitch: self.pitch(note, placement.octave)?,
                    right: self.places(note, placement),
                }
            }
            (_, None) => return None,
        };
        Some(Question {
            note,
            placement,
            task,
        })
    }
}

fn choose<T: Copy>(from: &[T], pick: &mut impl FnMut(usize) -> usize) -> Option<T> {
    from.get(pick(from.len())).copied()
}
