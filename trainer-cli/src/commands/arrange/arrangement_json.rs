//! The JSON of `neckline arrange`: stable, `"schema": 1`.

use fretlib::arranging::{Accompaniment, ArrangedNote, Barre, FingeredPlace, RestChord, UnderNote};
use fretlib::neck::Finger;
use fretlib::theory::Pitch;
use serde::Serialize;

use super::Arranged;
use crate::report::instrument_json::InstrumentJson;

/// The one object that is printed.
#[derive(Serialize)]
pub struct ArrangementDocument {
    schema: u8,
    instrument: InstrumentJson,
    notes: Vec<NoteJson>,
    in_rests: Vec<RestJson>,
    cost: f64,
}

#[derive(Serialize)]
struct RestJson {
    bar: u32,
    onset: String,
    duration: String,
    under: [VoicingJson; 1],
}

#[derive(Serialize)]
struct NoteJson {
    number: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    time: Option<u32>,
    bar: u32,
    pitch: String,
    octave: i8,
    duration: String,
    place: MelodyPlaceJson,
    under: Vec<VoicingJson>,
    bare: Option<&'static str>,
}

#[derive(Serialize)]
struct MelodyPlaceJson {
    string: u8,
    fret: u8,
    finger: u8,
    pitch: String,
    chord_degree: Option<String>,
    placed: Option<u8>,
}

#[derive(Serialize)]
struct VoicingJson {
    at: String,
    until: String,
    chord: String,
    places: Vec<UnderPlaceJson>,
    barre: Option<BarreJson>,
    omitted: Vec<String>,
    reach_mm: f64,
    anchors: Vec<u8>,
}

#[derive(Serialize)]
struct UnderPlaceJson {
    string: u8,
    fret: u8,
    finger: u8,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    thumb: bool,
    pitch: String,
    chord_degree: String,
    role: &'static str,
    placed: Option<u8>,
    held: bool,
}

#[derive(Serialize)]
struct BarreJson {
    fret: u8,
    from_string: u8,
    to_string: u8,
    finger: u8,
}

impl ArrangementDocument {
    /// The best arrangement.
    pub fn new(arranged: &Arranged) -> ArrangementDocument {
        let lattice = arranged.lattice;
        let instrument = lattice.arranger().instrument;
        let best = arranged.arrangements.first();
        ArrangementDocument {
            schema: 1,
            instrument: InstrumentJson::from(instrument),
            notes: best.map_or_else(Vec::new, |best| {
                let notes = best.notes.iter().enumerate();
                let first = notes.map(|(index, note)| note_json(arranged, index, note, None));
                first.chain(later(arranged)).collect()
            }),
            in_rests: best.map_or_else(Vec::new, |best| {
                let rests = best.in_rests.iter();
                rests.map(|rest| rest_json(arranged, rest)).collect()
            }),
            cost: best.map_or(0.0, |best| best.cost),
        }
    }
}

/// What sounds the later times of repeated strains with choices of their own.
fn later<'a>(arranged: &'a Arranged) -> impl Iterator<Item = NoteJson> + 'a {
    arranged.later_times.iter().flat_map(move |later| {
        let notes = later.notes.iter();
        notes.map(move |index| {
            let note = &later.arrangement.notes[*index];
            note_json(arranged, *index, note, Some(later.time))
        })
    })
}

fn rest_json(arranged: &Arranged, it: &RestChord) -> RestJson {
    let under = it.under.iter().map(|note| UnderPlaceJson {
        string: note.at.place.string.get(),
        fret: note.at.place.fret.get(),
        finger: finger(note.at),
        thumb: note.at.is_thumb(),
        pitch: note.pitch.to_string(),
        chord_degree: note.degree.to_string(),
        role: if note.is_bass() { "bass" } else { "inner" },
        placed: note.at.finger.map(|_| 1),
        held: false,
    });
    RestJson {
        bar: arranged.tune.melody.bar_at(it.onset).number,
        onset: it.onset.to_string(),
        duration: it.duration.to_string(),
        under: [VoicingJson {
            at: it.at.to_string(),
            until: it.until.to_string(),
            chord: it.chord.to_string(),
            places: under.collect(),
            barre: it.barre.map(barre_json),
            omitted: it.omitted.iter().map(ToString::to_string).collect(),
            reach_mm: tenths(it.reach_mm),
            anchors: Vec::new(),
        }],
    }
}

fn note_json(arranged: &Arranged, index: usize, it: &ArrangedNote, time: Option<u32>) -> NoteJson {
    let melody = &arranged.tune.melody;
    let note = melody.notes()[index];
    let chord = melody.chords().at(note.onset).copied().flatten();
    let placed = match it.under.first() {
        Some(first) => first.staging.melody,
        None => it.melody.finger.map(|_| 1),
    };
    NoteJson {
        number: index + 1,
        time,
        bar: melody.bar_at(note.onset).number,
        pitch: note.pitch.to_string(),
        octave: arranged.lattice.settings().octave.get(),
        duration: note.duration.to_string(),
        place: MelodyPlaceJson {
            string: it.melody.place.string.get(),
            fret: it.melody.place.fret.get(),
            finger: finger(it.melody),
            pitch: it.pitch.to_string(),
            chord_degree: chord.map(|chord| chord.degree(it.pitch.class()).to_string()),
            placed,
        },
        under: it
            .under
            .iter()
            .flat_map(Accompaniment::steps)
            .map(|under| voicing_json(arranged, &under))
            .collect(),
        bare: it.bare.map(|reason| reason.name()),
    }
}

fn voicing_json(arranged: &Arranged, it: &Accompaniment) -> VoicingJson {
    let voicing = &it.voicing;
    let reach = voicing.reach_mm(arranged.lattice.arranger().instrument);
    let places = voicing.under().iter().enumerate();
    VoicingJson {
        at: it.at.to_string(),
        until: it.until.to_string(),
        chord: it.chord.to_string(),
        places: places
            .map(|(index, note)| under_json(it, index, note))
            .collect(),
        barre: voicing.barre().map(barre_json),
        omitted: voicing.omitted().iter().map(ToString::to_string).collect(),
        reach_mm: tenths(reach),
        anchors: it
            .staging
            .anchors
            .iter()
            .copied()
            .map(Finger::get)
            .collect(),
    }
}

fn under_json(it: &Accompaniment, index: usize, note: &UnderNote) -> UnderPlaceJson {
    let is_bass = index == 0 && it.voicing.has_bass();
    let pitch: Pitch = note.pitch;
    UnderPlaceJson {
        string: note.at.place.string.get(),
        fret: note.at.place.fret.get(),
        finger: finger(note.at),
        thumb: note.at.is_thumb(),
        pitch: pitch.to_string(),
        chord_degree: note.degree.to_string(),
        role: if is_bass { "bass" } else { "inner" },
        placed: it.staging.placed.get(index).copied().flatten(),
        held: it.staging.held.get(index).copied().unwrap_or(false),
    }
}

fn barre_json(barre: Barre) -> BarreJson {
    BarreJson {
        fret: barre.fret,
        from_string: barre.from.get(),
        to_string: barre.to.get(),
        finger: barre.finger.get(),
    }
}

fn tenths(millimetres: f64) -> f64 {
    (10.0 * millimetres).round() / 10.0
}

fn finger(at: FingeredPlace) -> u8 {
    at.finger.map_or(0, Finger::get)
}
