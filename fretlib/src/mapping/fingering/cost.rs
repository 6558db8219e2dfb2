//! What makes a fingering hard, term by term, and how much each term weighs.

use super::line::Line;
use super::{Player, Step};
use crate::neck::{Finger, Fret, Place, Position};

/// How many notes back a string is remembered.
pub(super) const MEMORY: usize = 3;

macro_rules! terms {
    ($($term:ident, $weight:literal, $sign:literal, $name:literal, $unit:literal, $doc:literal;)*) => {
        /// One thing that makes a fingering harder, or easier.
        ///
        /// All are common practice without a source, except those in millimetres: equal temperament places the frets.
        #[derive(Clone, Copy, Debug, Eq, PartialEq)]
        pub enum Term { $(#[doc = $doc] $term,)* }

        impl Term {
            /// Every term.
            pub const ALL: &[Term] = &[$(Term::$term),*];

            /// The words for it on screens.
            pub const fn name(self) -> &'static str {
                match self { $(Term::$term => $name,)* }
            }

            /// What one unit of it is.
            pub const fn unit(self) -> &'static str {
                match self { $(Term::$term => $unit,)* }
            }

            /// -1 when it may only make things easier, 1 when only harder, 0 when learning decides.
            pub const fn sign(self) -> i8 {
                match self { $(Term::$term => $sign,)* }
            }
        }

        // A learned weight may come out near a constant of mathematics.
        #[allow(clippy::approx_constant)]
        impl Default for Weights {
            fn default() -> Weights {
                Weights([$($weight),*])
            }
        }
    };
}

// The weights were learned from printed fingerings by `tests/examples/learn_fingering.rs`, which says how.
terms! {
    Height, 2.88, 0, "height on the neck", "octave of frets", "How far up the neck the hand stands.";
    NearNut, 4.09, 0, "near the nut", "4 frets below V", "The hand stands below fifth position, where frets are wide.";
    HighUp, 0.32, 0, "high on the neck", "3 frets above IX", "The hand stands above ninth position, where the body is in the way.";
    DarkTone, 2.97, 1, "dark tone", "5 frets above V, a string", "A low string stopped high up sounds dull.";
    LowString, 3.35, 0, "low strings", "note", "A note on the lowest third of the strings.";
    OpenFirst, -0.27, 0, "open string in first position", "note", "An open string rings on and sounds brighter.";
    OpenNear, 1.22, 0, "open string in II or III", "note", "An open string a little above the nut.";
    OpenFar, 6.01, 1, "open string far up", "note", "An open string beside notes from higher up: another colour.";
    StretchBack, 4.21, 1, "stretch back", "note", "The first finger reaches back a fret.";
    StretchOn, 2.09, 1, "stretch on", "note", "The fourth finger reaches on a fret.";
    EarlyNearNut, -5.10, 0, "fourth finger early, near the nut", "note", "The fourth finger a fret early on the upper strings in I.";
    Early, -2.06, 0, "fourth finger early", "note", "The fourth finger a fret early elsewhere.";
    BackToNut, -0.80, 0, "stretch back from II", "note", "The first finger reaches back to the first fret.";
    OtherNearNut, -0.17, 0, "finger off its fret in II", "note", "A finger a fret early in II, as if the hand stood in I.";
    OtherFinger, 2.30, 1, "finger off its fret", "note", "The second or third finger a fret early.";
    Lean, 0.36, 1, "hand leans", "fret", "The fingers come to stand over other frets while the hand stays.";
    WeakLong, 0.13, 1, "fourth finger on a long note", "note", "The weakest finger holds a note for more than half a second.";
    Fourth, 2.92, 0, "fourth finger", "note", "The weakest finger.";
    Slide, 2.55, 1, "same finger along a string", "note", "A finger slides on its string while the hand stands still.";
    SameFinger, 1.47, 1, "same finger, other fret", "note", "A finger goes to another fret on another string while the hand stands still.";
    Hop, 0.24, 1, "same finger, other string", "note", "A finger other than the first jumps across strings.";
    Barre, 0.27, 1, "first finger across strings", "note", "The first finger lies or jumps across strings.";
    Crossing, 1.07, 1, "crossed fingers", "note", "A higher finger behind a lower one.";
    Span, 3.55, 1, "wide span", "20 mm past comfort", "Two fingers in a row are farther apart than is comfortable.";
    Cut, 2.11, 1, "leap on one string", "note", "A third or more on one string: the note before stops sounding.";
    Ringing, 2.16, 1, "ringing note cut", "note", "A string that a note will come back to is stopped elsewhere.";
    Elsewhere, 2.27, 1, "same note elsewhere", "note", "A pitch comes back on another string while the hand stays.";
    Change, 0.19, 1, "string change", "note", "Another string than the note before.";
    Skip, 0.19, 1, "string skipped", "string", "A string lies between.";
    StepAcross, 0.12, 1, "step across strings", "note", "A step of a second changes strings.";
    Shift, 3.54, 1, "shift", "shift, less when there is time", "The hand moves.";
    OffBeat, 0.25, 1, "shift off the beat", "shift, less when there is time", "The hand arrives within a beat.";
    Distance, 1.41, 1, "shift distance", "fret, less when there is time", "How far the hand moves.";

    Guide, -1.49, -1, "guide finger", "shift", "A finger stays on its string and leads the hand.";
    ShiftAcross, 0.03, 1, "shift and string change", "shift", "The hand moves to another string as well.";
}

/// How many terms there are.
pub(super) const TERMS: usize = Term::ALL.len();

/// The weight of every term, in the order of [`Term::ALL`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights([f64; TERMS]);

impl Weights {
    /// One for every term that can only make things harder, nothing for the others: where learning begins.
    pub fn even() -> Weights {
        Term::ALL
            .iter()
            .fold(Weights([0.0; TERMS]), |weights, term| {
                weights.with(*term, term.sign().into())
            })
    }

    /// The weight of a term.
    pub fn get(&self, term: Term) -> f64 {
        self.0[term as usize]
    }

    /// The weighted sum of the terms that `list` gives.
    #[inline]
    pub(super) fn total(&self, list: impl FnOnce(&mut dyn FnMut(Term, f64))) -> f64 {
        let mut sum = 0.0;
        list(&mut |term, amount| sum += self.get(term) * amount);
        sum
    }

    /// The same weights but one, kept to the term's sign; no weight is beyond ±100.
    #[must_use]
    pub fn with(mut self, term: Term, weight: f64) -> Weights {
        let (low, high) = match term.sign() {
            -1 => (-100.0, 0.0),
            1 => (0.0, 100.0),
            _ => (-100.0, 100.0),
        };
        self.0[term as usize] = weight.clamp(low, high);
        self
    }
}

/// The share of its cost that a shift keeps with all the time in the world: the hand still leaves its place; chosen by ear.
const AT_EASE: f64 = 0.4;
/// Seconds in which half of the rest is gone; chosen by ear.
const UNHURRIED: f64 = 0.5;
/// Seconds a phrase end gives the hand; chosen by ear.
const BREATH: f64 = 0.5;
/// A note longer than this, in seconds, is long for the fourth finger; chosen by ear.
const LONG: f64 = 0.5;
/// The smallest leap, in semitones: less is a step.
const LEAP: u8 = 3;

/// The distances a hand knows on an instrument, in millimetres.
pub(super) struct Spans {
    /// From the nut, by fret.
    nut: [f64; Fret::HIGHEST as usize + 1],
    /// Comfortable and utmost, by the fingers less one.
    reach: [[(f64, f64); 4]; 4],
}

impl Spans {
    pub(super) fn new(player: &Player) -> Spans {
        let length = player.instrument.scale_length();
        let fret = |number: usize| {
            Fret::new(number as u8).map_or(0.0, |fret| fret.distance_from_nut(length))
        };
        let pair =
            |one: usize, other: usize| player.hand.reach(Finger::ALL[one], Finger::ALL[other]);
        Spans {
            nut: std::array::from_fn(fret),
            reach: std::array::from_fn(|one| std::array::from_fn(|other| pair(one, other))),
        }
    }
}

/// What the hand remembers since it came to its position.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct Past {
    /// The strings of the notes before, the latest first; 0 where nothing depends on it any more.
    strings: [u8; MEMORY],
    /// The last note that was stopped: its finger and place.
    stopped: Option<(Finger, Place)>,
}

impl Past {
    /// True when every term read from here is also read from `other`.
    pub(super) fn remembers_no_more_than(&self, other: &Past) -> bool {
        let within = |(own, theirs): (&u8, &u8)| *own == 0 || own == theirs;
        self.strings.iter().zip(&other.strings).all(within)
            && (self.stopped.is_none() || self.stopped == other.stopped)
    }

    /// After this step, the hand staying where it is.
    ///
    /// Of notes on one string only the latest is remembered, and only while it is still to come again.
    pub(super) fn then(self, recall: &Recall, step: &Step) -> Past {
        let string = step.place.string.get();
        let mut strings = [0; MEMORY];
        if recall.awaited {
            strings[0] = string;
        }
        let earlier = self.strings.into_iter().zip(&recall.earlier);
        for (kept, (before, earlier)) in strings[1..].iter_mut().zip(earlier) {
            if before != string && earlier.awaited {
                *kept = before;
            }
        }
        Past {
            strings,
            stopped: step
                .finger
                .map(|finger| (finger, step.place))
                .or(self.stopped),
        }
    }

    /// After this step, the hand having just come to its position.
    pub(super) fn first(recall: &Recall, step: &Step) -> Past {
        Past::default().then(recall, step)
    }
}

/// What a note has to do with the notes before it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Recall {
    /// True when the note comes again soon.
    awaited: bool,
    /// The notes before, the latest first.
    earlier: [Earlier; MEMORY],
}

/// What an earlier note means to the one at hand.
#[derive(Clone, Copy, Debug, Default)]
struct Earlier {
    /// It has the same pitch.
    same: bool,
    /// It is still to come again after the note at hand.
    awaited: bool,
    /// It is a third or more away.
    leap: bool,
}

impl Recall {
    pub(super) fn new(line: &Line, index: usize) -> Recall {
        let notes = line.notes();
        let note = notes[index];
        let earlier = |back: usize| {
            let Some(earlier) = index.checked_sub(1 + back).map(|at| notes[at]) else {
                return Earlier::default();
            };
            Earlier {
                same: earlier.midi == note.midi,
                awaited: earlier.returns.is_some_and(|returns| returns > index),
                leap: earlier.midi.abs_diff(note.midi) >= LEAP,
            }
        };
        Recall {
            awaited: note.returns.is_some(),
            earlier: std::array::from_fn(earlier),
        }
    }
}

/// The fret at which the first finger would stand.
fn lean(finger: Finger, fret: Fret) -> i8 {
    fret.get() as i8 - finger.get() as i8
}

/// True when a note is long for the fourth finger.
pub(super) fn is_long(seconds: f64) -> bool {
    seconds > LONG
}

/// Adds the terms of a step in itself.
pub(super) fn alone(player: &Player, long: bool, step: &Step, mut add: impl FnMut(Term, f64)) {
    let position = f64::from(step.position.get());
    let (string, fret) = (step.place.string.get(), f64::from(step.place.fret.get()));
    add(Term::Height, position / 12.0);
    if position < 5.0 {
        add(Term::NearNut, (5.0 - position) / 4.0);
    }
    if position > 9.0 {
        add(Term::HighUp, (position - 9.0) / 3.0);
    }
    let Some(finger) = step.finger else {
        let term = match step.position.get() {
            1 => Term::OpenFirst,
            2..=3 => Term::OpenNear,
            _ => Term::OpenFar,
        };
        add(term, 1.0);
        return;
    };
    let strings = player.instrument.strings().len() as u8;
    if 2 * string > strings && fret > 5.0 {
        add(
            Term::DarkTone,
            (fret - 5.0) / 5.0 * f64::from(string - strings / 2),
        );
    }
    if 3 * string > 2 * strings {
        add(Term::LowString, 1.0);
    }
    let offset = step.place.fret.get() as i16 - step.position.get() as i16;
    match (offset, finger) {
        (-1, _) if position == 2.0 => add(Term::BackToNut, 1.0),
        (-1, _) => add(Term::StretchBack, 1.0),
        (4, _) => add(Term::StretchOn, 1.0),
        (2, Finger::Fourth) if step.position == Position::FIRST && 3 * string <= strings => {
            add(Term::EarlyNearNut, 1.0);
        }
        (0, Finger::Second) | (1, Finger::Third) | (2, Finger::Fourth) if position == 2.0 => {
            add(Term::OtherNearNut, 1.0)
        }
        (2, Finger::Fourth) => add(Term::Early, 1.0),
        (0, Finger::Second) | (1, Finger::Third) => add(Term::OtherFinger, 1.0),
        _ => {}
    }
    if finger == Finger::Fourth {
        add(Term::Fourth, 1.0);
        if long {
            add(Term::WeakLong, 1.0);
        }
    }
}

/// Adds the terms of going `strings` strings over, or none, to the note `index`.
pub(super) fn across(line: &Line, index: usize, strings: u8, mut add: impl FnMut(Term, f64)) {
    let leap = line.notes()[index]
        .midi
        .abs_diff(line.notes()[index - 1].midi);
    if strings == 0 {
        if leap >= LEAP {
            add(Term::Cut, 1.0);
        }
        return;
    }
    add(Term::Change, 1.0);
    if leap < LEAP {
        add(Term::StepAcross, 1.0);
    }
    if strings > 1 {
        add(Term::Skip, f64::from(strings - 1));
    }
}

/// Adds the terms of a step that the hand plays without moving; false when it cannot reach.
#[must_use]
pub(super) fn staying(
    spans: &Spans,
    recall: &Recall,
    past: &Past,
    step: &Step,
    mut add: impl FnMut(Term, f64),
) -> bool {
    if let (Some((before, from)), Some(finger)) = (past.stopped, step.finger) {
        let to = step.place;
        if before == finger {
            if from.fret != to.fret && from.string == to.string {
                add(Term::Slide, 1.0);
            } else if from.fret != to.fret {
                add(Term::SameFinger, 1.0);
            } else if from.string != to.string {
                add(
                    if finger == Finger::First {
                        Term::Barre
                    } else {
                        Term::Hop
                    },
                    1.0,
                );
            }
        } else {
            let lean = lean(before, from.fret).abs_diff(lean(finger, to.fret));
            if lean > 0 && before != Finger::Fourth && finger != Finger::Fourth {
                add(Term::Lean, f64::from(lean));
            }
            let crossed = (before < finger) == (from.fret > to.fret) && from.fret != to.fret;
            if crossed || from == to {
                add(Term::Crossing, 1.0);
            }
            let (lower, upper) = if before < finger {
                (from, to)
            } else {
                (to, from)
            };
            let span =
                spans.nut[usize::from(upper.fret.get())] - spans.nut[usize::from(lower.fret.get())];
            let (comfortable, utmost) = spans.reach[before as usize - 1][finger as usize - 1];
            if span > utmost {
                return false;
            }
            if span > comfortable {
                add(Term::Span, (span - comfortable) / 20.0);
            }
        }
    }
    let string = step.place.string.get();
    for (before, earlier) in past.strings.iter().zip(&recall.earlier) {
        if *before == 0 {
            continue;
        }
        if *before == string {
            if earlier.awaited && earlier.leap {
                add(Term::Ringing, 1.0);
            }
        } else if earlier.same {
            add(Term::Elsewhere, 1.0);
        }
    }
    true
}

/// The seconds the hand has to move before the note `index`, which is not the first.
///
/// There is time in the silence before the note, in the latter half of a stopped note, in all of an open string and in a
/// breath between phrases.
pub(super) fn time_to_move(line: &Line, index: usize, from_open: bool) -> f64 {
    let (before, note) = (line.notes()[index - 1], line.notes()[index]);
    let share = if from_open { 1.0 } else { 0.5 };
    let breath = if note.phrase { BREATH } else { 0.0 };
    note.rest + share * before.seconds + breath
}

/// How hurried a shift to the note `index` is, from 1 (no time at all) towards [`AT_EASE`].
pub(super) fn hurry(line: &Line, index: usize, from_open: bool) -> f64 {
    let time = time_to_move(line, index, from_open);
    AT_EASE + (1.0 - AT_EASE) * UNHURRIED / (UNHURRIED + time)
}

/// Adds the terms of moving the hand, apart from fingers and strings.
pub(super) fn moving(on_beat: bool, hurry: f64, distance: u8, mut add: impl FnMut(Term, f64)) {
    add(Term::Shift, hurry);
    if !on_beat {
        add(Term::OffBeat, hurry);
    }
    add(Term::Distance, hurry * f64::from(distance));
}

/// Adds the terms of the fingers and strings before and after a shift.
pub(super) fn landing(from: &Step, to: &Step, mut add: impl FnMut(Term, f64)) {
    if from.place.string != to.place.string {
        add(Term::ShiftAcross, 1.0);
    } else if from.finger.is_some() && from.finger == to.finger {
        add(Term::Guide, 1.0);
    }
}

/// How much of every term each note of a fingering has, unweighted, in the order of [`Term::ALL`].
///
/// This is the definition of cost: the search finds the steps for which the weighted sum is least. `None` when the hand
/// cannot reach from one step to the next, or when there is not one step for every note.
pub fn explain(player: &Player, line: &Line, steps: &[Step]) -> Option<Vec<Vec<f64>>> {
    if steps.len() != line.notes().len() {
        return None;
    }
    let mut amounts = vec![vec![0.0; TERMS]; steps.len()];
    let spans = Spans::new(player);
    let mut past = Past::default();
    for (index, step) in steps.iter().enumerate() {
        let sums = &mut amounts[index];
        let mut add = |term: Term, amount: f64| sums[term as usize] += amount;
        let recall = Recall::new(line, index);
        alone(player, is_long(line.notes()[index].seconds), step, &mut add);
        if index == 0 {
            past = Past::first(&recall, step);
            continue;
        }
        let before = &steps[index - 1];
        let strings = before.place.string.get().abs_diff(step.place.string.get());
        across(line, index, strings, &mut add);
        if before.position == step.position {
            if !staying(&spans, &recall, &past, step, &mut add) {
                return None;
            }
            past = past.then(&recall, step);
        } else {
            let hurry = hurry(line, index, before.finger.is_none());
            let distance = before.position.get().abs_diff(step.position.get());
            moving(line.notes()[index].on_beat, hurry, distance, &mut add);
            landing(before, step, &mut add);
            past = Past::first(&recall, step);
        }
    }
    Some(amounts)
}
