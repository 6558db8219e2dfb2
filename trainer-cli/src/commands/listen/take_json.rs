//! The JSON of `neckline listen`; its keys are a promise, see docs/json.md.

use fretlib::hearing::{HeardPass, JudgedNote, NoteVerdict, StruckNote, Take};
use serde::Serialize;

use crate::report::json::rounded;

/// The whole document.
#[derive(Serialize)]
pub struct TakeDocument {
    schema: u32,
    /// Quarter notes a minute.
    tempo: Option<f64>,
    tuning_cents: f64,
    notes: Vec<TakeNote>,
    extra: Vec<Extra>,
    passes: Vec<Pass>,
}

#[derive(Serialize)]
struct TakeNote {
    number: usize,
    #[serde(skip_serializing_if = "is_first")]
    time: u32,
    verdict: &'static str,
    heard_midi: Option<u8>,
    onset_seconds: Option<f64>,
    offset_ms: Option<i64>,
    level_db: Option<f64>,
    break_ms: Option<i64>,
    sure: bool,
}

#[derive(Serialize)]
struct Extra {
    onset_seconds: f64,
    midi: u8,
}

#[derive(Serialize)]
struct Pass {
    bars: String,
    right: bool,
    tempo: Option<f64>,
}

impl TakeDocument {
    /// What is printed of a take.
    pub fn new(take: &Take, tuning_cents: f32) -> TakeDocument {
        TakeDocument {
            schema: 1,
            tempo: take.tempo.map(|it| rounded(it, 1)),
            tuning_cents: rounded(tuning_cents.into(), 1),
            notes: take.notes().map(note).collect(),
            extra: take.extra.iter().map(extra).collect(),
            passes: take.passes.iter().map(pass).collect(),
        }
    }
}

/// The word for a verdict.
fn word(verdict: NoteVerdict) -> &'static str {
    match verdict {
        NoteVerdict::Right => "right",
        NoteVerdict::Wrong => "wrong",
        NoteVerdict::Missing => "missing",
        NoteVerdict::Early => "early",
        NoteVerdict::Late => "late",
    }
}

fn note(it: &JudgedNote) -> TakeNote {
    let milliseconds = |seconds: f64| (1000.0 * seconds).round() as i64;
    TakeNote {
        number: it.index + 1,
        time: it.time,
        verdict: word(it.verdict),
        heard_midi: it.heard.map(|heard| heard.pitch.get()),
        onset_seconds: it.heard.map(|heard| rounded(heard.onset, 4)),
        offset_ms: it.offset().map(milliseconds),
        level_db: it.heard.map(|heard| rounded(heard.level_db.into(), 1)),
        break_ms: it.heard.map(|_| milliseconds(it.break_after)),
        sure: it.sure,
    }
}

fn extra(it: &StruckNote) -> Extra {
    Extra {
        onset_seconds: rounded(it.onset, 4),
        midi: it.pitch.get(),
    }
}

fn pass(it: &HeardPass) -> Pass {
    Pass {
        bars: it.bars_in_words(),
        right: it.is_right(),
        tempo: it.tempo.map(|tempo| rounded(tempo, 1)),
    }
}

fn is_first(time: &u32) -> bool {
    *time == 1
}
