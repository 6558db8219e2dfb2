//! Learning the weights of a fingering from print.

use fretlib::fingering::learn::{CostBias, Weights, amounts, find_cheapest};
use fretlib::fingering::{FingeredNote, Term};
use fretlib::neck::Finger;

use tests::agreement::Agreement;
use tests::editions::{Printed, Staff};

/// The settings of learning.
#[derive(Clone, Copy, Debug)]
struct Lesson {
    rounds: usize,
    /// The margin: how much cheaper the editor's fingering should be for every note that another one plays differently.
    margin: f64,
    /// The first step of a weight.
    step: f64,
    /// How many notes make a passage.
    stretch: usize,
    /// How many passages of each work are used in a round.
    of_each_work: usize,
}

/// First all weights from all staves. Chosen by the agreement with works left out among those not kept back.
const PLACES: Lesson = Lesson {
    rounds: 30,
    margin: 2.0,
    step: 0.05,
    stretch: 128,
    of_each_work: 12,
};

/// Then those of home from the staves with pins, and after them those of what pins tell.
const HOMES: Lesson = Lesson {
    rounds: 15,
    ..PLACES
};

/// Then those of fingers from the studies.
const FINGERS: Lesson = Lesson {
    rounds: 60,
    margin: 0.3,
    step: 0.02,
    stretch: 64,
    of_each_work: 12,
};

/// Pins, for learning where the hand stays: one in this many notes.
pub const PINNED_EVERY: usize = 16;

/// The terms that hold the hand at home.
const OF_HOMES: &[Term] = &[
    Term::Away,
    Term::HomeHeight,
    Term::HomeNearNut,
    Term::OpenFar,
];

/// The terms of what pins tell about other notes.
const OF_PINS: &[Term] = &[Term::UnlikePinned, Term::OtherString];

/// The terms that decide the finger, once the place is known.
const OF_FINGERS: &[Term] = &[
    Term::EarlyNearNut,
    Term::BackToNut,
    Term::OtherNearNut,
    Term::Lean,
    Term::SameFinger,
    Term::Fourth,
    Term::Crossing,
];

/// The least and the most a weight may be.
///
/// A melody does not tell which region an editor prefers, so height may only cost, and an open string near the nut may
/// not; fingers off their frets in II must not become the rule, nor a third finger after the first reaches back: common
/// practice, no source. Editors mark every fret by
/// which the hand moves, and let a finger slide; a soloist would rather stay and articulate. The numbers were chosen by
/// the agreement with works left out among those not kept back.
fn bounds(term: Term) -> (f64, f64) {
    match term {
        Term::Height => (2.0, 100.0),
        Term::OpenFirst => (-100.0, -1.0),
        Term::OpenNear => (-100.0, 0.0),
        Term::OtherNearNut => (-0.2, 100.0),
        Term::OtherFinger => (2.4, 100.0),
        Term::Lean => (-100.0, 1.0),
        Term::Shift => (4.5, 100.0),
        Term::Slide => (2.5, 100.0),
        _ => (-100.0, 100.0),
    }
}

/// These weights with one replaced, within its bounds.
fn within_bounds(weights: Weights, term: Term, weight: f64) -> Weights {
    let (least, most) = bounds(term);
    weights.with(term, weight.clamp(least, most))
}

/// Learns weights from staves, each work counting the same; then those of home from the staves with pins; then those of what
/// pins tell about other notes; then those of fingers from the studies.
///
/// All at once, home taught the other weights: without one, fingerings agreed less. So did what pins tell: home, which has to
/// hold the hand without them too, became weak. The studies are few compared with the staves, but only they show fingers near
/// the nut, where editors print fewer fingers.
pub fn learn(staves: &[&Staff]) -> Weights {
    let weights = study(
        &by_work(staves.iter().map(|staff| (*staff).clone())),
        PLACES,
        Weights::even(),
        Term::ALL,
    );
    let with_places = staves.iter().filter(|staff| !staff.is_held());
    let pinned = by_work(with_places.map(|staff| staff.pinned(0, PINNED_EVERY)));
    let weights = study(&pinned, HOMES, weights, OF_HOMES);
    let weights = study(&pinned, HOMES, weights, OF_PINS);
    let studies: Vec<Staff> = staves
        .iter()
        .filter(|it| it.is_held())
        .map(|it| (*it).clone())
        .collect();
    let weights = study(std::slice::from_ref(&studies), FINGERS, weights, OF_FINGERS);
    polish(&studies, weights, OF_FINGERS)
}

/// Staves by work; all studies make one work.
fn by_work(staves: impl Iterator<Item = Staff>) -> Vec<Vec<Staff>> {
    let mut works: Vec<(String, Vec<Staff>)> = Vec::new();
    for staff in staves {
        let name = match staff.is_held() {
            true => "studies",
            false => &staff.work,
        };
        match works.iter_mut().find(|(work, _)| work == name) {
            Some((_, staves)) => staves.push(staff),
            None => works.push((name.to_owned(), vec![staff])),
        }
    }
    works.into_iter().map(|(_, staves)| staves).collect()
}

/// Changes weights one or two at a time as long as more printed fingers agree.
fn polish(staves: &[Staff], mut weights: Weights, terms: &[Term]) -> Weights {
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
                    let moved = within_bounds(weights, *one, weights.get(*one) + by);
                    let moved = within_bounds(moved, *other, moved.get(*other) + too);
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

/// A fixed generator, so that anyone learns the same (Knuth's MMIX numbers).
struct Shuffle(u64);

impl Shuffle {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % count
    }

    fn order(&mut self, count: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..count).collect();
        for index in (1..count).rev() {
            order.swap(index, self.below(index + 1));
        }
        order
    }
}

/// Changes the weights of some terms so that the editor's fingering becomes cheaper than every other by a margin.
///
/// For each passage, the cheapest fingering that agrees with the print is compared with the cheapest one when mistakes
/// get a bonus; every weight moves by the difference of its term. The result is the mean over all moves but the first.
/// Source: structured learning with a margin (Taskar, Guestrin, Koller 2003; Collins 2002 for the mean).
fn study(works: &[Vec<Staff>], lesson: Lesson, mut weights: Weights, terms: &[Term]) -> Weights {
    let stretches: Vec<Vec<Staff>> = works
        .iter()
        .map(|staves| cut(staves, lesson.stretch))
        .collect();
    let mut queues = vec![Vec::new(); stretches.len()];
    let mut sums = vec![0.0; terms.len()];
    let mut moves = 0.0;
    let mut shuffle = Shuffle(1);
    for round in 0..lesson.rounds {
        let pace = lesson.step / (1.0 + round as f64 / 10.0);
        for (stretches, queue) in (0..lesson.of_each_work)
            .flat_map(|_| stretches.iter().enumerate())
            .map(|(at, it)| (it, at))
        {
            let queue: &mut Vec<usize> = &mut queues[queue];
            if queue.is_empty() {
                *queue = shuffle.order(stretches.len());
            }
            let Some((editor, other)) = queue
                .pop()
                .and_then(|next| compared(&stretches[next], &weights, lesson.margin))
            else {
                continue;
            };
            for term in terms {
                let change = pace * (other[*term as usize] - editor[*term as usize]);
                weights = within_bounds(weights, *term, weights.get(*term) + change);
            }
            if 4 * round >= lesson.rounds {
                sums.iter_mut()
                    .zip(terms)
                    .for_each(|(sum, term)| *sum += weights.get(*term));
                moves += 1.0;
            }
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

/// The staves in passages; an end that is too short is left out.
fn cut(staves: &[Staff], length: usize) -> Vec<Staff> {
    let stretches = staves.iter().flat_map(|staff| {
        let notes = staff.printed.len();
        let starts = (0..notes)
            .step_by(length)
            .filter(move |start| notes - start >= 8);
        starts.map(move |start| staff.stretch(start..(start + length).min(notes)))
    });
    stretches.collect()
}

/// The amounts of every term in the cheapest fingering that agrees with the print, and in the cheapest one when
/// mistakes get a bonus.
fn compared(staff: &Staff, weights: &Weights, margin: f64) -> Option<(Vec<f64>, Vec<f64>)> {
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
    let (search, line) = (staff.search(), staff.line());
    let sums = |bias: CostBias| {
        let found = find_cheapest(&search, &line, weights, Some(bias))?;
        let notes = amounts(&search, &line, &found.notes)?;
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
