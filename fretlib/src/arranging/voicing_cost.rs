//! The cost of voicings and of the transitions between them: names, units, weights.

use super::chord_role::ChordRole;
use super::grip::Reaches;
use super::style::Style;
use super::voicing::Voicing;
use super::voicings::is_muddy;
use crate::neck::{Finger, Instrument};
use crate::theory::Chord;

macro_rules! terms {
    ($($term:ident, $weight:literal, $name:literal, $unit:literal, $doc:literal;)*) => {
        /// A cost term: something that makes an arrangement worse, or better.
        ///
        /// Every weight was set by hand and ear and judged by no player yet; distances in millimetres follow from equal
        /// temperament.
        #[derive(Clone, Copy, Debug, Eq, PartialEq)]
        pub enum VoicingTerm { $(#[doc = $doc] $term,)* }

        impl VoicingTerm {
            /// Every term.
            pub const ALL: &[VoicingTerm] = &[$(VoicingTerm::$term),*];

            /// Its name on screens.
            pub const fn name(self) -> &'static str {
                match self { $(VoicingTerm::$term => $name,)* }
            }

            /// True for what the fretting hand feels, false for what the ear hears.
            pub const fn is_of_hand(self) -> bool {
                (self as u8 >= VoicingTerm::Fingers as u8 && self as u8 <= VoicingTerm::PassingString as u8)
                    || matches!(self, VoicingTerm::Travel | VoicingTerm::Stays | VoicingTerm::Guides)
            }

            /// The name of one unit of it.
            pub const fn unit(self) -> &'static str {
                match self { $(VoicingTerm::$term => $unit,)* }
            }
        }

        impl Default for VoicingWeights {
            fn default() -> VoicingWeights {
                VoicingWeights([$($weight),*])
            }
        }
    };
}

// All by ear.
terms! {
    GuideMissing, 3.0, "a guide tone missing", "voicing", "One of two guide tones does not sound.";
    NoGuide, 5.0, "no guide tone", "voicing", "Nothing says what chord it is.";
    RootLeftOut, 0.2, "root left out", "voicing", "The root does not sound.";
    Tension, -0.1, "tension", "note", "A ninth, a thirteenth or a tension the symbol names.";
    StrongColour, 0.8, "strong colour", "note", "An eleventh or an altered tension that the symbol does not name.";
    RootInBass, -0.6, "root in the bass", "voicing on a strong beat", "The root, or the bass the symbol asks for, is the lowest note on a strong beat.";
    FifthInBass, -0.1, "fifth in the bass", "voicing on a strong beat", "The fifth is the lowest note on a strong beat.";
    Gap, 0.3, "gap under the melody", "voicing", "More than an octave between the melody and the next note.";
    LowRoot, 0.15, "muddy over its root", "voicing", "With the root imagined under the lowest note, the two would be too low to be told apart.";
    Doubled, 0.2, "doubled note", "note", "Root or fifth sounds twice.";
    Thin, 0.25, "thinner than the style", "note", "A note fewer than the style likes to have.";
    Fingers, 0.15, "fingers", "finger", "A finger that has to be put down.";
    Across, 0.35, "barre", "barre of two strings, twice that for six", "A finger lies across strings.";
    Span, 0.004, "reach", "mm", "From the lowest stopped fret to the highest.";
    Stretch, 0.4, "stretch", "20 mm past comfort", "Two neighbouring fingers are farther apart than is comfortable.";
    OffFret, 0.1, "finger off its fret", "fret", "Two fingers stand closer or wider than a fret each.";
    Muted, 0.15, "silent string inside", "string", "A string between sounding ones must not sound.";
    OpenHigh, 0.4, "open string below a high hand", "string", "An open string beside a finger above the seventh fret: another colour.";
    Thumb, 0.5, "thumb over the neck", "voicing", "The thumb comes over the neck for the lowest string.";
    HighHand, 0.1, "hand high on the neck", "fret above the ninth", "The hand stands where the body is in the way and strings sound thin or dull.";
    DarkMelody, 0.3, "melody on a low string", "string", "The melody lies on the lower half of the strings, stopped high: a dull tone.";
    PassingStretch, 0.3, "stretch in the melody", "note", "A melody note on its own lies a fret beside the four of the hand.";
    PassingString, 0.03, "string crossed in the melody", "string", "A melody note on its own lies on another string than the one before.";
    InnerMotion, 0.2, "motion of the inner voices", "semitone a voice", "How far an inner voice is on average from the nearest one before it.";
    Travel, 0.004, "travel of the hand", "mm, more in a hurry", "How far the hand moves along the neck.";
    Stays, -0.15, "finger that stays", "finger", "A finger is on the same place as in the last voicing.";
    Guides, -0.05, "finger that guides", "finger", "A finger stays on its string and leads the hand to another fret.";
    SeventhFalls, -0.15, "seventh falls to the third", "voice", "The seventh goes down a step into the third of the next chord.";
}

/// How many terms there are.
pub(super) const VOICING_TERMS: usize = VoicingTerm::ALL.len();

/// The amount of every term, unweighted, in the order of [`VoicingTerm::ALL`].
pub type VoicingAmounts = [f64; VOICING_TERMS];

/// The weight of every term, in the order of [`VoicingTerm::ALL`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VoicingWeights([f64; VOICING_TERMS]);

impl VoicingWeights {
    /// The terms between one voicing and the next.
    const CHAIN: [VoicingTerm; 5] = [
        VoicingTerm::InnerMotion,
        VoicingTerm::Travel,
        VoicingTerm::Stays,
        VoicingTerm::Guides,
        VoicingTerm::SeventhFalls,
    ];

    /// The weight of a term.
    pub fn get(&self, term: VoicingTerm) -> f64 {
        self.0[term as usize]
    }

    /// The same weights with one replaced.
    #[must_use]
    pub fn with(mut self, term: VoicingTerm, weight: f64) -> VoicingWeights {
        self.0[term as usize] = weight;
        self
    }

    /// The same weights without transitions: every voicing counts on its own.
    #[must_use]
    pub fn note_by_note(self) -> VoicingWeights {
        VoicingWeights::CHAIN
            .into_iter()
            .fold(self, |weights, term| weights.with(term, 0.0))
    }

    /// The cost of these amounts.
    pub fn cost(&self, amounts: &VoicingAmounts) -> f64 {
        self.0
            .iter()
            .zip(amounts)
            .map(|(weight, amount)| weight * amount)
            .sum()
    }
}

/// Adds amounts to a term.
pub(super) fn adding(amounts: &mut VoicingAmounts) -> impl FnMut(VoicingTerm, f64) + '_ {
    |term, amount| amounts[term as usize] += amount
}

/// What the cost of a single voicing depends on.
pub(super) struct Judged<'a> {
    pub(super) instrument: &'a Instrument,
    pub(super) reaches: &'a Reaches,
    pub(super) style: &'a Style,
    pub(super) chord: Chord,
    /// How many guide tones it has.
    pub(super) guides: u32,
    pub(super) strong: bool,
}

/// Adds the terms of a single voicing.
pub(super) fn in_itself(judged: &Judged, voicing: &Voicing, mut add: impl FnMut(VoicingTerm, f64)) {
    sound(judged, voicing, &mut add);
    hand(judged, voicing, &mut add);
}

fn sound(judged: &Judged, voicing: &Voicing, add: &mut impl FnMut(VoicingTerm, f64)) {
    let under = voicing.under();
    if !voicing.is_complete() {
        let missing = voicing
            .omitted()
            .iter()
            .filter(|it| !matches!(it.number(), 1 | 5))
            .count() as u32;
        let term = if missing >= judged.guides {
            VoicingTerm::NoGuide
        } else {
            VoicingTerm::GuideMissing
        };
        add(term, 1.0);
    }
    let tensions = under
        .iter()
        .filter(|it| it.role == ChordRole::Tension)
        .count();
    add(VoicingTerm::Tension, tensions as f64);
    let low = &under[0];
    if judged.strong {
        match low.role {
            ChordRole::Fifth => add(VoicingTerm::FifthInBass, 1.0),
            _ if low.pitch.midi().get() % 12 == judged.chord.bass().chroma() => {
                add(VoicingTerm::RootInBass, 1.0)
            }
            _ => {}
        }
    }
    let melody = judged
        .instrument
        .midi_at(voicing.melody.place)
        .map_or(0, |it| it.get());
    let next = under[under.len() - 1].pitch.midi().get();
    if melody > next + 12 {
        add(VoicingTerm::Gap, 1.0);
    }
    let root = judged.chord.root().chroma();
    let above_root = (low.pitch.midi().get() % 12 + 12 - root) % 12;
    let sounding =
        i16::from(low.pitch.midi().get()) + i16::from(judged.instrument.sounding().semitones());
    if above_root != 0 && is_muddy(sounding - i16::from(above_root), above_root) {
        add(VoicingTerm::LowRoot, 1.0);
    }
    let chroma = |index: usize| under.get(index).map_or(melody, |it| it.pitch.midi().get()) % 12;
    let doubled = (0..=under.len())
        .filter(|index| (0..*index).any(|before| chroma(before) == chroma(*index)))
        .count();
    add(VoicingTerm::Doubled, doubled as f64);
    let wanting = usize::from(judged.style.wanted).saturating_sub(under.len() + 1);
    add(VoicingTerm::Thin, wanting as f64);
}

fn hand(judged: &Judged, voicing: &Voicing, add: &mut impl FnMut(VoicingTerm, f64)) {
    let mut down: [Option<u8>; 4] = [None; 4];
    for it in voicing.places() {
        if let Some(finger) = it.finger {
            down[usize::from(finger.get()) - 1] = Some(it.place.fret.get());
        }
    }
    add(VoicingTerm::Fingers, down.iter().flatten().count() as f64);
    if let Some(barre) = voicing.barre() {
        add(
            VoicingTerm::Across,
            1.0 + f64::from(barre.strings().saturating_sub(2)) / 4.0,
        );
    }
    let frets = || down.iter().flatten().copied();
    if let (Some(low), Some(high)) = (frets().min(), frets().max()) {
        add(VoicingTerm::Span, judged.reaches.between(low, high));
    }
    let mut before: Option<(Finger, u8)> = None;
    for (finger, fret) in Finger::ALL.into_iter().zip(down) {
        let Some(fret) = fret else { continue };
        if let Some((lower, at)) = before {
            let past_comfort = judged
                .reaches
                .stretch((lower, at), (finger, fret))
                .unwrap_or(0.0);
            add(VoicingTerm::Stretch, past_comfort / 20.0);
            let apart = finger.get() - lower.get();
            // Fingers side by side on one fret are in order.
            if fret != at {
                add(VoicingTerm::OffFret, f64::from((fret - at).abs_diff(apart)));
            }
        }
        before = Some((finger, fret));
    }
    if voicing.has_thumb() {
        add(VoicingTerm::Thumb, 1.0);
    }
    let strings = || voicing.places().map(|it| it.place.string.get());
    let (first, last) = (strings().min().unwrap_or(1), strings().max().unwrap_or(1));
    let inside = usize::from(last - first + 1) - voicing.under().len() - 1;
    add(VoicingTerm::Muted, inside as f64);
    let position = voicing.position().unwrap_or(0);
    add(VoicingTerm::HighHand, f64::from(position.saturating_sub(9)));
    let half = judged.instrument.strings().len() as u8 / 2;
    let low = voicing.melody.place.string.get().saturating_sub(half);
    if voicing.melody.finger.is_some() {
        add(VoicingTerm::DarkMelody, f64::from(low));
    }
    if frets().max().is_some_and(|high| high > 7) {
        let open = voicing.places().filter(|it| it.is_open()).count();
        add(VoicingTerm::OpenHigh, open as f64);
    }
}

/// What a transition needs to know of each voicing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    /// The fret under the first finger, 0 when no finger is down.
    pub(super) position: u8,
    /// By finger: its fret, 0 when it is up, and a bit for each string it is on.
    fingers: [(u8, u16); 4],
    inner: Notes,
    sevenths: Notes,
    thirds: Notes,
}

/// A few MIDI numbers.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) struct Notes {
    midi: [u8; 5],
    count: u8,
}

impl Notes {
    fn push(&mut self, midi: u8) {
        if let Some(free) = self.midi.get_mut(usize::from(self.count)) {
            *free = midi;
            self.count += 1;
        }
    }

    fn all(&self) -> &[u8] {
        &self.midi[..usize::from(self.count)]
    }
}

impl Link {
    pub(super) fn new(voicing: &Voicing) -> Link {
        let mut link = Link {
            position: voicing.position().unwrap_or(0),
            fingers: [(0, 0); 4],
            inner: Notes::default(),
            sevenths: Notes::default(),
            thirds: Notes::default(),
        };
        for it in voicing.places() {
            if let Some(finger) = it.finger {
                let (fret, strings) = &mut link.fingers[usize::from(finger.get()) - 1];
                *fret = it.place.fret.get();
                *strings |= 1 << it.place.string.index();
            }
        }
        for note in voicing.inner() {
            link.inner.push(note.pitch.midi().get());
        }
        for note in voicing.under() {
            match note.degree.number() {
                7 => link.sevenths.push(note.pitch.midi().get()),
                3 => link.thirds.push(note.pitch.midi().get()),
                _ => {}
            }
        }
        link
    }

    /// The sum of the distances of the inner voices to the nearest ones of the previous voicing, in semitones, and
    /// their number.
    pub(super) fn inner_motion(&self, before: &Link) -> (u32, u32) {
        if before.inner.count == 0 {
            return (0, 0);
        }
        let nearest = |midi: &u8| {
            before
                .inner
                .all()
                .iter()
                .map(|it| u32::from(it.abs_diff(*midi)))
                .min()
                .unwrap_or(0)
        };
        (
            self.inner.all().iter().map(nearest).sum(),
            self.inner.count.into(),
        )
    }

    /// The greatest saving from staying and guiding fingers in a transition to this voicing.
    pub(super) fn most_saved(&self, weights: &VoicingWeights) -> f64 {
        let down = self.fingers.iter().filter(|(fret, _)| *fret > 0).count() as f64;
        let finger = weights
            .get(VoicingTerm::Stays)
            .min(weights.get(VoicingTerm::Guides))
            .min(0.0);
        -down * finger
    }

    /// The part of a voicing that transitions depend on, apart from the fingers.
    pub(super) fn key(&self) -> LinkKey {
        (self.position, self.inner, self.sevenths, self.thirds)
    }
}

/// A position and the notes that the terms between voices read.
pub(super) type LinkKey = (u8, Notes, Notes, Notes);

/// Adds the terms between two voicings, except the travel of the hand, which depends on the melody between them.
pub(super) fn between(before: &Link, after: &Link, mut add: impl FnMut(VoicingTerm, f64)) {
    between_voices(before, after, &mut add);
    fingers(before, after, &mut add);
}

/// Adds the terms between the voices.
#[inline]
pub(super) fn between_voices(before: &Link, after: &Link, mut add: impl FnMut(VoicingTerm, f64)) {
    let (motion, voices) = after.inner_motion(before);
    if voices > 0 {
        add(
            VoicingTerm::InnerMotion,
            f64::from(motion) / f64::from(voices),
        );
    }
    for third in after.thirds.all() {
        if before
            .sevenths
            .all()
            .iter()
            .any(|seventh| matches!(seventh.wrapping_sub(*third), 1 | 2))
        {
            add(VoicingTerm::SeventhFalls, 1.0);
        }
    }
}

/// Adds the terms between the fingers.
#[inline]
pub(super) fn fingers(before: &Link, after: &Link, mut add: impl FnMut(VoicingTerm, f64)) {
    for (from, to) in before.fingers.iter().zip(&after.fingers) {
        if from.0 > 0 && to.0 > 0 && from.1 & to.1 != 0 {
            add(
                if from.0 == to.0 {
                    VoicingTerm::Stays
                } else {
                    VoicingTerm::Guides
                },
                1.0,
            );
        }
    }
}

/// The factor on a move of the hand by the available time: 1.6 with none, 1 in half a second, 0.5 with plenty.
pub(super) fn hurry(seconds: f64) -> f64 {
    (1.0 / (0.5 + seconds)).clamp(0.5, 1.6)
}
