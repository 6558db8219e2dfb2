//! What a drill asks about: a melody, and the placements on the neck where it is asked.

use std::ops::{Range, RangeInclusive};

use super::arranged_question::{ArrangedStep, ArrangedTask, StruckVoicing};
use super::kind::Kind;
use super::placement_key::PlacementKey;
use super::question::{PhraseChoice, Question, Task};
use crate::fingering::{FingeredNote, Fingering};
use crate::mapping::{NeckMap, OpenStrings, Placement};
use crate::melody::{AnalysedNote, Melody, Quarters};
use crate::neck::{Instrument, Place};
use crate::theory::{Degree, Interval, Key, Membership, Octave, Pitch};

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
    open_strings: OpenStrings,
    // Invariant: empty, or one for each note.
    arranged: Vec<ArrangedStep>,
    /// The player's own way along the neck, a note for each of the melody.
    own: Option<OwnWay>,
    // Invariant: within the melody, not empty.
    asked: Range<usize>,
}

/// How a player fingers a melody, and at which octave.
#[derive(Clone, Debug)]
struct OwnWay {
    octave: Octave,
    notes: Vec<FingeredNote>,
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
            open_strings: OpenStrings::default(),
            arranged: Vec::new(),
            own: None,
            asked: 0..count,
            melody,
        }
    }

    /// Shown with open strings where the player wants them.
    #[must_use]
    pub fn with_open_strings(self, open_strings: OpenStrings) -> PracticeMaterial {
        PracticeMaterial {
            open_strings,
            ..self
        }
    }

    /// With how an arrangement plays each note, so that it is asked about too; steps that are not one for each note are
    /// left out.
    #[must_use]
    pub fn arranged(mut self, steps: Vec<ArrangedStep>) -> PracticeMaterial {
        if steps.len() == self.notes.len() {
            self.arranged = steps;
        }
        self
    }

    /// Whether there is an arrangement to ask about.
    pub fn is_arranged(&self) -> bool {
        !self.arranged.is_empty()
    }

    /// Only these notes are asked about; `None` when the melody has none of them.
    pub fn only(mut self, notes: Range<usize>) -> Option<PracticeMaterial> {
        let end = notes.end.min(self.notes.len());
        self.asked = notes.start..end;
        (!self.asked.is_empty()).then_some(self)
    }

    /// Asked along a fingering of the player's own: each note where the hand stands in it, at no other place than there.
    ///
    /// The placements become the positions of the fingering, in the order the hand comes to them. What a player knows of a
    /// phrase in a position is the same memory in both cases. A fingering of another melody changes nothing.
    #[must_use]
    pub fn along(mut self, octave: Octave, fingering: &Fingering) -> PracticeMaterial {
        if fingering.notes.len() != self.notes.len() {
            return self;
        }
        self.placements.clear();
        self.add_placements(fingering.notes.iter().map(|note| PlacementKey {
            position: note.position,
            octave,
        }));
        self.own = Some(OwnWay {
            octave,
            notes: fingering.notes.clone(),
        });
        self
    }

    /// Whether it is asked along a fingering of the player's own.
    pub fn is_fingered(&self) -> bool {
        self.own.is_some()
    }

    /// How the player fingers a note at a placement, when it is asked along a fingering.
    pub fn fingered(&self, note: usize, placement: PlacementKey) -> Option<FingeredNote> {
        let own = self.own.as_ref()?;
        let is_there = own.octave == placement.octave;
        own.notes.get(note).copied().filter(|_| is_there)
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

    /// The melody at a placement, on open strings where the player wants them; `None` outside the neck.
    pub fn placed(&self, at: PlacementKey) -> Option<Placement> {
        let map = NeckMap::new(&self.melody, &self.instrument, self.open_strings);
        map.at(at.position, at.octave).cloned()
    }

    /// The placements where the melody is asked.
    pub fn placements(&self) -> &[PlacementKey] {
        &self.placements
    }

    /// Where a phrase is played that was heard in an octave: the first placement there that holds it whole, the best one of
    /// the whole neck if it is practised at none; along a fingering where the hand stands at its first note. `None` where it
    /// does not lie whole.
    ///
    /// A place cannot be heard, so it is the likeliest one.
    pub fn played_at(&self, phrase: usize, octave: Octave) -> Option<PlacementKey> {
        let first = self.phrases.get(phrase)?.start;
        let lies =
            |at: &PlacementKey| at.octave == octave && self.can_ask(Kind::Play, first, Some(*at));
        let practised = self.placements.iter().copied().find(lies);
        practised.or_else(|| {
            let map = NeckMap::new(&self.melody, &self.instrument, self.open_strings);
            let ranked = map.ranked().into_iter().map(|it| PlacementKey {
                position: it.position,
                octave: it.octave,
            });
            ranked.into_iter().find(lies)
        })
    }

    /// Where a phrase is met, in this order: along a fingering at the positions the hand comes to in it, else at every
    /// placement.
    pub fn phrase_placements(&self, phrase: usize) -> Vec<PlacementKey> {
        let along = self.placements_along(phrase);
        match along.is_empty() {
            true => self.placements.clone(),
            false => along,
        }
    }

    /// The positions that the hand comes to in a phrase along a fingering, in order; empty without one.
    pub fn placements_along(&self, phrase: usize) -> Vec<PlacementKey> {
        let (Some(own), Some(notes)) = (&self.own, self.phrases.get(phrase)) else {
            return Vec::new();
        };
        let mut met = Vec::new();
        for note in notes.clone() {
            let placement = PlacementKey {
                position: own.notes[note].position,
                octave: own.octave,
            };
            if !met.contains(&placement) {
                met.push(placement);
            }
        }
        met
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

    /// Every place of a note within reach at a placement, the least awkward first; along a fingering its place there.
    pub fn places(&self, note: usize, placement: PlacementKey) -> Vec<Place> {
        if let Some(own) = self.fingered(note, placement) {
            return vec![own.place];
        }
        match self.pitch(note, placement.octave) {
            Some(pitch) => placement.places(pitch.midi(), &self.instrument),
            None => Vec::new(),
        }
    }

    /// Of these places the ones to show: no open string for a player who wants none, unless there is nothing else.
    pub fn shown_places(&self, note: usize, placement: PlacementKey) -> Vec<Place> {
        let all = self.places(note, placement);
        let is_wanted =
            |place: &&Place| self.open_strings != OpenStrings::Nowhere || place.fret.get() > 0;
        let wanted: Vec<Place> = all.iter().filter(is_wanted).copied().collect();
        if wanted.is_empty() { all } else { wanted }
    }

    /// Whether this can be asked of a note. Kinds about the melody alone take no placement, the others need one.
    ///
    /// What is played is a whole phrase: it belongs to its first note, where all of its notes lie within reach.
    pub fn can_ask(&self, kind: Kind, note: usize, placement: Option<PlacementKey>) -> bool {
        let reaches = |note, placement: PlacementKey| {
            if self.own.is_some() {
                let own = self.fingered(note, placement);
                return own.is_some_and(|own| own.position == placement.position);
            }
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
            // By ear the tonic is a degree like the others.
            (Kind::DegreeByEar | Kind::ScaleByEar, None) => note < self.notes.len(),
            (Kind::Interval | Kind::IntervalByEar, None) => has_next,
            (Kind::Place | Kind::Name, Some(placement)) => reaches(note, placement),
            (Kind::Next, Some(placement)) => {
                // Along a fingering the hand may move to the next note.
                has_next
                    && reaches(note, placement)
                    && (self.own.is_some() || reaches(note + 1, placement))
            }
            // One note alone tells nothing of what comes next.
            (Kind::NextByEar, Some(_)) => {
                note > self.phrase_start(note) && self.can_ask(Kind::Next, note, placement)
            }
            // Along a fingering a phrase is played from where the hand stands at its first note.
            (Kind::Play, Some(placement)) => {
                let phrase = self.phrases.get(self.phrase_of(note));
                phrase.is_some_and(|phrase| {
                    let mut moved = phrase.clone().take_while(|_| self.own.is_none());
                    note == phrase.start
                        && reaches(note, placement)
                        && moved.all(|note| reaches(note, placement))
                })
            }
            (Kind::Under | Kind::LeftOut, None) => self.voicing(note).is_some(),
            (Kind::Stays, None) => self.voicing(note).is_some_and(|it| it.stays.is_some()),
            (Kind::Line, None) => has_next && self.is_arranged(),
            (Kind::PhraseByEar, None) => {
                note == self.phrase_start(note) && self.has_other_phrase(note)
            }
            (Kind::Octave, Some(placement)) => {
                reaches(note, placement)
                    && self.octave_away(placement).any(|from| reaches(note, from))
            }
            _ => false,
        }
    }

    /// What an arrangement strikes under a note.
    fn voicing(&self, note: usize) -> Option<&StruckVoicing> {
        self.arranged.get(note)?.voicing.as_ref()
    }

    /// A question about the arrangement.
    fn arranged_task(&self, kind: Kind, note: usize) -> Option<ArrangedTask> {
        let voicing = || self.voicing(note).cloned();
        Some(match kind {
            Kind::Under => ArrangedTask::Under(voicing()?),
            Kind::Stays => ArrangedTask::Stays(voicing()?),
            Kind::LeftOut => ArrangedTask::LeftOut(voicing()?),
            _ => {
                let (here, next) = (self.arranged.get(note)?, self.arranged.get(note + 1)?);
                ArrangedTask::Line {
                    place: here.place,
                    pitch: here.pitch,
                    next: next.pitch,
                    right: vec![next.place],
                }
            }
        })
    }

    /// The first note of the phrase that a note belongs to.
    fn phrase_start(&self, note: usize) -> usize {
        let phrase = self.phrases.get(self.phrase_of(note));
        phrase.map_or(note, |phrase| phrase.start)
    }

    /// Whether there is a phrase that sounds otherwise than that of a note.
    fn has_other_phrase(&self, note: usize) -> bool {
        let own = self.sounds(self.phrase_of(note));
        (0..self.phrases.len()).any(|phrase| self.sounds(phrase) != own)
    }

    /// The phrases that sound otherwise than that of a note and than each other, in the order of the tune.
    fn other_phrases(&self, note: usize) -> Vec<usize> {
        let mut heard = vec![self.sounds(self.phrase_of(note))];
        let mut others = Vec::new();
        for phrase in 0..self.phrases.len() {
            let sounds = self.sounds(phrase);
            if !heard.contains(&sounds) {
                heard.push(sounds);
                others.push(phrase);
            }
        }
        others
    }

    /// What a phrase sounds like: MIDI numbers, and onsets and durations in quarter notes from its first note.
    fn sounds(&self, phrase: usize) -> Vec<(u8, Quarters, Quarters)> {
        let notes = self.phrases.get(phrase).cloned().unwrap_or(0..0);
        let notes = &self.notes[notes];
        let start = notes.first().map_or(Quarters::ZERO, |it| it.note.onset);
        let sounds = notes.iter().map(|it| {
            let note = it.note;
            (note.pitch.midi().get(), note.onset - start, note.duration)
        });
        sounds.collect()
    }

    /// The phrase of a note among others, chosen at random.
    fn phrase_task(&self, note: usize, pick: &mut impl FnMut(usize) -> usize) -> Option<Task> {
        let asked = self.phrase_of(note);
        let mut others = self.other_phrases(note);
        while others.len() >= MOST_CHOICES {
            others.remove(pick(others.len()));
        }
        let mut phrases = others;
        phrases.push(asked);
        phrases.sort_unstable();
        let choices = phrases.iter().filter_map(|phrase| {
            Some(PhraseChoice {
                phrase: *phrase,
                bars: self.phrase_bars(*phrase)?,
            })
        });
        Some(Task::Phrase {
            choices: choices.collect(),
            right: phrases.iter().position(|phrase| *phrase == asked)?,
        })
    }

    /// A note to be heard against the scale: as often as not the tune's own, else a semitone beside it and outside the
    /// scale, so that even a tune without accidentals has both.
    fn heard_in_scale(&self, note: usize, pick: &mut impl FnMut(usize) -> usize) -> Option<Pitch> {
        let (own, key) = (self.pitch(note, Octave::WRITTEN)?, self.key_at(note));
        if pick(2) == 0 || key.membership(own.class()) != Membership::Scale {
            return Some(own);
        }
        let is_outside = |pitch: &Pitch| {
            let mut scale = key.scale().into_iter();
            key.membership(pitch.class()) == Membership::Chromatic
                && !scale.any(|inside| inside.chroma() == pitch.class().chroma())
        };
        let semitone = Interval::new(0, 1).ok()?;
        let beside = [own.transpose(semitone), own.transpose(-semitone)];
        let beside: Vec<Pitch> = beside.into_iter().flatten().filter(is_outside).collect();
        choose(&beside, pick).or(Some(own))
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
    /// `None` when [`PracticeMaterial::can_ask`] is false, and for [`Kind::Play`], which is heard instead.
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
            (Kind::Degree | Kind::DegreeByEar, _) => Task::Degree {
                pitch: self.pitch(note, Octave::WRITTEN)?,
                key: self.key_at(note),
            },
            (Kind::Scale, _) => Task::Scale {
                pitch: self.pitch(note, Octave::WRITTEN)?,
                key: self.key_at(note),
            },
            (Kind::ScaleByEar, _) => Task::Scale {
                pitch: self.heard_in_scale(note, &mut pick)?,
                key: self.key_at(note),
            },
            (Kind::Under | Kind::Stays | Kind::LeftOut | Kind::Line, _) => {
                Task::Arranged(self.arranged_task(kind, note)?)
            }
            (Kind::PhraseByEar, _) => self.phrase_task(note, &mut pick)?,
            (Kind::Interval | Kind::IntervalByEar, _) => Task::Interval {
                from: self.pitch(note, Octave::WRITTEN)?,
                to: self.pitch(note + 1, Octave::WRITTEN)?,
            },
            (Kind::Place, Some(placement)) => Task::Place {
                pitch: self.pitch(note, placement.octave)?,
                right: self.places(note, placement),
            },
            (Kind::Name, Some(placement)) => Task::Name {
                place: choose(&self.shown_places(note, placement), &mut pick)?,
                pitch: self.pitch(note, placement.octave)?,
                key: self.key_at(note),
            },
            (Kind::Next | Kind::NextByEar, Some(placement)) => Task::Next {
                place: choose(&self.shown_places(note, placement), &mut pick)?,
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
                    place: choose(&self.shown_places(note, shown), &mut pick)?,
                    shown,
                    pitch: self.pitch(note, placement.octave)?,
                    right: self.places(note, placement),
                }
            }
            (Kind::Play, _) | (_, None) => return None,
        };
        Some(Question {
            note,
            placement,
            presentation: kind.presentation(),
            task,
        })
    }
}

/// The most phrases to choose from. Chosen by ear.
const MOST_CHOICES: usize = 4;

fn choose<T: Copy>(from: &[T], pick: &mut impl FnMut(usize) -> usize) -> Option<T> {
    from.get(pick(from.len())).copied()
}
