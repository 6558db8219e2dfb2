//! The progress as JSON. Exact keys: programs read them.

use serde::Serialize;

use crate::history::{Cell, Progress, SlipBy};
use crate::terminal::clock::date_of;

#[derive(Serialize)]
pub struct Document<'a> {
    schema: u8,
    reviews: u64,
    tunes: Vec<Tune<'a>>,
    days: Vec<DayCount>,
    slips: Vec<SlipCount<'a>>,
}

#[derive(Serialize)]
struct Tune<'a> {
    id: String,
    title: &'a str,
    instrument: &'a str,
    arguments: Vec<String>,
    cells: Vec<CellFigures>,
}

#[derive(Serialize)]
struct CellFigures {
    phrase: u32,
    kind: &'static str,
    position: Option<u8>,
    octave: Option<i8>,
    asked: u32,
    right: u32,
    median_seconds: f64,
    stability_days: f32,
    recall: f64,
}

#[derive(Serialize)]
struct DayCount {
    date: String,
    asked: u32,
    right: u32,
}

#[derive(Serialize)]
struct SlipCount<'a> {
    by: &'static str,
    what: &'a str,
    asked: u32,
    wrong: u32,
}

impl<'a> Document<'a> {
    pub fn new(progress: &'a Progress) -> Document<'a> {
        let tunes = progress.tunes.iter().map(|tune| Tune {
            id: tune.tune.id.to_string(),
            title: &tune.tune.title,
            instrument: &tune.instrument,
            arguments: tune.tune.as_typed(),
            cells: tune.cells.iter().map(CellFigures::new).collect(),
        });
        let days = progress.days.iter().map(|day| DayCount {
            date: date_of(day.day),
            asked: day.asked,
            right: day.right,
        });
        let slips = progress.slips.iter().map(|slip| SlipCount {
            by: by_name(slip.by),
            what: &slip.what,
            asked: slip.asked,
            wrong: slip.wrong,
        });
        Document {
            schema: 1,
            reviews: progress.reviews,
            tunes: tunes.collect(),
            days: days.collect(),
            slips: slips.collect(),
        }
    }
}

/// The word for what a slip is counted by.
pub fn by_name(by: SlipBy) -> &'static str {
    match by {
        SlipBy::Degree => "degree",
        SlipBy::Interval => "interval",
        SlipBy::String => "string",
    }
}

impl CellFigures {
    fn new(cell: &Cell) -> CellFigures {
        CellFigures {
            phrase: cell.item.phrase + 1,
            kind: cell.item.kind.name(),
            position: cell.item.spot.map(|spot| spot.position.get()),
            octave: cell.item.spot.map(|spot| spot.octave.get()),
            asked: cell.asked,
            right: cell.right,
            median_seconds: cell.median_seconds,
            stability_days: cell.stability,
            recall: (cell.recall * 10_000.0).round() / 10_000.0,
        }
    }
}
