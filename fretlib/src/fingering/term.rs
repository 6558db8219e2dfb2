//! The terms of a fingering's cost, and how much each weighs.

use std::ops::Add;

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
            #[doc(hidden)]
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
    Span, 3.55, 1, "wide span", "20 mm state comfort", "Two fingers in a row are farther apart than is comfortable.";
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

/// What one note of a fingering costs, term by term.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TermCosts([f64; TERMS]);

impl TermCosts {
    /// Nothing of any term.
    pub const ZERO: TermCosts = TermCosts([0.0; TERMS]);

    /// The cost of one term.
    pub fn get(&self, term: Term) -> f64 {
        self.0[term as usize]
    }

    /// The cost of all terms.
    pub fn total(&self) -> f64 {
        self.0.iter().sum()
    }

    /// Every term with its cost.
    pub fn iter(&self) -> impl Iterator<Item = (Term, f64)> + '_ {
        Term::ALL.iter().copied().zip(self.0)
    }
}

impl Add for TermCosts {
    type Output = TermCosts;

    fn add(mut self, other: TermCosts) -> TermCosts {
        self.0
            .iter_mut()
            .zip(other.0)
            .for_each(|(own, more)| *own += more);
        self
    }
}

/// The weight of every term, in the order of [`Term::ALL`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights([f64; TERMS]);

impl Weights {
    /// One for every term that can only make things harder, nothing for the others: where learning begins.
    pub fn even() -> Weights {
        Weights(std::array::from_fn(|term| Term::ALL[term].sign().into()))
    }

    /// The weight of a term.
    pub fn get(&self, term: Term) -> f64 {
        self.0[term as usize]
    }

    /// What amounts of every term cost, in the order of [`Term::ALL`].
    pub(super) fn costs(&self, amounts: &[f64; TERMS]) -> TermCosts {
        TermCosts(std::array::from_fn(|term| self.0[term] * amounts[term]))
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
