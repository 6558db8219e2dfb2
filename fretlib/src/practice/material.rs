//! What a drill asks about: a melody, and the spots on the neck where it is asked.

use std::ops::Range;

use super::kind::Kind;
use super::question::{Question, Task};
use super::spot::Spot;
use crate::melody::{AnalysedNote, Melody, analyse};
use crate::neck::{Instrument, Place};
use crate::theory::{Key, Octave, Pitch};

/// A melody on an instrument, cut into phrases, with the spots where it is asked.
#[derive(Clone, Debug)]
pub struct Material {
    melody: Melody,
    home: Key,
    notes: Vec<AnalysedNote>,
    // Invariant: in order, each not empty, covering every note.
    phrases: Vec<Range<usize>>,
    instrument: Instrument,
    spots: Vec<Spot>,
    // Invariant: within the melody, not empty.
    asked: Range<usize>,
}

impl Material {
    /// A whole melody; `home` is the key where the melody declares none.
    ///
    /// `phrases` are ranges of note indices. Notes in none of them are taken into the phrase before, so that each note
    /// has one.
    pub fn new(
        melody: Melody,
        home: Key,
        phrases: &[Range<usize>],
        instrument: Instrument,
        spots: Vec<Spot>,
    ) -> Material {
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
        Material {
            home,
            notes: analyse(&melody, home),
            phrases: phrases.collect(),
            instrument,
            spots,
            asked: 0..count,
            melody,
        }
    }

    /// Only these notes are asked about; `None` when the melody has none of them.
    pub fn only(mut self, notes: Range<usize>) -> Option<Material> {
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

    /// The notes of the melody and what they are.
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

    /// Which phrase a note belongs to, counted from 0.
    pub fn phrase_of(&self, note: usize) -> usize {
        self.phrases
            .partition_point(|phrase| phrase.start <= note)
            .saturating_sub(1)
    }

    /// The spots where the melody is asked.
    pub fn spots(&self) -> &[Spot] {
        &self.spots
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

    /// Every place of a note within reach at a spot, the least awkward first.
    pub fn places(&self, note: usize, spot: Spot) -> Vec<Place> {
        match self.pitch(note, spot.octave) {
            Some(pitch) => spot.places(pitch.midi(), &self.instrument),
            None => Vec::new(),
        }
    }

    /// Whether this can be asked of a note. Kinds about the melody alone take no spot, the others need one.
    pub fn can_ask(&self, kind: Kind, note: usize, spot: Option<Spot>) -> bool {
        let reaches = |note, spot: Spot| {
            self.pitch(note, spot.octave).is_some_and(|pitch| {
                self.instrument
                    .places_for(pitch.midi())
                    .any(|place| spot.position.reach(place.fret).is_some())
            })
        };
        let has_next = note + 1 < self.notes.len();
        match (kind, spot) {
            (Kind::Degree | Kind::Scale, None) => true,
            (Kind::Interval, None) => has_next,
            (Kind::Place | Kind::Name, Some(spot)) => reaches(note, spot),
            (Kind::Next, Some(spot)) => has_next && reaches(note, spot) && reaches(note + 1, spot),
            (Kind::Octave, Some(spot)) => {
                reaches(note, spot) && self.octave_away(spot).any(|from| reaches(note, from))
            }
            _ => false,
        }
    }

    /// The spots in another position from which `spot` is an octave away.
    fn octave_away(&self, spot: Spot) -> impl Iterator<Item = Spot> + '_ {
        self.spots.iter().copied().filter(move |from| {
            from.octave.get().abs_diff(spot.octave.get()) == 1 && from.position != spot.position
        })
    }

    /// Puts the question; `pick(n)` chooses among `n` places or spots to show, and must be below `n`.
    ///
    /// `None` when [`Material::can_ask`] says no.
    pub fn question(
        &self,
        kind: Kind,
        note: usize,
        spot: Option<Spot>,
        mut pick: impl FnMut(usize) -> usize,
    ) -> Option<Question> {
        if !self.can_ask(kind, note, spot) {
            return None;
        }
        let task = match (kind, spot) {
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
            (Kind::Place, Some(spot)) => Task::Place {
                pitch: self.pitch(note, spot.octave)?,
                right: self.places(note, spot),
            },
            (Kind::Name, Some(spot)) => Task::Name {
                place: choose(&self.places(note, spot), &mut pick)?,
                pitch: self.pitch(note, spot.octave)?,
                degree: self.notes[note].degree,
            },
            (Kind::Next, Some(spot)) => Task::Next {
                place: choose(&self.places(note, spot), &mut pick)?,
                pitch: self.pitch(note, spot.octave)?,
                next: self.pitch(note + 1, spot.octave)?,
                right: self.places(note + 1, spot),
            },
            (Kind::Octave, Some(spot)) => {
                let from: Vec<Spot> = self
                    .octave_away(spot)
                    .filter(|from| self.can_ask(Kind::Place, note, Some(*from)))
                    .collect();
                let shown = choose(&from, &mut pick)?;
                Task::Octave {
                    place: choose(&self.places(note, shown), &mut pick)?,
                    shown,
                    pitch: self.pitch(note, spot.octave)?,
                    right: self.places(note, spot),
                }
            }
            (_, None) => return None,
        };
        Some(Question { note, spot, task })
    }
}

fn choose<T: Copy>(from: &[T], pick: &mut impl FnMut(usize) -> usize) -> Option<T> {
    from.get(pick(from.len())).copied()
}
