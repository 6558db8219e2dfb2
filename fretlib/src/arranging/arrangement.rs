//! An arrangement: a melody with the voicings under its notes.

use std::collections::HashMap;

use super::bare_notes::{BareStep, travel};
use super::lattice::Lattice;
use super::staging::{Staged, staged};
use super::texture::{RestChord, in_rests, timed};
use super::voicing::{FingeredPlace, Voicing};
use super::voicing_cost::{
    Link, VOICING_TERMS, VoicingAmounts, VoicingTerm, adding, between, hurry,
};
use crate::melody::Quarters;
use crate::theory::{Chord, Octave, Pitch};

/// Why a melody note has nothing struck under it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum BareReason {
    /// The density asks for none: it is a passing note.
    Passing,
    /// The player chose so.
    Asked,
    /// No voicing that the rules allow is within reach.
    OutOfReach,
    /// No chord is in force.
    NoChord,
}

impl BareReason {
    /// The words used on screens and in files.
    pub const fn name(self) -> &'static str {
        match self {
            BareReason::Passing => "passing",
            BareReason::Asked => "asked",
            BareReason::OutOfReach => "no voicing within reach",
            BareReason::NoChord => "no chord",
        }
    }
}

/// A voicing in time, under one melody note.
#[derive(Clone, Debug, PartialEq)]
pub struct Accompaniment {
    /// The index of the moment in [`Lattice::moments`]; where only held notes sound, that of the last moment.
    pub moment: usize,
    /// When it begins, from the note's onset.
    pub at: Quarters,
    /// When it ends, from the note's onset.
    pub until: Quarters,
    /// The chord.
    pub chord: Chord,
    /// The voicing.
    pub voicing: Voicing,
    /// When each note under the melody is struck, counted from `at`; empty when all are at once. See [`Accompaniment::steps`].
    pub enters: Vec<Quarters>,
    /// How far the melody note lies above the chord's root, in semitones from 0 to 11.
    pub melody_above: u8,
    /// How the fingers go down.
    pub staging: Staged,
}

impl Accompaniment {
    /// True when nothing in it is struck: all its notes are held from before.
    pub fn is_only_held(&self) -> bool {
        self.staging.held.iter().all(|held| *held)
    }
}

/// A melody note and the voicings under it.
#[derive(Clone, Debug, PartialEq)]
pub struct ArrangedNote {
    /// What is played, with the octave applied.
    pub pitch: Pitch,
    /// Its place and finger, for the whole note.
    pub melody: FingeredPlace,
    /// The fret under the first finger; `None` when no finger is down.
    pub position: Option<u8>,
    /// The voicings under it, in order.
    pub under: Vec<Accompaniment>,
    /// Why nothing is struck under it.
    pub bare: Option<BareReason>,
    /// The amount of every cost term.
    pub amounts: VoicingAmounts,
}

/// A melody with the voicings under it.
#[derive(Clone, Debug, PartialEq)]
pub struct Arrangement {
    /// Octaves from the written melody.
    pub octave: Octave,
    /// One for each note of the melody, in order.
    pub notes: Vec<ArrangedNote>,
    /// What sounds while the melody rests.
    pub in_rests: Vec<RestChord>,
    /// The weighted sum of all terms over all notes.
    pub cost: f64,
}

/// An arrangement in figures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ArrangementFigures {
    /// Voicings struck.
    pub voicings: usize,
    /// Those with every guide tone.
    pub complete: usize,
    /// The average distance of an inner voice from the nearest previous one, in semitones.
    pub inner_motion: f64,
    /// The average move of the hand from voicing to voicing, in millimetres.
    pub travel_mm: f64,
    /// Fingers that stay where they were in the voicing before.
    pub anchors: usize,
}

impl Arrangement {
    /// Assembles the chosen voicings, given by moment and index in the moment's set, in order.
    pub(super) fn new(
        lattice: &Lattice,
        chosen: &[(usize, usize)],
        reasons: &HashMap<usize, BareReason>,
        cost: f64,
    ) -> Arrangement {
        let mut build = Build {
            lattice,
            notes: Vec::with_capacity(lattice.pitches.len()),
            before: None,
            reasons,
        };
        for (moment, index) in chosen {
            let voicing = &lattice.voicings(*moment)[*index];
            let seconds = build.bare_until(Some((*moment, voicing.position().unwrap_or(0))));
            build.voiced(*moment, voicing, seconds);
        }
        build.bare_until(None);
        let mut notes = build.notes;
        timed(lattice, &mut notes);
        staged(lattice, &mut notes);
        Arrangement {
            octave: lattice.settings.octave,
            in_rests: in_rests(lattice, &notes),
            notes,
            cost,
        }
    }

    /// Every voicing that is struck, with the index of its note, in order.
    pub fn struck(&self) -> impl Iterator<Item = (usize, &Accompaniment)> {
        let notes = self.notes.iter().enumerate();
        notes.flat_map(|(index, note)| {
            note.under
                .iter()
                .filter(|it| !it.is_only_held())
                .map(move |it| (index, it))
        })
    }

    /// The arrangement in figures.
    pub fn figures(&self, lattice: &Lattice) -> ArrangementFigures {
        let mut figures = ArrangementFigures::default();
        let mut before: Option<Link> = None;
        let (mut motion, mut voices, mut moves, mut moved) = (0, 0, 0, 0.0);
        for (_, it) in self.struck() {
            let link = Link::new(&it.voicing);
            figures.voicings += 1;
            figures.complete += usize::from(it.voicing.is_complete());
            figures.anchors += it.staging.anchors.len();
            if let Some(before) = before.replace(link) {
                let (semitones, count) = link.inner_motion(&before);
                motion += semitones;
                voices += count;
                if before.position > 0 && link.position > 0 {
                    moves += 1;
                    moved += travel(&lattice.reaches, before.position, link.position);
                }
            }
        }
        figures.inner_motion = f64::from(motion) / f64::from(voices.max(1));
        figures.travel_mm = moved / f64::from(moves.max(1));
        figures
    }
}

/// An arrangement being assembled, note by note.
struct Build<'a> {
    lattice: &'a Lattice<'a>,
    notes: Vec<ArrangedNote>,
    /// The previous moment and voicing.
    before: Option<(usize, &'a Voicing)>,
    reasons: &'a HashMap<usize, BareReason>,
}

impl<'a> Build<'a> {
    fn position(&self) -> u8 {
        self.notes
            .last()
            .and_then(|note| note.position)
            .unwrap_or(0)
    }

    /// Adds the bare notes up to a voicing or the end, and gives the seconds that the hand has to get there.
    fn bare_until(&mut self, next: Option<(usize, u8)>) -> f64 {
        let lattice = self.lattice;
        let run = lattice.bare_notes(
            self.before.map(|(moment, _)| moment),
            next.map(|(moment, _)| moment),
        );
        let to = next.map_or(0, |(_, position)| position);
        let path = run.path(
            &lattice.reaches,
            &lattice.settings.weights,
            self.position(),
            to,
        );
        let mut last: Option<BareStep> = None;
        for (step, seconds) in path.iter().zip(&run.seconds) {
            let mut amounts = [0.0; VOICING_TERMS];
            let moved = travel(&lattice.reaches, self.position(), step.position);
            adding(&mut amounts)(VoicingTerm::Travel, hurry(*seconds) * moved);
            step.terms(last.as_ref(), adding(&mut amounts));
            last = Some(*step);
            self.push_bare(step, amounts);
        }
        run.seconds.last().copied().unwrap_or(0.0)
    }

    fn push_bare(&mut self, step: &BareStep, amounts: VoicingAmounts) {
        let index = self.notes.len();
        let onset = self.lattice.melody.notes()[index].onset;
        let has_chord = self
            .lattice
            .melody
            .chords()
            .at(onset)
            .is_some_and(Option::is_some);
        let otherwise = if has_chord {
            BareReason::Passing
        } else {
            BareReason::NoChord
        };
        self.notes.push(ArrangedNote {
            pitch: self.lattice.pitches[index],
            melody: step.at,
            position: Some(step.position),
            under: Vec::new(),
            bare: Some(self.reasons.get(&index).copied().unwrap_or(otherwise)),
            amounts,
        });
    }

    fn voiced(&mut self, moment: usize, voicing: &'a Voicing, seconds: f64) {
        let lattice = self.lattice;
        let asked = lattice.moments[moment];
        let mut amounts = lattice.amounts(moment, voicing);
        let position = voicing.position();
        let moved = travel(&lattice.reaches, self.position(), position.unwrap_or(0));
        adding(&mut amounts)(VoicingTerm::Travel, hurry(seconds) * moved);
        if let Some((_, before)) = self.before {
            between(
                &Link::new(before),
                &Link::new(voicing),
                adding(&mut amounts),
            );
        }
        let accompaniment = Accompaniment {
            moment,
            at: asked.at,
            until: asked.until,
            chord: asked.chord,
            voicing: voicing.clone(),
            enters: Vec::new(),
            melody_above: lattice
                .roles(moment)
                .above_root(lattice.pitches[asked.note].midi().get()),
            staging: Staged::default(),
        };
        self.before = Some((moment, voicing));
        match self.notes.get_mut(asked.note) {
            Some(note) => {
                note.under.push(accompaniment);
                note.position = position;
                note.amounts
                    .iter_mut()
                    .zip(amounts)
                    .for_each(|(sum, amount)| *sum += amount);
            }
            None => self.notes.push(ArrangedNote {
                pitch: lattice.pitches[asked.note],
                melody: voicing.melody,
                position,
                under: vec![accompaniment],
                bare: None,
                amounts,
            }),
        }
    }
}
