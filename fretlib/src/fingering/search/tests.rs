//! The search compared with trying everything.

use std::collections::{BTreeMap, HashMap};

use quickcheck::{Arbitrary, Gen, QuickCheck};

use super::super::known_fingerings::held;
use super::*;
use crate::mapping::OpenStrings;
use crate::melody::{Draft, Melody, Quarters, Tempo};
use crate::neck::{Hand, Instrument, InstrumentSpec, Position, StringNumber};
use crate::theory::{MidiNumber, Octave, Pitch};

fn instrument(strings: &str, frets: u8, scale_length: f64) -> Instrument {
    let strings = strings
        .split(' ')
        .map(|name| name.parse().unwrap())
        .collect();
    Instrument::new(InstrumentSpec {
        name: "test".into(),
        strings,
        frets,
        capo: 0,
        scale_length,
        sounding: "P1".parse().unwrap(),
        program: 25,
    })
    .unwrap()
}

fn midi(number: u8) -> MidiNumber {
    MidiNumber::new(number).unwrap()
}

fn line(notes: &[(u8, i64, bool)], beats_a_minute: i64) -> TimedMelody {
    let mut draft = Draft::default();
    for (number, eighths, rest) in notes {
        if *rest {
            draft.rest(Quarters::new(1, 2)).unwrap();
        }
        draft
            .note(Pitch::from_midi(midi(*number)), Quarters::new(*eighths, 2))
            .unwrap();
    }
    let tempo = Tempo::new(Quarters::from(1), Quarters::from(beats_a_minute)).unwrap();
    TimedMelody::new(&Melody::new(draft).unwrap(), Octave::WRITTEN, Some(tempo)).unwrap()
}

/// The cost of every note of a fingering.
fn moments(
    search: &FingeringSearch,
    line: &TimedMelody,
    notes: &[FingeredNote],
) -> Option<Vec<f64>> {
    let costs = search.breakdown(line, notes)?;
    Some(costs.iter().map(TermCosts::total).collect())
}

fn search<'a>(
    player: Player<'a>,
    constraints: &Constraints,
    objective: Objective,
    count: usize,
) -> FingeringSearch<'a> {
    FingeringSearch {
        constraints: constraints.clone(),
        objective,
        count,
        ..FingeringSearch::new(player)
    }
}

#[derive(Clone, Debug)]
struct Case {
    tuning: usize,
    notes: Vec<(u8, i64, bool)>,
    tempo: i64,
    constraints: [Option<u8>; 7],
    home: Option<(u8, u8)>,
    /// A second pin.
    pin: Option<u8>,
    hand: usize,
}

const TUNINGS: [(&str, u8, f64); 6] = [
    ("E5 B4 G4 D4 A3 E3", 9, 648.0),
    ("E5 B4 G4 D4 A3 D3", 8, 648.0),
    ("G3 D3 A2 E2", 10, 864.0),
    ("A4 E4 C4 G4", 10, 350.0),
    ("E5 A4 D4 G3", 10, 330.0),
    ("D5 B4 G4 D4 G3 D3", 7, 648.0),
];

impl Arbitrary for Case {
    fn arbitrary(g: &mut Gen) -> Case {
        let tuning = usize::arbitrary(g) % TUNINGS.len();
        let instrument = Case::neck(tuning);
        let (low, high) = instrument.midi_range();
        let (low, high) = (low.get(), high.get());
        let notes = (0..1 + usize::arbitrary(g) % 4)
            .map(|_| {
                (
                    low + u8::arbitrary(g) % (high - low + 1),
                    1 + i64::from(u8::arbitrary(g) % 4),
                    bool::arbitrary(g),
                )
            })
            .collect();
        let constraints =
            std::array::from_fn(|_| (u8::arbitrary(g) % 4 == 0).then(|| u8::arbitrary(g)));
        Case {
            tuning,
            notes,
            tempo: 40 + i64::from(u8::arbitrary(g) % 200),
            constraints,
            home: Option::arbitrary(g),
            pin: None,
            hand: usize::arbitrary(g) % 3,
        }
    }
}

impl Case {
    fn neck(tuning: usize) -> Instrument {
        let (strings, frets, scale_length) = TUNINGS[tuning];
        instrument(strings, frets, scale_length)
    }

    /// A home for some of the notes, in half of the cases.
    fn homes(&self) -> Vec<(Range<usize>, Home)> {
        let home = self.home.map(|(first, position)| {
            let first = usize::from(first) % self.notes.len();
            let at = Position::new(1 + position % 12).unwrap();
            let home = match position % 24 < 12 {
                true => Home::at(at),
                false => Home::about(at),
            };
            (first..self.notes.len(), home)
        });
        home.into_iter().collect()
    }

    fn constraints(&self, instrument: &Instrument) -> Constraints {
        let highest = instrument.highest_fret().get() - 3;
        let count = instrument.strings().len() as u8;
        let position = |number: u8| Position::new(1 + number % highest).unwrap();
        let [positions, strings, start, end, no_open, shifts, pin] = self.constraints;
        let mut pins = BTreeMap::new();
        for number in pin.into_iter().chain(self.pin) {
            let index = usize::from(number) % self.notes.len();
            let places: Vec<_> = instrument.places_for(midi(self.notes[index].0)).collect();
            if !places.is_empty() {
                pins.insert(index, places[usize::from(number) % places.len()].into());
            }
        }
        Constraints {
            positions: positions.map(|it| {
                let last = Position::new((1 + it % highest + it / 64).min(highest)).unwrap();
                (position(it)..=last).into()
            }),
            strings: strings.map(|it| {
                let strings = 1 + it % count..=(1 + it % count + it / 128).min(count);
                strings
                    .map(|string| StringNumber::new(string).unwrap())
                    .collect()
            }),
            start: start.map(position),
            end: end.map(position),
            open_strings: match no_open {
                None => OpenStrings::Anywhere,
                Some(number) if number % 2 == 0 => OpenStrings::FirstPosition,
                Some(_) => OpenStrings::Nowhere,
            },
            max_shifts: shifts.map(|it| it % 3),
            pins,
        }
    }
}

/// Every possible fingering, with the costs of its notes.
fn everything(search: &FingeringSearch, line: &TimedMelody) -> Vec<(Vec<FingeredNote>, Vec<f64>)> {
    let FingeringSearch {
        player,
        constraints,
        ..
    } = search;
    let last = line.notes().len() - 1;
    let mut fingerings: Vec<Vec<FingeredNote>> = vec![Vec::new()];
    for (index, note) in line.notes().iter().enumerate() {
        let asked = constraints.at(index, last);
        let mut candidates = player.candidates(note.pitch.midi());
        candidates.retain(|it| {
            constraints.allow_anywhere(it) && asked.is_none_or(|asked| asked.allow(it))
        });
        let longer = |fingering: &Vec<FingeredNote>| -> Vec<Vec<FingeredNote>> {
            let with = |it: &FingeredNote| [&fingering[..], &[*it]].concat();
            candidates.iter().map(with).collect()
        };
        fingerings = fingerings.iter().flat_map(longer).collect();
    }
    fingerings.retain(|notes| {
        let pairs = notes.windows(2);
        let shifts = pairs
            .filter(|pair| pair[0].position != pair[1].position)
            .count();
        constraints
            .max_shifts
            .is_none_or(|most| shifts <= most.into())
    });
    fingerings
        .into_iter()
        .filter_map(|notes| moments(search, line, &notes).map(|costs| (notes, costs)))
        .collect()
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() < 1e-6
}

fn agrees(case: Case) -> bool {
    let neck = Case::neck(case.tuning);
    let player = Player {
        instrument: &neck,
        hand: [Hand::SMALL, Hand::MEDIUM, Hand::LARGE][case.hand],
    };
    // Three notes with all their candidates are some hundred thousand fingerings; a fourth note is added only when
    // there are few candidates.
    let mut notes = case.notes.clone();
    let ways = |notes: &[(u8, i64, bool)]| -> usize {
        notes
            .iter()
            .map(|note| player.candidates(midi(note.0)).len())
            .product()
    };
    while notes.len() > 1 && ways(&notes) > 60_000 {
        notes.pop();
    }
    let mut constraints = case.constraints(&neck);
    constraints.pins.retain(|index, _| *index < notes.len());
    let line = line(&notes, case.tempo);
    let search = FingeringSearch {
        homes: case.homes(),
        ..search(player, &constraints, Objective::MinimizeSum, 1)
    };
    let all = everything(&search, &line);
    let find = |objective, count| {
        let search = FingeringSearch {
            objective,
            count,
            ..search.clone()
        };
        search.run(&line)
    };
    let found = find(Objective::MinimizeSum, 3);
    // A single fingering is found by another path through the code, which tries fewer shifts.
    let one = find(Objective::MinimizeSum, 1);
    let peak = find(Objective::MinimizeMax, 1);
    let (Ok(found), Ok(one), Ok(peak)) = (found, one, peak) else {
        return all.is_empty();
    };
    let total = |costs: &[f64]| costs.iter().sum::<f64>();
    // The `count` best over different places.
    let mut by_places: HashMap<Vec<u8>, f64> = HashMap::new();
    for (notes, costs) in &all {
        let strings = notes.iter().map(|note| note.place.string.get()).collect();
        let best = by_places.entry(strings).or_insert(f64::INFINITY);
        *best = best.min(total(costs));
    }
    let mut best: Vec<f64> = by_places.into_values().collect();
    best.sort_by(f64::total_cmp);
    best.truncate(3);
    let same = best.len() == found.len()
        && best
            .iter()
            .zip(&found)
            .all(|(cost, fingering)| near(*cost, fingering.cost));
    let told = found.iter().chain(&one).all(|fingering| {
        moments(&search, &line, &fingering.notes)
            .is_some_and(|costs| near(total(&costs), fingering.cost))
    });
    let hardest = |costs: &[f64]| costs.iter().copied().fold(f64::MIN, f64::max);
    let lowest = all
        .iter()
        .map(|(_, costs)| hardest(costs))
        .fold(f64::INFINITY, f64::min);
    let cheapest = all
        .iter()
        .filter(|(_, costs)| hardest(costs) <= lowest + 1e-9)
        .map(|(_, costs)| total(costs))
        .fold(f64::INFINITY, f64::min);
    same && told && near(best[0], one[0].cost) && near(cheapest, peak[0].cost)
}

#[test]
fn nothing_is_cheaper_than_what_the_search_finds() {
    QuickCheck::new()
        .tests(250)
        .quickcheck(agrees as fn(Case) -> bool);
}

/// With several pins and pitches that come again, so that pins tell about other notes.
#[test]
fn nothing_is_cheaper_beside_pins() {
    fn law(mut case: Case, few: u8, pins: (u8, u8)) -> bool {
        let pitches: Vec<u8> = case.notes.iter().map(|note| note.0).collect();
        let few = 1 + usize::from(few) % 2;
        for (index, note) in case.notes.iter_mut().enumerate() {
            note.0 = pitches[index % few.min(pitches.len())];
        }
        case.constraints[4] = None;
        case.constraints[6] = Some(pins.0);
        agrees(case.clone())
            && agrees(Case {
                pin: Some(pins.1),
                ..case
            })
    }
    QuickCheck::new()
        .tests(60)
        .quickcheck(law as fn(Case, u8, (u8, u8)) -> bool);
}

/// Steps and thirds up and down from the middle, so that notes return soon and the state of the hand matters.
fn wander(neck: &Instrument, seeds: &[(u8, u8, bool)]) -> Vec<(u8, i64, bool)> {
    let (low, high) = neck.midi_range();
    let (low, high) = (low.get(), high.get());
    let mut midi = low + (high - low) / 2;
    std::iter::once(&(0, 1, false))
        .chain(seeds)
        .map(|(leap, eighths, rest)| {
            midi = (midi + leap % 9).saturating_sub(4).clamp(low, high);
            (midi, 1 + i64::from(eighths % 3), *rest && eighths % 4 == 0)
        })
        .collect()
}

/// On melodies too long to try everything, both paths through the search must agree.
#[test]
fn one_fingering_alone_is_the_first_of_three() {
    fn law(tuning: usize, seeds: Vec<(u8, u8, bool)>, tempo: u8) -> bool {
        let neck = Case::neck(tuning % TUNINGS.len());
        let player = Player {
            instrument: &neck,
            hand: Hand::MEDIUM,
        };
        let line = line(&wander(&neck, &seeds), 40 + i64::from(tempo));
        let ask = |count| {
            let search = search(
                player,
                &Constraints::default(),
                Objective::MinimizeSum,
                count,
            );
            search.run(&line).unwrap()[0].cost
        };
        near(ask(1), ask(3))
    }
    QuickCheck::new()
        .tests(100)
        .quickcheck(law as fn(usize, Vec<(u8, u8, bool)>, u8) -> bool);
}

/// However a line is divided, its parts together cost what the whole costs, and the first note that no path reaches is the
/// same. With few notes before a part, or none, the parts do not meet and are searched again.
#[test]
fn parts_of_a_line_are_fingered_as_the_whole() {
    fn law(case: Case, seeds: Vec<(u8, u8, bool)>, part: u8, lead_in: u8) -> bool {
        let neck = Case::neck(case.tuning);
        let player = Player {
            instrument: &neck,
            hand: Hand::MEDIUM,
        };
        let case = Case {
            notes: wander(&neck, &seeds),
            ..case
        };
        let line = line(&case.notes, case.tempo);
        let constraints = Constraints {
            max_shifts: None,
            ..case.constraints(&neck)
        };
        let search = FingeringSearch {
            homes: case.homes(),
            ..search(player, &constraints, Objective::MinimizeSum, 1)
        };
        let weights = Weights::default();
        let inner = Search::new(&search, &line, &weights, None);
        let division = Division {
            part: 1 + usize::from(part) % 24,
            lead_in: usize::from(lead_in) % 24,
        };
        let whole = inner.walk(Criterion::CHEAPEST, None).map(|it| it.best());
        match (whole, inner.cheapest_in_parts(division)) {
            (Ok(whole), Ok(parts)) => {
                let told = moments(&search, &line, &parts.notes);
                near(whole[0].cost, parts.cost)
                    && told.is_some_and(|costs| near(costs.iter().sum(), parts.cost))
            }
            (Err(whole), Err(parts)) => whole == parts,
            _ => false,
        }
    }
    QuickCheck::new()
        .tests(200)
        .quickcheck(law as fn(Case, Vec<(u8, u8, bool)>, u8, u8) -> bool);
}

fn guitar() -> Instrument {
    instrument("E5 B4 G4 D4 A3 E3", 22, 648.0)
}

#[test]
fn a_note_without_fingering_is_named_with_what_would_make_it_playable() {
    let neck = guitar();
    let player = Player {
        instrument: &neck,
        hand: Hand::MEDIUM,
    };
    let run = |line: &TimedMelody, constraints: &Constraints| {
        let found = search(player, constraints, Objective::MinimizeSum, 1).run(line);
        found.unwrap_err()
    };
    let melody = line(&[(53, 2, false), (88, 2, false)], 100);
    let stuck = run(&melody, &held(1));
    assert_eq!(
        (stuck.index, &stuck.relaxations[..]),
        (1, &[Relaxation::Positions][..])
    );
    assert_eq!(
        stuck.to_string(),
        "note 2 (E6) cannot be played with these constraints"
    );
    let fixed = Constraints {
        max_shifts: Some(0),
        ..Constraints::default()
    };
    assert_eq!(run(&melody, &fixed).index, 1);
    let neither = Constraints {
        max_shifts: Some(0),
        ..held(1)
    };
    assert!(run(&melody, &neither).relaxations.is_empty());
    let below = line(&[(30, 2, false)], 100);
    let stuck = run(&below, &Constraints::default());
    assert_eq!((stuck.index, stuck.relaxations.len()), (0, 0));
}
