//! The voicings of a whole tune, and the cheapest paths through them.

use std::collections::HashMap;
use std::ops::Range;

use thiserror::Error;

use super::arrangement::{Arrangement, BareReason};
use super::bare_notes::{BareNotes, BareStep, PassageCosts};
use super::best_paths::{Path, PathCandidate, PathStage, best_paths};
use super::chord_role::{ChordRole, ChordRoles};
use super::grip::Reaches;
use super::moment::{ChordMoment, Density, moments};
use super::texture::Texture;
use super::voicing::{FingeredPlace, Voicing};
use super::voicing_cost::{
    Judged, Link, VOICING_TERMS, VoicingAmounts, VoicingWeights, adding, in_itself,
};
use super::voicings::Arranger;
use crate::melody::{Melody, Quarters, Tempo};
use crate::theory::{Chord, MidiNumber, Octave, Pitch};

/// The settings of an arrangement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArrangingSettings {
    /// Which notes get a voicing.
    pub density: Density,
    /// How a melody note and what lies under it come one after the other.
    pub texture: Texture,
    /// Octaves from the written melody to the one that is played.
    pub octave: Octave,
    /// Replaces the tune's own tempo.
    pub tempo: Option<Tempo>,
    /// The weights of the cost terms.
    pub weights: VoicingWeights,
}

impl Default for ArrangingSettings {
    fn default() -> ArrangingSettings {
        ArrangingSettings {
            density: Density::Medium,
            texture: Texture::Together,
            octave: Octave::WRITTEN,
            tempo: None,
            weights: VoicingWeights::default(),
        }
    }
}

/// Why a melody cannot be arranged.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[non_exhaustive]
pub enum ArrangingError {
    /// A melody note is not on the neck.
    #[error("note {note} ({pitch}) is not on the neck")]
    NotOnNeck {
        /// The number of the note, counted from 1.
        note: usize,
        /// The pitch to be played.
        pitch: Pitch,
    },
    /// A melody note is on the neck, but out of reach of every position.
    #[error("note {note} ({pitch}) is out of every position's reach")]
    OutOfReach {
        /// The number of the note, counted from 1.
        note: usize,
        /// The pitch to be played.
        pitch: Pitch,
    },
    /// At this octave the melody leaves the range of pitches.
    #[error("at octave {octave} the melody leaves the range of pitches")]
    OctaveTooFar {
        /// The octave.
        octave: Octave,
    },
}

/// All voicings of one chord under one melody note.
pub(super) struct VoicingSet {
    pub(super) roles: ChordRoles,
    pub(super) voicings: Vec<Voicing>,
    links: Vec<Link>,
}

/// Every voicing of every moment of a tune, prepared for repeated searches as the player chooses.
pub struct Lattice<'a> {
    pub(super) arranger: Arranger<'a>,
    pub(super) melody: &'a Melody,
    pub(super) settings: ArrangingSettings,
    pub(super) reaches: Reaches,
    /// What is played, the octave applied.
    pub(super) pitches: Vec<Pitch>,
    pub(super) moments: Vec<ChordMoment>,
    pub(super) sets: Vec<VoicingSet>,
    /// For each moment: its set, and the cost of each voicing there.
    pub(super) at: Vec<(usize, usize)>,
    costs: Vec<Vec<f64>>,
    steps: HashMap<MidiNumber, Vec<BareStep>>,
}

/// A moment that keeps a voicing, with what may sound there.
pub(super) struct Kept {
    pub(super) moment: usize,
    /// Indices into the moment's set.
    pub(super) allowed: Vec<u32>,
    pub(super) candidates: Vec<PathCandidate>,
    pub(super) is_joined: bool,
}

/// The melody's place and finger as one number.
fn as_number(at: FingeredPlace) -> u16 {
    let finger = at.finger.map_or(0, |finger| finger.get());
    u16::from(at.place.string.get()) << 9 | u16::from(at.place.fret.get()) << 3 | u16::from(finger)
}

impl<'a> Lattice<'a> {
    /// Finds every voicing of every moment.
    ///
    /// # Errors
    ///
    /// When a melody note cannot be played at this octave.
    pub fn new(
        arranger: Arranger<'a>,
        melody: &'a Melody,
        settings: ArrangingSettings,
    ) -> Result<Lattice<'a>, ArrangingError> {
        let moments = moments(melody, settings.density, &arranger.style);
        let mut lattice = Lattice {
            reaches: Reaches::new(arranger.instrument, arranger.hand),
            arranger,
            melody,
            settings,
            pitches: Vec::with_capacity(melody.notes().len()),
            moments,
            sets: Vec::new(),
            at: Vec::new(),
            costs: Vec::new(),
            steps: HashMap::new(),
        };
        lattice.find_steps()?;
        lattice.find_voicings();
        Ok(lattice)
    }

    fn find_steps(&mut self) -> Result<(), ArrangingError> {
        let octave = self.settings.octave;
        let too_far = ArrangingError::OctaveTooFar { octave };
        let interval = octave.interval();
        for (index, note) in self.melody.notes().iter().enumerate() {
            let pitch = note.pitch.transpose(interval).map_err(|_| too_far)?;
            let midi = pitch.midi();
            if self.arranger.instrument.places_for(midi).next().is_none() {
                return Err(ArrangingError::NotOnNeck {
                    note: index + 1,
                    pitch,
                });
            }
            let steps = self
                .steps
                .entry(midi)
                .or_insert_with(|| BareStep::all(self.arranger.instrument, midi));
            if steps.is_empty() {
                return Err(ArrangingError::OutOfReach {
                    note: index + 1,
                    pitch,
                });
            }
            self.pitches.push(pitch);
        }
        Ok(())
    }

    fn find_voicings(&mut self) {
        let mut sets: HashMap<(MidiNumber, Chord, bool), usize> = HashMap::new();
        let mut costs: HashMap<(usize, bool), usize> = HashMap::new();
        for moment in &self.moments {
            let pitch = self.pitches[moment.note];
            let set = *sets
                .entry((pitch.midi(), moment.chord, moment.resolves))
                .or_insert_with(|| {
                    let roles = ChordRoles::new(moment.chord, moment.resolves);
                    let voicings = self.arranger.voicings(&roles, pitch);
                    let links = voicings.iter().map(Link::new).collect();
                    self.sets.push(VoicingSet {
                        roles,
                        voicings,
                        links,
                    });
                    self.sets.len() - 1
                });
            let cost = *costs.entry((set, moment.strong)).or_insert_with(|| {
                let found = &self.sets[set];
                let weights = &self.settings.weights;
                let judged = judged(&self.arranger, &self.reaches, &found.roles, moment.strong);
                let cost = |voicing: &Voicing| {
                    let mut sum = 0.0;
                    in_itself(&judged, voicing, |term, amount| {
                        sum += weights.get(term) * amount
                    });
                    sum
                };
                self.costs.push(found.voicings.iter().map(cost).collect());
                self.costs.len() - 1
            });
            self.at.push((set, cost));
        }
    }

    /// Which notes get a voicing, and over which chord.
    pub fn moments(&self) -> &[ChordMoment] {
        &self.moments
    }

    /// All voicings of a moment, in no order.
    ///
    /// # Panics
    ///
    /// When there is no such moment.
    pub fn voicings(&self, moment: usize) -> &[Voicing] {
        &self.sets[self.at[moment].0].voicings
    }

    /// The chord roles of a moment.
    ///
    /// # Panics
    ///
    /// When there is no such moment.
    pub fn roles(&self, moment: usize) -> &ChordRoles {
        &self.sets[self.at[moment].0].roles
    }

    /// The melody as played, with its octave applied.
    pub fn pitches(&self) -> &[Pitch] {
        &self.pitches
    }

    /// The instrument, the hand and the style.
    pub fn arranger(&self) -> &Arranger<'a> {
        &self.arranger
    }

    /// The written melody.
    pub fn melody(&self) -> &'a Melody {
        self.melody
    }

    /// The settings.
    pub fn settings(&self) -> &ArrangingSettings {
        &self.settings
    }

    /// The cost of a voicing at a moment by itself, by term.
    pub fn amounts(&self, moment: usize, voicing: &Voicing) -> VoicingAmounts {
        let judged = judged(
            &self.arranger,
            &self.reaches,
            self.roles(moment),
            self.moments[moment].strong,
        );
        let mut amounts = [0.0; VOICING_TERMS];
        in_itself(&judged, voicing, adding(&mut amounts));
        amounts
    }

    /// The `count` cheapest arrangements, cheapest first; none costs less than the first.
    ///
    /// At least one is always found: a melody note without a voicing within reach stays bare, with the reason.
    pub fn solve(&self, count: usize) -> Vec<Arrangement> {
        self.solve_where(count, |_, _| true, |_| false)
    }

    /// The same with only the voicings that `allows` accepts for a moment, and with some notes left bare.
    pub fn solve_where(
        &self,
        count: usize,
        allows: impl Fn(usize, &Voicing) -> bool,
        is_bare: impl Fn(usize) -> bool,
    ) -> Vec<Arrangement> {
        let (kept, reasons) = self.kept(allows, is_bare);
        let (passages, end) = self.passages(&kept);
        let stages: Vec<PathStage> = kept
            .iter()
            .zip(&passages)
            .map(|(it, passage)| it.stage(passage))
            .collect();
        let weights = &self.settings.weights;
        let paths = if stages.is_empty() {
            let cost = end.get(0, 0);
            vec![Path {
                cost,
                candidates: Vec::new(),
            }]
        } else {
            best_paths(&stages, weights, &end, count.max(1))
        };
        paths
            .into_iter()
            .map(|path| {
                let chosen: Vec<(usize, usize)> = kept
                    .iter()
                    .zip(&path.candidates)
                    .map(|(it, index)| (it.moment, it.allowed[*index] as usize))
                    .collect();
                Arrangement::new(self, &chosen, &reasons, path.cost)
            })
            .collect()
    }

    /// The moments that keep a voicing, and why others stay bare.
    pub(super) fn kept(
        &self,
        allows: impl Fn(usize, &Voicing) -> bool,
        is_bare: impl Fn(usize) -> bool,
    ) -> (Vec<Kept>, HashMap<usize, BareReason>) {
        let mut kept: Vec<Kept> = Vec::new();
        let mut reasons = HashMap::new();
        for moments in self.moments_by_note() {
            let note = self.moments[moments.start].note;
            let under = match is_bare(note) {
                true => Err(BareReason::Asked),
                false => self.kept_under(moments, &allows),
            };
            match under {
                Ok(under) => kept.extend(under),
                Err(reason) => {
                    reasons.insert(note, reason);
                }
            }
        }
        (kept, reasons)
    }

    /// The moments under each note that has some, in order.
    pub(super) fn moments_by_note(&self) -> impl Iterator<Item = Range<usize>> + '_ {
        let chunks = self.moments.chunk_by(|one, other| one.note == other.note);
        chunks.scan(0, |start, chunk| {
            let moments = *start..*start + chunk.len();
            *start = moments.end;
            Some(moments)
        })
    }

    /// The moments under one note that keep a voicing, at least one; else why there is none.
    pub(super) fn kept_under(
        &self,
        moments: Range<usize>,
        allows: impl Fn(usize, &Voicing) -> bool,
    ) -> Result<Vec<Kept>, BareReason> {
        let mut kept: Vec<Kept> = Vec::new();
        for moment in moments {
            let set = &self.sets[self.at[moment].0];
            let voicings = set.voicings.iter().enumerate();
            let allowed: Vec<u32> = voicings
                .filter(|(_, it)| allows(moment, it))
                .map(|(index, _)| index as u32)
                .collect();
            let next = Kept {
                moment,
                candidates: self.candidates(moment, &allowed),
                allowed,
                is_joined: !kept.is_empty(),
            };
            let fits = match kept.last() {
                Some(before) => before.candidates.iter().any(|it| next.holds(it.melody)),
                None => !next.candidates.is_empty(),
            };
            if fits {
                kept.push(next);
            }
        }
        keep_common_melody_places(&mut kept);
        if kept.is_empty() {
            Err(BareReason::OutOfReach)
        } else {
            Ok(kept)
        }
    }

    fn candidates(&self, moment: usize, allowed: &[u32]) -> Vec<PathCandidate> {
        let (set, cost) = self.at[moment];
        let (set, costs) = (&self.sets[set], &self.costs[cost]);
        let candidate = |index: &u32| {
            let index = *index as usize;
            PathCandidate {
                cost: costs[index],
                link: set.links[index],
                melody: as_number(set.voicings[index].melody),
            }
        };
        allowed.iter().map(candidate).collect()
    }

    /// The bare notes before each moment and after the last.
    pub(super) fn passages(&self, kept: &[Kept]) -> (Vec<PassageCosts>, PassageCosts) {
        let mut before = None;
        let mut passages = Vec::with_capacity(kept.len());
        for it in kept {
            passages.push(self.passage(before, Some(it)));
            before = Some(it);
        }
        (passages, self.passage(before, None))
    }

    /// What leads from one moment to another, from the start or to the end.
    pub(super) fn passage(&self, before: Option<&Kept>, after: Option<&Kept>) -> PassageCosts {
        let positions = |it: Option<&Kept>| it.map_or(vec![0], |it| positions(&it.candidates));
        let run = self.bare_notes(before.map(|it| it.moment), after.map(|it| it.moment));
        let weights = &self.settings.weights;
        run.costs(
            &self.reaches,
            weights,
            &positions(before),
            &positions(after),
        )
    }

    /// The notes between two moments.
    pub(super) fn bare_notes(&self, before: Option<usize>, after: Option<usize>) -> BareNotes<'_> {
        let notes = self.melody.notes();
        let onset = |moment: usize| {
            let moment = &self.moments[moment];
            notes[moment.note].onset + moment.at
        };
        let first = before.map_or(0, |moment| self.moments[moment].note + 1);
        let last = after.map_or(notes.len(), |moment| self.moments[moment].note);
        let between = first..last.max(first);
        let mut onsets: Vec<Quarters> = before.map(onset).into_iter().collect();
        onsets.extend(between.clone().map(|index| notes[index].onset));
        onsets.extend(after.map(onset));
        let mut seconds: Vec<f64> = onsets
            .windows(2)
            .map(|pair| self.seconds(pair[0], pair[1]))
            .collect();
        if before.is_none() {
            // Before the first note, time is unlimited.
            seconds.insert(0, f64::INFINITY);
        }
        BareNotes {
            steps: between
                .map(|index| self.steps[&self.pitches[index].midi()].as_slice())
                .collect(),
            seconds,
            leads_on: after.is_some(),
        }
    }

    fn seconds(&self, from: Quarters, to: Quarters) -> f64 {
        let own = self.melody.tempos().at(from).copied();
        let tempo = self.settings.tempo.or(own).unwrap_or(Tempo::DEFAULT);
        tempo.seconds(to - from)
    }
}

impl Kept {
    pub(super) fn stage<'a>(&'a self, passage: &'a PassageCosts) -> PathStage<'a> {
        PathStage {
            candidates: &self.candidates,
            passage,
            is_joined: self.is_joined,
        }
    }

    fn holds(&self, melody: u16) -> bool {
        self.candidates.iter().any(|it| it.melody == melody)
    }

    fn retain(&mut self, keep: impl Fn(u16) -> bool) {
        let pairs = self
            .allowed
            .iter()
            .zip(&self.candidates)
            .filter(|(_, it)| keep(it.melody));
        (self.allowed, self.candidates) = pairs.map(|(index, it)| (*index, *it)).unzip();
    }
}

/// Under one melody note, keeps the voicings whose melody place and finger all its moments share; a moment that would
/// leave none is dropped.
fn keep_common_melody_places(kept: &mut Vec<Kept>) {
    let mut index = 1;
    while index < kept.len() {
        if !kept[index].is_joined {
            index += 1;
            continue;
        }
        let first = (0..index)
            .rev()
            .find(|it| !kept[*it].is_joined)
            .unwrap_or(0);
        let (before, rest) = kept.split_at_mut(index);
        let next = &mut rest[0];
        if !before[first]
            .candidates
            .iter()
            .any(|it| next.holds(it.melody))
        {
            kept.remove(index);
            continue;
        }
        next.retain(|melody| before[first].holds(melody));
        for earlier in &mut before[first..] {
            earlier.retain(|melody| next.holds(melody));
        }
        index += 1;
    }
}

fn positions(candidates: &[PathCandidate]) -> Vec<u8> {
    let mut positions: Vec<u8> = candidates.iter().map(|it| it.link.position).collect();
    positions.sort_unstable();
    positions.dedup();
    positions
}

fn judged<'a>(
    arranger: &'a Arranger,
    reaches: &'a Reaches,
    roles: &ChordRoles,
    strong: bool,
) -> Judged<'a> {
    Judged {
        instrument: arranger.instrument,
        reaches,
        style: &arranger.style,
        chord: roles.chord(),
        guides: roles.set_of(ChordRole::Guide).count_ones(),
        strong,
    }
}
