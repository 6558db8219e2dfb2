//! The hardest moments of an arrangement, and easier ways to play them.

use fretlib::arranging::{Arrangement, Lattice, Voicing, VoicingTerm};
use fretlib::theory::ChordDegree;

/// A moment that is hard to play, with easier ways.
pub struct HardMoment {
    /// The index of the note.
    pub note: usize,
    /// The cost for the hand.
    pub cost: f64,
    /// Up to two easier ways, the easiest first.
    pub ways: Vec<EasierWay>,
}

/// Another way to play a moment.
pub struct EasierWay {
    /// The change, such as `leave the root out`.
    pub what: String,
    /// The saving for the hand, over the whole tune.
    pub saved: f64,
    /// The voicing, with the fingers and millimetres it saves; `None` for a bare note.
    pub voicing: Option<Voicing>,
}

/// The most moments shown.
const MOMENTS: usize = 3;
/// The most easier ways shown for each.
const WAYS: usize = 2;
/// The least saving that is shown, in units of cost; chosen by ear.
const WORTH_IT: f64 = 0.1;

/// The hardest moments, the hardest first.
pub fn hardest(lattice: &Lattice, arrangement: &Arrangement) -> Vec<HardMoment> {
    let mut struck: Vec<(usize, f64)> = (0..arrangement.notes.len())
        .filter(|index| {
            arrangement.notes[*index].bare.is_none() && !arrangement.notes[*index].under.is_empty()
        })
        .map(|index| (index, felt(lattice, arrangement, index)))
        .collect();
    struck.sort_by(|one, other| other.1.total_cmp(&one.1));
    struck.truncate(MOMENTS);
    let moments = struck.into_iter().map(|(note, cost)| HardMoment {
        note,
        cost,
        ways: easier_ways(lattice, arrangement, note),
    });
    moments.collect()
}

/// The cost of a note for the hand.
fn felt(lattice: &Lattice, arrangement: &Arrangement, note: usize) -> f64 {
    let amounts = &arrangement.notes[note].amounts;
    let weights = &lattice.settings().weights;
    let of_hand = VoicingTerm::ALL.iter().filter(|term| term.is_of_hand());
    of_hand
        .map(|term| weights.get(*term) * amounts[*term as usize])
        .sum()
}

fn felt_over_all(lattice: &Lattice, arrangement: &Arrangement) -> f64 {
    (0..arrangement.notes.len())
        .map(|note| felt(lattice, arrangement, note))
        .sum()
}

fn easier_ways(lattice: &Lattice, arrangement: &Arrangement, note: usize) -> Vec<EasierWay> {
    let now = felt_over_all(lattice, arrangement);
    let Some(first) = arrangement.notes[note].under.first() else {
        return Vec::new();
    };
    let lowest = first.voicing.under()[0].degree;
    let is_root = |degree: &ChordDegree| degree.number() == 1;
    let mut ways = Vec::new();
    let mut consider = |what: String, found: Option<Arrangement>| {
        let Some(found) = found else { return };
        let saved = now - felt_over_all(lattice, &found);
        let voicing = found.notes[note].under.first().map(|it| it.voicing.clone());
        let is_new = ways.iter().all(|way: &EasierWay| way.voicing != voicing);
        if saved >= WORTH_IT && is_new {
            ways.push(EasierWay {
                what,
                saved,
                voicing,
            });
        }
    };
    if !first.voicing.omitted().iter().any(is_root) {
        let without = |voicing: &Voicing| voicing.under().iter().all(|it| !is_root(&it.degree));
        consider(
            "leave the root out".into(),
            anew(lattice, arrangement, note, without),
        );
    }
    let other_bass = |voicing: &Voicing| voicing.under()[0].degree != lowest;
    let turned = anew(lattice, arrangement, note, other_bass);
    let bass = turned
        .as_ref()
        .and_then(|it| it.notes[note].under.first())
        .map(|it| it.voicing.under()[0].degree);
    if let Some(bass) = bass {
        consider(format!("put the {bass} at the bottom"), turned);
    }
    let place = first.voicing.melody.place;
    let elsewhere = anew(lattice, arrangement, note, |voicing| {
        voicing.melody.place != place
    });
    consider("play the melody note elsewhere".into(), elsewhere);
    let fewer = first.voicing.under().len();
    let thinner = anew(lattice, arrangement, note, |voicing| {
        voicing.under().len() < fewer
    });
    consider("let one note go".into(), thinner);
    consider("leave it bare".into(), bare(lattice, arrangement, note));
    ways.sort_by(|one, other| other.saved.total_cmp(&one.saved));
    // A bare note is always easiest, so it is only shown when there is space.
    if ways.len() > WAYS {
        ways.retain(|way| way.voicing.is_some());
    }
    ways.truncate(WAYS);
    ways
}

/// The best arrangement that differs only at one note, where only some voicings are allowed.
fn anew(
    lattice: &Lattice,
    arrangement: &Arrangement,
    note: usize,
    allows: impl Fn(&Voicing) -> bool,
) -> Option<Arrangement> {
    let found = lattice.solve_where(
        1,
        |moment, voicing| {
            if lattice.moments()[moment].note == note {
                allows(voicing)
            } else {
                is_as_before(arrangement, moment, voicing)
            }
        },
        |bare| arrangement.notes[bare].bare.is_some(),
    );
    found
        .into_iter()
        .next()
        .filter(|it| it.notes[note].bare.is_none())
}

fn bare(lattice: &Lattice, arrangement: &Arrangement, note: usize) -> Option<Arrangement> {
    let found = lattice.solve_where(
        1,
        |moment, voicing| is_as_before(arrangement, moment, voicing),
        |bare| bare == note || arrangement.notes[bare].bare.is_some(),
    );
    found.into_iter().next()
}

fn is_as_before(arrangement: &Arrangement, moment: usize, voicing: &Voicing) -> bool {
    arrangement
        .struck()
        .any(|(_, it)| it.moment == moment && it.voicing == *voicing)
}
