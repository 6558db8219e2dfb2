//! The search compared with trying everything, where that is possible.

use std::collections::BTreeSet;

use super::{
    Arrangement, ArrangingSettings, ChordRole, ChordRoles, Density, Lattice, Style, Voicing,
    VoicingTerm,
};
use crate::arranging::few_bars::{medium_hand, tune};
use crate::melody::Melody;
use crate::neck::{Finger, Hand, Instrument, InstrumentSpec};

fn small(strings: &str, frets: u8) -> Instrument {
    let spec = InstrumentSpec {
        strings: strings
            .split(' ')
            .map(|name| name.parse().unwrap())
            .collect(),
        frets,
        ..Instrument::default().build().clone()
    };
    Instrument::new(spec).unwrap()
}

/// A fret and a finger on each string, string 1 first; no fret when it is silent, finger 0 when it is open.
type Held = Vec<Option<(u8, u8)>>;

fn held(voicing: &Voicing, strings: usize) -> Held {
    let mut held = vec![None; strings];
    for it in voicing.places() {
        let finger = it.finger.map_or(0, Finger::get);
        held[it.place.string.index()] = Some((it.place.fret.get(), finger));
    }
    held
}

/// Every combination on an instrument: each string silent, open or stopped with any finger.
fn everything(strings: usize, frets: u8) -> Vec<Held> {
    let mut choices = vec![None, Some((0, 0))];
    choices.extend((1..=frets).flat_map(|fret| (1..=4).map(move |finger| Some((fret, finger)))));
    (0..strings).fold(vec![Vec::new()], |all, _| {
        let with = |held: &Held| {
            let held = held.clone();
            choices
                .iter()
                .map(move |choice| [held.clone(), vec![*choice]].concat())
                .collect::<Vec<_>>()
        };
        all.iter().flat_map(with).collect()
    })
}

/// An independent version of the rules of the hand.
fn hand_can(held: &Held, instrument: &Instrument, hand: Hand) -> bool {
    let length = instrument.scale_length() * 2f64.powf(-f64::from(instrument.capo()) / 12.0);
    let at = |fret: u8| length * (1.0 - 2f64.powf(-f64::from(fret) / 12.0));
    let stopped: Vec<(usize, u8, u8)> = held
        .iter()
        .enumerate()
        .filter_map(|(string, it)| {
            it.filter(|(fret, _)| *fret > 0)
                .map(|(fret, finger)| (string, fret, finger))
        })
        .collect();
    let mut lying = BTreeSet::new();
    for (string, fret, finger) in &stopped {
        for (other_string, other_fret, other) in &stopped {
            if (string, fret) == (other_string, other_fret) {
                continue;
            }
            if finger == other {
                if fret != other_fret {
                    return false;
                }
                lying.insert(*finger);
            } else {
                let (one, two) = (Finger::new(*finger).unwrap(), Finger::new(*other).unwrap());
                if (at(*fret) - at(*other_fret)).abs() > hand.reach(one, two).1 {
                    return false;
                }
                // A higher fret takes a higher finger; on one fret the lower string takes the lower one.
                let before = (fret, std::cmp::Reverse(string))
                    < (other_fret, std::cmp::Reverse(other_string));
                if before != (finger < other) {
                    return false;
                }
            }
        }
    }
    if lying.len() > 1 {
        return false;
    }
    if let Some(finger) = lying.first() {
        let on: Vec<&(usize, u8, u8)> = stopped.iter().filter(|it| it.2 == *finger).collect();
        let (low, high, fret) = (on[0].0, on[on.len() - 1].0, on[0].1);
        let widest = [12, 2, 3, 2][usize::from(*finger) - 1];
        let blocked = held[low..=high]
            .iter()
            .flatten()
            .any(|(other, _)| *other < fret);
        if blocked || high - low + 1 > widest {
            return false;
        }
    }
    let mut down: Vec<(u8, u8)> = stopped
        .iter()
        .map(|(_, fret, finger)| (*finger, *fret))
        .collect();
    down.sort_unstable();
    down.dedup();
    let neighbours_fit = down.windows(2).all(|pair| {
        let (apart, frets) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        match frets {
            0 => apart == 1,
            _ => apart <= frets + 1 && (frets <= apart + 1 || apart == 3),
        }
    });
    let crowded = down
        .iter()
        .any(|(_, fret)| down.iter().filter(|it| it.1 == *fret).count() > 3);
    neighbours_fit && !crowded
}

/// An independent version of the rules of sound, for up to four notes plucked on any strings.
fn sounds_right(held: &Held, instrument: &Instrument, roles: &ChordRoles, melody: u8) -> bool {
    let root = roles.chord().root().chroma();
    let mut notes: Vec<u8> = held
        .iter()
        .zip(instrument.strings())
        .filter_map(|(it, open)| it.map(|(fret, _)| open.midi().get() + fret))
        .collect();
    notes.sort_unstable();
    if !(2..=4).contains(&notes.len()) || notes.last() != Some(&melody) {
        return false;
    }
    let above = |midi: u8| (midi % 12 + 12 - root) % 12;
    let role = |midi: u8| roles.at(above(midi)).map(|(role, _)| role);
    let under = &notes[..notes.len() - 1];
    let guides = (0..12).filter(|tone| {
        roles
            .at(*tone)
            .is_some_and(|(role, _)| role == ChordRole::Guide)
    });
    let mut guides: BTreeSet<u8> = guides.collect();
    let sounding: BTreeSet<u8> = notes.iter().map(|midi| above(*midi)).collect();
    if roles.takes_sixth(above(melody)) && sounding.contains(&9) {
        guides = BTreeSet::from([4, 9]);
    }
    let complete = guides.is_subset(&sounding);
    let fits = under.iter().all(|midi| match role(*midi) {
        None => false,
        Some(ChordRole::Tension) => complete || guides.contains(&above(*midi)),
        Some(_) => true,
    });
    let pairs =
        || (0..notes.len()).flat_map(|low| (low + 1..notes.len()).map(move |high| (low, high)));
    let clashes = pairs().any(|(low, high)| {
        let (low, high) = (notes[low], notes[high]);
        let doubled = above(low) == above(high)
            && !matches!(role(low), Some(ChordRole::Root | ChordRole::Fifth));
        let ninth =
            high - low > 1 && (high - low) % 12 == 1 && !(above(low) == 0 && roles.is_dominant());
        low == high || doubled || ninth
    });
    let muddy = super::voicings::is_muddy(i16::from(notes[0]) - 12, notes[1] - notes[0]);
    fits && !clashes && !muddy && melody - under[under.len() - 1] > 1
}

#[test]
fn every_voicing_is_found_and_none_that_breaks_a_rule() {
    let (strings, frets) = ("E5 B4 G4 D4", 4);
    let instrument = small(strings, frets);
    let all = everything(4, frets);
    for (chord, resolves, melodies) in [
        ("G7", true, "F5 G5 B4"),
        ("Cmaj7", false, "C5 E5"),
        ("Am7", false, "G5"),
    ] {
        let roles = ChordRoles::new(chord.parse().unwrap(), resolves);
        for melody in melodies.split(' ') {
            let melody: crate::theory::Pitch = melody.parse().unwrap();
            let right = |held: &&Held| sounds_right(held, &instrument, &roles, melody.midi().get());
            let expected: BTreeSet<&Held> = all
                .iter()
                .filter(right)
                .filter(|held| hand_can(held, &instrument, Hand::MEDIUM))
                .collect();
            let arranger = medium_hand(&instrument, Style::PLUCKED);
            let found: Vec<Held> = arranger
                .voicings(&roles, melody)
                .iter()
                .map(|it| held(it, 4))
                .collect();
            assert!(!expected.is_empty());
            assert_eq!(found.len(), expected.len(), "{chord} {melody}");
            assert_eq!(
                found.iter().collect::<BTreeSet<_>>(),
                expected,
                "{chord} {melody}"
            );
        }
    }
}

/// The cost of an arrangement, added up from its terms.
fn added_up(lattice: &Lattice, arrangement: &Arrangement) -> f64 {
    let weights = &lattice.settings().weights;
    arrangement
        .notes
        .iter()
        .map(|note| weights.cost(&note.amounts))
        .sum()
}

fn check_paths(melody: &Melody, style: Style, count: usize) {
    let instrument = small("E5 B4 G4 D4", 4);
    let arranger = medium_hand(&instrument, style);
    let settings = ArrangingSettings {
        density: Density::Sparse,
        ..ArrangingSettings::default()
    };
    let lattice = Lattice::new(arranger, melody, settings).unwrap();
    let counts: Vec<usize> = (0..lattice.moments().len())
        .map(|moment| lattice.voicings(moment).len())
        .collect();
    assert!(counts.iter().all(|count| *count > 1), "{counts:?}");
    let mut costs = Vec::new();
    for nth in 0..counts.iter().product() {
        let mut rest = nth;
        let chosen: Vec<&Voicing> = counts
            .iter()
            .enumerate()
            .map(|(moment, count)| {
                let voicing = &lattice.voicings(moment)[rest % count];
                rest /= count;
                voicing
            })
            .collect();
        let only = lattice
            .solve_where(1, |moment, voicing| voicing == chosen[moment], |_| false)
            .remove(0);
        // Two voicings under one note must hold the melody alike.
        if only.struck().count() == counts.len() {
            assert!((added_up(&lattice, &only) - only.cost).abs() < 1e-9);
            costs.push(only.cost);
        }
    }
    costs.sort_by(f64::total_cmp);
    let found = lattice.solve(count);
    assert_eq!(found.len(), count.min(costs.len()));
    for (found, cost) in found.iter().zip(&costs) {
        assert!(
            (found.cost - cost).abs() < 1e-9,
            "{} and {cost}",
            found.cost
        );
        assert!((added_up(&lattice, found) - found.cost).abs() < 1e-9);
    }
}

#[test]
fn no_path_costs_less_than_those_found() {
    let passing = tune(
        "C major",
        "(chords: \"Dm7 | G7 | C\", notes: \"F5 q E D C | B4 h G5 q F | C5 w\")",
    );
    check_paths(&passing, Style::TWO_VOICES, 5);
    let held = tune(
        "C major",
        "(chords: \"Dm7 G7 | C\", notes: \"F5 w | G5 h E\")",
    );
    check_paths(&held, Style::TWO_VOICES, 5);
    check_paths(
        &tune(
            "C major",
            "(chords: \"Dm7 | G7\", notes: \"C5 h A4 | F5 w\")",
        ),
        Style::SHELLS,
        3,
    );
}

#[test]
fn bare_notes_are_played_the_cheapest_way() {
    let melody = tune("C major", "(chords: \"-\", notes: \"G4 q B C5 E\")");
    let instrument = small("E5 B4 G4", 7);
    let arranger = medium_hand(&instrument, Style::PLUCKED);
    let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default()).unwrap();
    let run = lattice.bare_notes(None, None);
    let weights = lattice.settings().weights;
    let counts: Vec<usize> = run.steps.iter().map(|steps| steps.len()).collect();
    let mut least = f64::INFINITY;
    for nth in 0..counts.iter().product() {
        let (mut rest, mut cost) = (nth, 0.0);
        let mut before = None;
        for (note, steps) in run.steps.iter().enumerate() {
            let step = &steps[rest % counts[note]];
            rest /= counts[note];
            let mut add = |term: VoicingTerm, amount: f64| cost += weights.get(term) * amount;
            step.terms(before, &mut add);
            let before_position = before.map_or(0, |it: &super::bare_notes::BareStep| it.position);
            let moved = super::bare_notes::travel(&lattice.reaches, before_position, step.position);
            add(
                VoicingTerm::Travel,
                super::voicing_cost::hurry(run.seconds[note]) * moved,
            );
            before = Some(step);
        }
        least = least.min(cost);
    }
    assert!((lattice.solve(1)[0].cost - least).abs() < 1e-9);
}

#[test]
fn a_bass_rings_on_under_the_notes_that_follow_it() {
    let melody = tune("C major", "(chords: \"C\", notes: \"E5 q G E h\")");
    let guitar = Instrument::default();
    let arranger = medium_hand(&guitar, Style::BASS);
    let settings = ArrangingSettings {
        density: Density::Sparse,
        ..ArrangingSettings::default()
    };
    let lattice = Lattice::new(arranger, &melody, settings).unwrap();
    let best = lattice.solve(1).remove(0);
    let bass = best.notes[0].under[0].voicing.under()[0];
    assert_eq!(bass.pitch.class().to_string(), "C");
    assert!(best.notes[1].under[0].is_only_held());
    assert_eq!(best.notes[1].under[0].voicing.under(), [bass]);
    // The third beat is strong: there the bass is struck again.
    assert_eq!(best.struck().count(), 2);
}
