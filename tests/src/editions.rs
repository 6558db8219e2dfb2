//! Printed fingerings.

use std::collections::BTreeMap;
use std::ops::Range;

use fretlib::fingering::learn::{Weights, find_with_few_shifts};
use fretlib::fingering::{Constraints, Fingering, FingeringSearch, Player, TimedMelody};
use fretlib::melody::{Draft, Melody, Meter, Quarters, Tempo};
use fretlib::neck::{Finger, Fret, Hand, Instrument, Place, Position, StringNumber};
use fretlib::theory::{MidiNumber, Octave, Pitch};
use serde::Deserialize;

/// The print of one note.
#[derive(Clone, Copy, Debug, Default)]
pub struct Printed {
    /// String and fret, when they follow from what is printed.
    pub place: Option<Place>,
    /// False when the note has only one place on the neck, or its place is unknown.
    pub proves: bool,
    /// True when the place follows from marks at this very note.
    pub direct: bool,
    /// The finger, 0 for an open string.
    pub finger: Option<u8>,
    /// True when nothing is printed over a note of an open string, which in the studies means the open string.
    pub tacit_open: bool,
    /// The position mark in force.
    pub position: Option<u8>,
}

/// A staff of an edition, or part of one.
#[derive(Clone, Debug)]
pub struct Staff {
    /// Its work: weights are never tried on a work they were learned from.
    pub work: String,
    /// The notes.
    pub melody: Melody,
    /// The print, one for each note.
    pub printed: Vec<Printed>,
    /// The constraints known beforehand.
    pub constraints: Constraints,
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
    midi: MidiNumber,
    finger: Option<u8>,
    position_mark: Option<u8>,
    string: Option<u8>,
    fret: Option<u8>,
    place_from: Option<String>,
}

#[derive(Deserialize)]
struct FingersRow {
    id: String,
    meter: String,
    notes: Vec<FingersNote>,
}

#[derive(Deserialize)]
struct FingersNote {
    midi: MidiNumber,
    onset: String,
    dur: String,
    finger: Option<u8>,
}

/// A tempo for editions that print none, in quarter notes a minute.
const TEMPO: i64 = 100;

/// The player of all comparisons: a guitar in standard tuning, a medium hand.
pub fn player() -> Player<'static> {
    Player {
        instrument: Instrument::built_in("guitar").expect("a guitar is built in"),
        hand: Hand::MEDIUM,
    }
}

fn melody(notes: &[(Quarters, Quarters, MidiNumber)], meter: Option<Meter>) -> Melody {
    let mut draft = Draft::default();
    draft.meters.set(Quarters::from(0), meter);
    if let Some(meter) = meter {
        // No staff here begins with a pickup, so bars are counted from the start.
        draft.bars = (0..)
            .map(|bar| meter.bar_length() * bar)
            .take_while(|bar| notes.last().is_some_and(|last| *bar <= last.0))
            .collect();
    }
    for (onset, duration, midi) in notes {
        draft.rest(*onset - draft.now).expect("onsets rise");
        draft
            .note(Pitch::from_midi(*midi), *duration)
            .expect("a time on the grid");
    }
    let tempo = Tempo::new(Quarters::from(1), Quarters::from(TEMPO)).expect("a tempo in range");
    draft.tempos.set(Quarters::from(0), tempo);
    Melody::new(draft).expect("a melody")
}

/// The staves with at least 35 % of their places known, used for learning and measuring.
pub fn places() -> Vec<Staff> {
    let mut staves = staves();
    staves.retain(is_dense);
    staves
}

/// The staves with fewer places known: nearly all of those are open strings.
pub fn sparse() -> Vec<Staff> {
    let mut staves = staves();
    staves.retain(|staff| !is_dense(staff));
    staves
}

fn is_dense(staff: &Staff) -> bool {
    let placed = staff
        .printed
        .iter()
        .filter(|note| note.place.is_some())
        .count();
    100 * placed >= 35 * staff.printed.len()
}

/// All staves with places: of notes struck together the highest.
fn staves() -> Vec<Staff> {
    ["fingering_places.jsonl", "fingering_places_more.jsonl"]
        .into_iter()
        .flat_map(crate::json_lines::<PlacesRow>)
        .map(staff)
        .collect()
}

fn staff(row: PlacesRow) -> Staff {
    let grid = |time: f64| Quarters::new((time * 960.0).round() as i64, 960);
    let mut top: Vec<&PlacesNote> = Vec::new();
    for note in &row.notes {
        match top.last_mut() {
            Some(last) if last.t == note.t => {
                if note.midi > last.midi {
                    *last = note;
                }
            }
            _ => top.push(note),
        }
    }
    let notes: Vec<_> = top
        .iter()
        .enumerate()
        .map(|(index, note)| {
            let room = top.get(index + 1).map(|next| grid(next.t) - grid(note.t));
            let duration = room.map_or(grid(note.d), |room| room.min(grid(note.d)));
            // Guitar sounds an octave below what is written.
            let written = note.midi.transpose(12).expect("a note of a guitar");
            (grid(note.t), duration, written)
        })
        .collect();
    Staff {
        printed: top.iter().map(|note| printed(note)).collect(),
        melody: melody(&notes, None),
        work: row.work,
        constraints: Constraints::default(),
    }
}

fn printed(note: &PlacesNote) -> Printed {
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
}

/// The studies with fingers, each held to its position: no. 2 lies in I, no. 3 in II.
pub fn studies() -> Vec<Staff> {
    let time = |text: &str| {
        text.parse::<Quarters>()
            .expect("a fraction of a quarter note")
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
                let mut places = player().instrument.places_for(midi);
                places.any(|place| place.fret == Fret::OPEN)
            };
            let printed = |note: &FingersNote| Printed {
                finger: note.finger,
                tacit_open: note.finger.is_none() && open(note.midi),
                ..Printed::default()
            };
            let held = if row.id.ends_with('2') { 1 } else { 2 };
            Staff {
                printed: row.notes.iter().map(printed).collect(),
                melody: melody(&notes, Some(row.meter.parse().expect("a meter"))),
                work: row.id,
                constraints: Constraints::in_position(Position::new(held).expect("a position")),
            }
        })
        .collect()
}

#[derive(Deserialize)]
struct LeftOutRow {
    left_out: String,
    weights: BTreeMap<String, f64>,
}

/// For each work the weights learned from all others, as `examples/learn_fingering` wrote them.
///
/// # Panics
///
/// When a term has no weight there: the program must run again after the terms have changed.
pub fn left_out() -> Vec<(String, Weights)> {
    crate::json_lines::<LeftOutRow>("fingering_left_out.jsonl")
        .into_iter()
        .map(|row| {
            (
                row.left_out,
                Weights::named(|term| row.weights[term.name()]),
            )
        })
        .collect()
}

impl Staff {
    /// The melody with its times.
    pub fn line(&self) -> TimedMelody {
        TimedMelody::new(&self.melody, Octave::WRITTEN, None).expect("the notes are as written")
    }

    /// True for the studies, which stay in one position and only show fingers.
    pub fn is_held(&self) -> bool {
        self.constraints.positions.is_some()
    }

    /// The search for its fingering.
    pub fn search(&self) -> FingeringSearch<'static> {
        FingeringSearch {
            constraints: self.constraints.clone(),
            ..FingeringSearch::new(player())
        }
    }

    /// The fingering found with these weights.
    ///
    /// # Panics
    ///
    /// When there is none: the studies fit in their positions and the staves on a guitar.
    pub fn fingered(&self, weights: &Weights) -> Fingering {
        find_with_few_shifts(&self.search(), &self.line(), weights).expect("it can be played")
    }

    /// The staff with the first known place of every `every` notes pinned, counted from the note `first`; what is pinned proves
    /// nothing.
    #[must_use]
    pub fn pinned(&self, first: usize, every: usize) -> Staff {
        let mut staff = self.clone();
        let numbers: Vec<usize> = (0..self.printed.len()).collect();
        let (before, rest) = numbers.split_at(first.min(numbers.len()));
        for notes in std::iter::once(before).chain(rest.chunks(every)) {
            let known = |index: &usize| {
                self.printed[*index]
                    .place
                    .map(|place| (*index, place.into()))
            };
            if let Some((index, pin)) = notes.iter().find_map(known) {
                staff.constraints.pins.insert(index, pin);
                staff.printed[index].proves = false;
            }
        }
        staff
    }

    /// The same with the finger of every pin that the position mark in force gives one, each over its own fret.
    #[must_use]
    pub fn with_fingers(&self) -> Staff {
        let mut staff = self.clone();
        for (index, pin) in &mut staff.constraints.pins {
            let position = self.printed[*index].position;
            let position = position.and_then(|number| Position::new(number).ok());
            pin.finger = Finger::ALL.into_iter().find(|finger| {
                position.is_some_and(|position| position.fret(*finger) == pin.place.fret)
            });
        }
        staff
    }

    /// Some of its notes as a separate staff.
    #[must_use]
    pub fn stretch(&self, range: Range<usize>) -> Staff {
        let notes = &self.melody.notes()[range.clone()];
        let meter = self.melody.meters().first().copied().flatten();
        let begin = match meter {
            Some(_) => self.melody.bar_at(notes[0].onset).onset,
            None => notes[0].onset.floor(),
        };
        let notes: Vec<_> = notes
            .iter()
            .map(|note| (note.onset - begin, note.duration, note.pitch.midi()))
            .collect();
        let pins = self.constraints.pins.range(range.clone());
        Staff {
            work: self.work.clone(),
            melody: melody(&notes, meter),
            printed: self.printed[range.clone()].to_vec(),
            constraints: Constraints {
                pins: pins
                    .map(|(index, place)| (index - range.start, *place))
                    .collect(),
                ..self.constraints.clone()
            },
        }
    }
}
