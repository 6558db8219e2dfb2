//! Printed fingerings.

use fretlib::fingering::learn::{Weights, find_biased};
use fretlib::fingering::{Constraints, Fingering, Player, TimedMelody};
use fretlib::melody::{Draft, Melody, Meter, Quarters, Tempo};
use fretlib::neck::{Fret, Hand, Instrument, Place, Position, StringNumber};
use fretlib::theory::{MidiNumber, Octave, Pitch};
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

/// The player whom all comparisons assume: a guitar in standard tuning, a medium hand.
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
                        note.midi.transpose(12).expect("a note of a guitar"),
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
                melody: melody(&notes, None),
                work: row.work,
                constraints: Constraints::default(),
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
                melody: melody(&notes, Some(row.meter.parse().expect("a meter"))),
                work: row.id,
                constraints: Constraints::in_position(held),
            }
        })
        .collect()
}

impl Staff {
    /// The melody as a hand meets it.
    pub fn line(&self) -> TimedMelody {
        TimedMelody::new(&self.melody, Octave::WRITTEN, None).expect("the notes are as written")
    }

    /// True for the studies, which are held to one position and tell of fingers alone.
    pub fn is_held(&self) -> bool {
        self.constraints.positions.is_some()
    }

    /// What is found with these weights.
    pub fn fingered(&self, weights: &Weights) -> Fingering {
        find_biased(
            &player(),
            &self.line(),
            weights,
            &self.constraints,
            &|_, _| 0.0,
        )
        .expect("the studies lie in their positions and the staves on a guitar")
    }

    /// The staff cut into phrases of about `length` notes, for learning.
    pub fn stretches(&self, length: usize) -> Vec<Staff> {
        let all = self.melody.notes();
        let meter = self.melody.meters().first().copied().flatten();
        let cut = |first: usize| {
            let last = (first + length).min(all.len());
            let begin = match meter {
                Some(_) => self.melody.bar_at(all[first].onset).onset,
                None => all[first].onset.floor(),
            };
            let notes: Vec<_> = all[first..last]
                .iter()
                .map(|note| (note.onset - begin, note.duration, note.pitch.midi()))
                .collect();
            Staff {
                work: self.work.clone(),
                melody: melody(&notes, meter),
                printed: self.printed[first..last].to_vec(),
                constraints: self.constraints.clone(),
            }
        };
        (0..all.len()).step_by(length).map(cut).collect()
    }
}
