//! Printed fingerings: reading them, learning weights from them, and comparing with them.

use fretlib::mapping::fingering::{
    Aim, Fingering, Limits, Line, Player, Step, Term, Weights, explain, find, find_leaning,
};
use fretlib::melody::{Draft, Melody, Quarters, Tempo};
use fretlib::neck::{Finger, Fret, Hand, Instrument, Place, Position, StringNumber};
use fretlib::theory::{Letter, Pitch};
use serde::Deserialize;

/// What an editor printed for one note.
#[derive(Clone, Copy, Debug, Default)]
pub struct Printed {
    /// String and fret, when they follow from what is printed.
    pub place: Option<Place>,
    /// False when the note has only one place on the neck, or its place does not follow.
    pub proves: bool,
    /// True when the place follows from marks at this very note.
    pub direct: bool,
    /// The finger, 0 for an open string.
    pub finger: Option<u8>,
    /// True when nothing is printed over a note that an open string gives: in the studies that means the open string.
    pub tacit_open: bool,
    /// The position mark in force.
    pub position: Option<u8>,
}

/// A staff of an edition, or a stretch of one.
#[derive(Clone, Debug)]
pub struct Staff {
    /// The work it belongs to: weights are never learned and tried on one work.
    pub work: String,
    /// The notes.
    pub melody: Melody,
    /// What is printed, one for each note.
    pub printed: Vec<Printed>,
    /// What is known beforehand.
    pub limits: Limits,
}

#[derive(Deserialize)]
struct PlacesRow {
    work: String,
    notes: Vec<PlacesNote>,
}

#[derive(Deserialize)]
struct PlacesNote {
    t: f64,
    d: f64,
    midi: u8,
    finger: Option<u8>,
    position_mark: Option<u8>,
    string: Option<u8>,
    fret: Option<u8>,
    place_from: Option<String>,
}

#[derive(Deserialize)]
struct FingersRow {
    id: String,
    notes: Vec<FingersNote>,
}

#[derive(Deserialize)]
struct FingersNote {
    midi: u8,
    onset: String,
    dur: String,
    finger: Option<u8>,
}

/// A tempo for editions that print none, in quarter notes a minute.
const TEMPO: i64 = 100;

/// The player whom all comparisons assume: a guitar in standard tuning, a medium hand.
pub fn player() -> Player<'static> {
    Player {
        instrument: Instrument::built_in("guitar").expect("a guitar is built in"),
        hand: Hand::MEDIUM,
    }
}

fn melody(notes: &[(Quarters, Quarters, u8)]) -> Melody {
    let mut draft = Draft::default();
    for (onset, duration, midi) in notes {
        draft.rest(*onset - draft.now).expect("onsets rise");
        draft
            .note(sharp(*midi), *duration)
            .expect("a time on the grid");
    }
    let tempo = Tempo::new(Quarters::from(1), Quarters::from(TEMPO)).expect("a tempo in range");
    draft.tempos.set(Quarters::from(0), tempo);
    Melody::new(draft).expect("a melody")
}

/// The pitch with this MIDI number, spelled with a sharp if need be: fingers do not read spelling.
fn sharp(midi: u8) -> Pitch {
    const LETTERS: [(Letter, i8); 12] = [
        (Letter::C, 0),
        (Letter::C, 1),
        (Letter::D, 0),
        (Letter::D, 1),
        (Letter::E, 0),
        (Letter::F, 0),
        (Letter::F, 1),
        (Letter::G, 0),
        (Letter::G, 1),
        (Letter::A, 0),
        (Letter::A, 1),
        (Letter::B, 0),
    ];
    let (letter, alteration) = LETTERS[usize::from(midi % 12)];
    Pitch::new(letter, alteration, (midi / 12) as i8 - 1).expect("a MIDI number")
}

/// The staves with places. Where notes are struck together they are spread over the time of the chord.
pub fn places() -> Vec<Staff> {
    let grid = |time: f64| Quarters::new((time * 960.0).round() as i64, 960);
    crate::json_lines::<PlacesRow>("fingering_places.jsonl")
        .into_iter()
        .map(|row| {
            let starts: Vec<Quarters> = row.notes.iter().map(|note| grid(note.t)).collect();
            let mut notes = Vec::new();
            let mut first = 0;
            while first < starts.len() {
                let together = starts[first..]
                    .iter()
                    .take_while(|start| **start == starts[first])
                    .count();
                let room = starts
                    .get(first + together)
                    .map(|next| *next - starts[first]);
                for (index, note) in row.notes[first..first + together].iter().enumerate() {
                    let duration =
                        room.map_or(grid(note.d), |room| room.min(grid(note.d))) / together as i64;
                    // Guitar sounds an octave below what is written.
                    notes.push((
                        starts[first] + duration * index as i64,
                        duration,
                        note.midi + 12,
                    ));
                }
                first += together;
            }
            let printed = row.notes.iter().map(|note| {
                let from = note.place_from.as_deref().unwrap_or_default();
                let place = note.string.zip(note.fret).map(|(string, fret)| Place {
                    string: StringNumber::new(string).expect("a string"),
                    fret: Fret::new(fret).expect("a fret"),
                });
                Printed {
                    place,
                    proves: place.is_some() && from != "only place on the neck",
                    direct: matches!(
                        from,
                        "string number printed" | "position mark + finger" | "open (finger 0)"
                    ),
                    finger: note.finger,
                    tacit_open: false,
                    position: note.position_mark,
                }
            });
            Staff {
                printed: printed.collect(),
                melody: melody(&notes),
                work: row.work,
                limits: Limits::default(),
            }
        })
        .collect()
}

/// The studies with fingers, each held to its position: no. 2 lies in I, no. 3 in II.
pub fn studies() -> Vec<Staff> {
    let time = |text: &str| {
        let (numer, denom) = text.split_once('/').unwrap_or((text, "1"));
        Quarters::new(
            numer.parse().expect("a number"),
            denom.parse().expect("a number"),
        )
    };
    crate::json_lines::<FingersRow>("fingering_fingers.jsonl")
        .into_iter()
        .map(|row| {
            let notes: Vec<_> = row
                .notes
                .iter()
                .map(|note| (time(&note.onset), time(&note.dur), note.midi))
                .collect();
            let open = |midi| {
                player()
                    .instrument
                    .places_for(midi)
                    .any(|place| place.fret == Fret::OPEN)
            };
            let printed = |note: &FingersNote| Printed {
                finger: note.finger,
                tacit_open: note.finger.is_none() && open(note.midi),
                ..Printed::default()
            };
            let held =
                Position::new(if row.id.ends_with('2') { 1 } else { 2 }).expect("a position");
            Staff {
                printed: row.notes.iter().map(printed).collect(),
                melody: melody(&notes),
                work: row.id,
                limits: Limits {
                    positions: Some(held..=held),
                    ..Limits::default()
                },
            }
        })
        .collect()
}

impl Staff {
    /// The melody as a hand meets it.
    pub fn line(&self) -> Line {
        Line::new(&self.melody, 0, None).expect("the notes are as written")
    }

    /// What is found with these weights.
    pub fn fingered(&self, weights: &Weights) -> Fingering {
        find(
            &player(),
            &self.line(),
            weights,
            &self.limits,
            Aim::Least,
            1,
        )
        .expect("the studies lie in their positions and the staves on a guitar")
        .remove(0)
    }

    /// The staff cut into phrases of about `length` notes, for learning.
    fn stretches(&self, length: usize) -> Vec<Staff> {
        let all = self.melody.notes();
        let cut = |first: usize| {
            let last = (first + length).min(all.len());
            let notes: Vec<_> = all[first..last]
                .iter()
                .map(|note| {
                    (
                        note.onset - all[first].onset.floor(),
                        note.duration,
                        note.pitch.midi(),
                    )
                })
                .collect();
            Staff {
                work: self.work.clone(),
                melody: melody(&notes),
                printed: self.printed[first..last].to_vec(),
                limits: self.limits.clone(),
            }
        };
        (0..all.len()).step_by(length).map(cut).collect()
    }
}

/// How a learner goes about it.
#[derive(Clone, Copy, Debug)]
pub struct Lesson {
    /// How often every phrase is looked at.
    pub rounds: usize,
    /// How much cheaper the editor's way should come out for every note that another way places elsewhere.
    pub margin: f64,
    /// The first step of a weight.
    pub step: f64,
    /// How many notes make a phrase.
    pub phrase: usize,
    /// How many times over the studies are looked at in a round.
    pub studies: usize,
}

impl Lesson {
    /// What the shipped weights were learned with.
    pub const SHIPPED: Lesson = Lesson {
        rounds: 40,
        margin: 3.0,
        step: 0.05,
        phrase: 64,
        studies: 3,
    };
}

fn disagreement(printed: &Printed, step: &Step) -> (f64, f64) {
    let place = printed.proves && printed.place != Some(step.place);
    let finger = printed
        .finger
        .or(printed.tacit_open.then_some(0))
        .is_some_and(|finger| finger != step.finger.map_or(0, Finger::get));
    (f64::from(u8::from(place)), f64::from(u8::from(finger)))
}

/// Learns weights so that the editor's way comes out cheaper than every other by a margin.
///
/// For each phrase, the cheapest way that keeps to the print is set against the cheapest way when mistakes are made
/// attractive; every weight moves by the difference of its term. The mean over all moves is what is learned.
/// Source: structured learning with a margin (Taskar, Guestrin, Koller 2003; Collins 2002 for the mean).
pub fn learn(staves: &[&Staff], lesson: Lesson) -> Weights {
    let player = player();
    let mut phrases: Vec<(Staff, Line)> = staves
        .iter()
        .flat_map(|staff| {
            // The studies are few beside the staves, and alone in telling of fingers near the nut.
            let times = if staff.limits.positions.is_some() {
                lesson.studies
            } else {
                1
            };
            (0..times).flat_map(|_| staff.stretches(lesson.phrase))
        })
        .map(|staff| {
            let line = staff.line();
            (staff, line)
        })
        .collect();
    let mut weights = Weights::even();
    let mut sums = vec![0.0; Term::ALL.len()];
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
            let held = staff.limits.positions.is_some();
            let kept = |index: usize, step: &Step| {
                let printed = &staff.printed[index];
                let (place, finger) = disagreement(printed, step);
                let other = printed.place.is_some_and(|place| place != step.place);
                let position = printed
                    .position
                    .map_or(0, |it| it.abs_diff(step.position.get()).min(4));
                100.0 * place.max(f64::from(u8::from(other)))
                    + finger * if held { 100.0 } else { 0.7 }
                    + 0.5 * f64::from(position)
            };
            let tempted = |index: usize, step: &Step| {
                let (place, finger) = disagreement(&staff.printed[index], step);
                -lesson.margin * if held { finger } else { place }
            };
            let sums_of = |leaning: &dyn Fn(usize, &Step) -> f64| {
                let found = find_leaning(&player, line, &weights, &staff.limits, leaning)?;
                let notes = explain(&player, line, &found.steps)?;
                Some(
                    (0..Term::ALL.len())
                        .map(|term| notes.iter().map(|note| note[term]).sum::<f64>())
                        .collect::<Vec<_>>(),
                )
            };
            let (Some(editor), Some(other)) = (sums_of(&kept), sums_of(&tempted)) else {
                continue;
            };
            for (index, term) in Term::ALL.iter().enumerate() {
                let change = pace * (other[index] - editor[index]);
                weights = weights.with(*term, weights.get(*term) + change);
            }
            for (sum, term) in sums.iter_mut().zip(Term::ALL) {
                *sum += weights.get(*term);
            }
            moves += 1.0;
        }
    }
    Term::ALL
        .iter()
        .zip(sums)
        .fold(Weights::even(), |weights, (term, sum)| {
            weights.with(*term, sum / moves)
        })
}

/// Agreement with print, counted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Agreement {
    /// Notes whose place proves something, and those placed alike.
    pub places: (usize, usize),
    /// Those with marks of their own.
    pub direct: (usize, usize),
    /// Printed fingers.
    pub fingers: (usize, usize),
    /// Position marks, within one fret.
    pub positions: (usize, usize),
    /// Notes and shifts.
    pub shifts: (usize, usize),
    /// The longest way of the hand between two notes in mm.
    pub hardest: f64,
    /// Fingerings in which some finger cannot reach.
    pub beyond: usize,
}

impl Agreement {
    /// Counts a fingering in.
    pub fn add(&mut self, staff: &Staff, steps: &[Step]) {
        let count = |pair: &mut (usize, usize), hit: bool| {
            pair.0 += 1;
            pair.1 += usize::from(hit);
        };
        let player = player();
        let nut = |position: Position| {
            position
                .fret(Finger::First)
                .distance_from_nut(player.instrument.scale_length())
        };
        for (index, (printed, step)) in staff.printed.iter().zip(steps).enumerate() {
            if printed.proves {
                count(&mut self.places, printed.place == Some(step.place));
                if printed.direct {
                    count(&mut self.direct, printed.place == Some(step.place));
                }
            }
            if let Some(finger) = printed.finger {
                count(
                    &mut self.fingers,
                    finger == step.finger.map_or(0, Finger::get),
                );
            }
            if let Some(position) = printed.position {
                count(
                    &mut self.positions,
                    position.abs_diff(step.position.get()) <= 1,
                );
            }
            let before = steps[index.saturating_sub(1)].position;
            count(&mut self.shifts, before != step.position);
            self.hardest = self.hardest.max((nut(before) - nut(step.position)).abs());
        }
        self.beyond += usize::from(explain(&player, &staff.line(), steps).is_none());
    }

    /// A share in percent.
    pub fn percent((all, hits): (usize, usize)) -> f64 {
        100.0 * hits as f64 / all.max(1) as f64
    }
}

impl std::fmt::Display for Agreement {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = Agreement::percent;
        write!(
            f,
            "{:5} {:6.1} {:6.1} {:7.1} {:9.1} {:10.1} {:11.0} {:7}",
            self.places.0,
            percent(self.places),
            percent(self.direct),
            percent(self.fingers),
            percent(self.positions),
            percent(self.shifts),
            self.hardest,
            self.beyond
        )
    }
}

/// What the columns of [`Agreement`] are.
pub const HEADING: &str = "notes  place direct  finger  pos. ±1 shifts/100 longest mm  beyond";
