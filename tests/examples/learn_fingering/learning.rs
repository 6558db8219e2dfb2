//! Learning the weights of a fingering from print.

use fretlib::fingering::learn::{Weights, amounts, find_biased};
use fretlib::fingering::{FingeredNote, Term, TimedMelody};
use fretlib::neck::Finger;

use tests::agreement::Agreement;
use tests::editions::{Printed, Staff, player};

/// How a learner goes about it.
#[derive(Clone, Copy, Debug)]
pub struct Lesson {
    /// How often every phrase is looked at.
    pub rounds: usize,
    /// How much cheaper the editor's way should come out for every note that another way plays otherwise.
    pub margin: f64,
    /// The first step of a weight.
    pub step: f64,
    /// How many notes make a phrase.
    pub phrase: usize,
    /// How many times over the studies are looked at in a round.
    pub studies: usize,
}

impl Lesson {
    /// What the shipped weights were learned with: first all weights from all staves.
    pub const SHIPPED: Lesson = Lesson {
        rounds: 60,
        margin: 2.0,
        step: 0.05,
        phrase: 64,
        studies: 3,
    };
    /// Then those of fingers from the studies.
    const FINGERS: Lesson = Lesson {
        rounds: 60,
        margin: 0.3,
        step: 0.02,
        phrase: 64,
        studies: 1,
    };
}

/// The terms that say which finger plays, once the place is settled.
const OF_FINGERS: &[Term] = &[
    Term::EarlyNearNut,
    Term::BackToNut,
    Term::OtherNearNut,
    Term::Lean,
    Term::SameFinger,
    Term::Fourth,
    Term::Crossing,
];

/// The least a weight may be.
///
/// Editors mark every fret by which the hand moves, and let a finger slide; a soloist would rather stay and articulate, and
/// with both at no less than this the works left out are met as well as without. The two numbers were chosen by that.
fn least(term: Term) -> f64 {
    match term {
        Term::Shift => 3.5,
        Term::Slide => 2.5,
        _ => f64::NEG_INFINITY,
    }
}

/// Learns weights from staves, then those of fingers from the studies among them.
///
/// The studies are few beside the staves, and alone in telling of fingers near the nut, where editors take less care to
/// give every fret a finger.
pub fn learn(staves: &[&Staff], lesson: Lesson) -> Weights {
    let weights = study(staves, lesson, Weights::even(), Term::ALL);
    let studies: Vec<&Staff> = staves
        .iter()
        .copied()
        .filter(|staff| staff.is_held())
        .collect();
    let weights = study(&studies, Lesson::FINGERS, weights, OF_FINGERS);
    polish(&studies, weights, OF_FINGERS)
}

/// Moves weights one or two at a time as long as more printed fingers are met.
fn polish(staves: &[&Staff], mut weights: Weights, terms: &[Term]) -> Weights {
    let met = |weights: &Weights| {
        let mut agreement = Agreement::default();
        for staff in staves {
            agreement.add(staff, &staff.fingered(weights).notes);
        }
        agreement.fingers.1
    };
    let mut best = met(&weights);
    let steps = [-1.0, -0.5, -0.25, 0.0, 0.25, 0.5, 1.0];
    loop {
        let before = best;
        for (index, one) in terms.iter().enumerate() {
            for other in &terms[index + 1..] {
                for (by, too) in steps
                    .iter()
                    .flat_map(|by| steps.iter().map(move |too| (by, too)))
                {
                    let moved = weights
                        .with(*one, weights.get(*one) + by)
                        .with(*other, weights.get(*other) + too);
                    let now = met(&moved);
                    if now > best {
                        (best, weights) = (now, moved);
                    }
                }
            }
        }
        if best == before {
            return weights;
        }
    }
}

/// Changes the weights of some terms so that the editor's way comes out cheaper than every other by a margin.
///
/// For each phrase, the cheapest way that keeps to the print is set against the cheapest way when mistakes are made
/// attractive; every weight moves by the difference of its term. The mean over all moves is what is learned.
/// Source: structured learning with a margin (Taskar, Guestrin, Koller 2003; Collins 2002 for the mean).
fn study(staves: &[&Staff], lesson: Lesson, mut weights: Weights, terms: &[Term]) -> Weights {
    let mut phrases: Vec<(Staff, TimedMelody)> = staves
        .iter()
        .flat_map(|staff| {
            let times = if staff.is_held() { lesson.studies } else { 1 };
            (0..times).flat_map(|_| staff.stretches(lesson.phrase))
        })
        .map(|staff| {
            let line = staff.line();
            (staff, line)
        })
        .collect();
    let mut sums = vec![0.0; terms.len()];
    let mut moves = 0.0;
    let mut order = 1u64;
    for round in 0..lesson.rounds {
        // Phrases in another order each round; a fixed generator, so that anyone learns the same (Knuth's MMIX numbers).
        for index in (1..phrases.len()).rev() {
            order = order
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            phrases.swap(index, (order >> 33) as usize % (index + 1));
        }
        let pace = lesson.step / (1.0 + round as f64 / 10.0);
        for (staff, line) in &phrases {
            let Some((editor, other)) = compared(staff, line, &weights, lesson.margin) else {
                continue;
            };
            for (sum, term) in sums.iter_mut().zip(terms) {
                let change = pace * (other[*term as usize] - editor[*term as usize]);
                weights = weights.with(*term, (weights.get(*term) + change).max(least(*term)));
                *sum += weights.get(*term);
            }
            moves += 1.0;
        }
    }
    if moves == 0.0 {
        return weights;
    }
    let means = terms.iter().zip(sums);
    means.fold(weights, |weights, (term, sum)| {
        weights.with(*term, sum / moves)
    })
}

/// How much of every term the cheapest way has that keeps to the print, and the cheapest when mistakes are attractive.
fn compared(
    staff: &Staff,
    line: &TimedMelody,
    weights: &Weights,
    margin: f64,
) -> Option<(Vec<f64>, Vec<f64>)> {
    let held = staff.is_held();
    let kept = |index: usize, note: &FingeredNote| {
        let printed = &staff.printed[index];
        let (place, finger) = disagreement(printed, note);
        let other = printed.place.is_some_and(|place| place != note.place);
        let position = printed
            .position
            .map_or(0, |it| it.abs_diff(note.position.get()).min(4));
        100.0 * place.max(f64::from(u8::from(other)))
            + finger * if held { 100.0 } else { 0.7 }
            + 0.5 * f64::from(position)
    };
    let tempted = |index: usize, note: &FingeredNote| {
        let (place, finger) = disagreement(&staff.printed[index], note);
        -margin * if held { finger } else { place }
    };
    let player = player();
    let sums = |bias: &dyn Fn(usize, &FingeredNote) -> f64| {
        let found = find_biased(&player, line, weights, &staff.constraints, bias)?;
        let notes = amounts(&player, line, &found.notes)?;
        let sum = |term| notes.iter().map(|note| note[term]).sum();
        Some((0..Term::ALL.len()).map(sum).collect())
    };
    Some((sums(&kept)?, sums(&tempted)?))
}

fn disagreement(printed: &Printed, note: &FingeredNote) -> (f64, f64) {
    let place = printed.proves && printed.place != Some(note.place);
    let finger = printed
        .finger
        .or(printed.tacit_open.then_some(0))
        .is_some_and(|finger| finger != note.finger.map_or(0, Finger::get));
    (f64::from(u8::from(place)), f64::from(u8::from(finger)))
}
