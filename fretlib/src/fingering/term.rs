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

            /// Its name on screens.
            pub const fn name(self) -> &'static str {
                match self { $(Term::$term => $name,)* }
            }

            /// The name of one unit of it.
            pub const fn unit(self) -> &'static str {
                match self { $(Term::$term => $unit,)* }
            }

            /// -1 if it may only make things easier, 1 if only harder, 0 if learning decides.
            #[doc(hidden)]
            pub const fn sign(self) -> i8 {
                match self { $(Term::$term => $sign,)* }
            }
        }

        // A learned weight may happen to be near a mathematical constant.
        #[allow(clippy::approx_constant)]
        impl Weights {
            /// As they were learned from printed fingerings.
            fn learned() -> Weights {
                Weights([$($weight),*])
            }
        }
    };
}

// `tests/examples/learn_fingering` learned the weights from printed fingerings; see there.
terms! {
    Height, 2.41, 0, "height on the neck", "octave of frets", "How far up the neck the hand stands.";
    HighUp, 1.82, 0, "high on the neck", "3 frets above IX", "The hand stands above ninth position, where the body is in the way.";
    Away, 1.82, 1, "away from home", "fret", "The hand stands away from its home.";
    HomeHeight, 2.51, 0, "height, with a home", "octave of frets", "How far up the neck the hand stands, where it has a home.";
    HomeNearNut, 1.51, 0, "near the nut, with a home", "4 frets below V", "The hand stands below fifth position, where it has a home.";
    DarkTone, 1.60, 1, "dark tone", "5 frets above V, a string", "A low string stopped high up sounds dull.";
    LowString, -0.87, 0, "low strings", "note", "A note on the lowest third of the strings.";
    OpenFirst, -1.06, 0, "open string in first position", "note", "An open string rings on and sounds brighter.";
    OpenNear, -1.16, 0, "open string in II or III", "note", "An open string a little above the nut.";
    OpenFar, 4.48, 1, "open string far up", "note", "An open string beside notes from higher up: another colour.";
    StretchBack, 0.84, 1, "stretch back", "note", "The first finger reaches back a fret.";
    StretchOn, 3.54, 1, "stretch on", "note", "The fourth finger reaches on a fret.";
    EarlyNearNut, -5.76, 0, "fourth finger early, near the nut", "note", "The fourth finger a fret early on the upper strings in I.";
    Early, -0.29, 0, "fourth finger early", "note", "The fourth finger a fret early elsewhere.";
    BackToNut, -1.36, 0, "stretch back from II", "note", "The first finger reaches back to the first fret.";
    OtherNearNut, -0.20, 0, "finger off its fret in II", "note", "A finger a fret early in II, as if the hand stood in I.";
    OtherFinger, 2.43, 1, "finger off its fret", "note", "The second or third finger a fret early.";
    Lean, 0.83, 1, "hand leans", "fret", "The fingers come to stand over other frets while the hand stays.";
    WeakLong, 0.16, 1, "fourth finger on a long note", "note", "The weakest finger holds a note for more than half a second.";
    Fourth, 3.23, 0, "fourth finger", "note", "The weakest finger.";
    Slide, 2.50, 1, "same finger along a string", "note", "A finger slides on its string while the hand stands still.";
    SameFinger, 3.37, 1, "same finger, other fret", "note", "A finger goes to another fret on another string while the hand stands still.";
    Hop, 0.65, 1, "same finger, other string", "note", "A finger other than the first jumps across strings.";
    Barre, 0.07, 1, "first finger across strings", "note", "The first finger lies or jumps across strings.";
    Crossing, 2.11, 1, "crossed fingers", "note", "A higher finger behind a lower one.";
    Span, 3.09, 1, "wide span", "20 mm past comfort", "Two fingers in a row are farther apart than is comfortable.";
    Cut, 3.00, 1, "leap on one string", "note", "A third or more on one string: the note before stops sounding.";
    Ringing, 3.18, 1, "ringing note cut", "note", "A string that a note will come back to is stopped elsewhere.";
    Elsewhere, 1.53, 1, "same note elsewhere", "note", "A pitch comes back on another string while the hand stays.";
    Change, 0.34, 1, "string change", "note", "Another string than the note before.";
    Skip, 0.38, 1, "string skipped", "string", "A string lies between.";
    StepAcross, 0.23, 1, "step across strings", "note", "A step of a second changes strings.";
    Shift, 4.53, 1, "shift", "shift, less when there is time", "The hand moves.";
    OffBeat, 2.04, 1, "shift off the beat", "shift, less when there is time", "The hand arrives within a beat.";
    Distance, 1.09, 1, "shift distance", "fret, less when there is time", "How far the hand moves.";
    HomeShift, 0.0, 0, "shift at home", "shift, less when there is time", "The hand moves where one home holds, not between two.";
    UnlikePinned, 0.97, 0, "unlike a pinned repetition", "note in common", "A passage with this pitch is pinned elsewhere and played otherwise here.";
    OtherString, 1.67, 0, "string unlike near pins", "all of them", "Pins of nearly the same pitch are on other strings.";
    Guide, -3.02, -1, "guide finger", "shift", "A finger stays on its string and leads the hand.";
    ShiftAcross, 0.02, 1, "shift and string change", "shift", "The hand moves to another string as well.";
}

/// How many terms there are.
pub(super) const TERMS: usize = Term::ALL.len();

/// The cost of one note of a fingering, term by term.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TermCosts([f64; TERMS]);

impl TermCosts {
    /// All terms zero.
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

/// What is added to the learned weights so that near-equal ways are decided as a player decides them: no shift between two
/// quick notes, no shift that a reach spares, least of all where the hand is at home, a pitch at one place while the hand
/// stays, no finger that slides to the fret of another, and first position rather than second for open strings and for the
/// first fret. Common practice, no source; the amounts were chosen by ear, and so that the agreement with print does not fall.
const ECONOMY: [(Term, f64); 7] = [
    (Term::OffBeat, 1.5),
    (Term::Elsewhere, 3.0),
    (Term::BackToNut, 1.0),
    (Term::OpenFirst, -0.5),
    (Term::Shift, 0.8),
    (Term::HomeShift, 3.0),
    (Term::Slide, 0.1),
];

impl Default for Weights {
    /// The learned weights, with economy.
    fn default() -> Weights {
        Weights::learned().economical()
    }
}

/// The weight of every term, in the order of [`Term::ALL`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights([f64; TERMS]);

impl Weights {
    /// One for every term that can only make things harder, zero for the others: the start of learning.
    pub fn even() -> Weights {
        Weights(std::array::from_fn(|term| Term::ALL[term].sign().into()))
    }

    /// These weights, term by term.
    pub fn named(weight: impl Fn(Term) -> f64) -> Weights {
        Weights(std::array::from_fn(|term| weight(Term::ALL[term])))
    }

    /// These weights as learned, with what decides between near-equal ways.
    #[must_use]
    pub fn economical(self) -> Weights {
        let add = |weights: Weights, (term, more): (Term, f64)| {
            let weight = weights.get(term) + more;
            weights.with(term, weight)
        };
        ECONOMY.into_iter().fold(self, add)
    }

    /// The weight of a term.
    pub fn get(&self, term: Term) -> f64 {
        self.0[term as usize]
    }

    /// The cost of these amounts of every term, in the order of [`Term::ALL`].
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

    /// The same weights with one replaced, limited to the term's sign and to ±100.
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
