//! The progress as JSON. Exact keys: programs read them.

use fretlib::practice::Standing;
use serde::{Serialize, Serializer};

use super::coverage::Coverage;
use crate::history::{Cell, Progress, SlipBy, TuneProgress, count_standing};
use crate::terminal::clock::date_of;

#[derive(Serialize)]
pub struct ProgressDocument<'a> {
    schema: u8,
    reviews: u64,
    tunes: Vec<TuneFigures<'a>>,
    days: Vec<DayCount>,
    slips: Vec<SlipCount<'a>>,
}

#[derive(Serialize)]
struct TuneFigures<'a> {
    id: String,
    title: &'a str,
    instrument: &'a str,
    arguments: Vec<String>,
    holds: usize,
    fades: usize,
    untouched: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hands: Option<HandFigures>,
    cells: Cells<'a>,
    tempos: Vec<TempoFigures<'a>>,
}

/// The phrases that were played, as they were heard.
#[derive(Serialize)]
struct HandFigures {
    holds: usize,
    fades: usize,
    untouched: Option<usize>,
}

#[derive(Serialize)]
struct TempoFigures<'a> {
    phrase: u32,
    bars: Option<&'a str>,
    held_percent: u16,
}

/// The items of a tune, whose figures are made while they are written.
struct Cells<'a> {
    cells: &'a [Cell],
    coverage: Option<&'a Coverage>,
}

impl Serialize for Cells<'_> {
    fn serialize<R: Serializer>(&self, serializer: R) -> Result<R::Ok, R::Error> {
        let cells = self.cells.iter();
        serializer.collect_seq(cells.map(|cell| CellFigures::new(cell, self.coverage)))
    }
}

#[derive(Serialize)]
struct CellFigures<'a> {
    phrase: u32,
    kind: &'static str,
    position: Option<u8>,
    octave: Option<i8>,
    asked: u32,
    right: u32,
    median_seconds: f64,
    stability_days: f32,
    recall: f64,
    standing: &'static str,
    bars: Option<&'a str>,
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

impl<'a> ProgressDocument<'a> {
    pub fn new(progress: &'a Progress, coverages: &'a [Option<Coverage>]) -> ProgressDocument<'a> {
        let tunes = progress
            .tunes
            .iter()
            .zip(coverages)
            .map(|(tune, coverage)| TuneFigures {
                holds: count_standing(tune.asked(), Standing::Holds),
                fades: count_standing(tune.asked(), Standing::Fades),
                untouched: coverage
                    .as_ref()
                    .map(|it| it.items().saturating_sub(tune.asked().count())),
                hands: HandFigures::new(tune, coverage.as_ref()),
                id: tune.tune.id.to_string(),
                title: &tune.tune.title,
                instrument: &tune.instrument,
                arguments: tune.tune.as_typed(),
                cells: Cells {
                    cells: &tune.cells,
                    coverage: coverage.as_ref(),
                },
                tempos: {
                    let tempos = tune.tempos.iter();
                    tempos
                        .map(|(phrase, percent)| TempoFigures {
                            phrase: phrase + 1,
                            bars: bars_of(coverage.as_ref(), *phrase),
                            held_percent: *percent,
                        })
                        .collect()
                },
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
        ProgressDocument {
            schema: 1,
            reviews: progress.reviews,
            tunes: tunes.collect(),
            days: days.collect(),
            slips: slips.collect(),
        }
    }
}

/// The bars of a phrase, such as `1-4`; none where the tune is not there to be counted.
fn bars_of(coverage: Option<&Coverage>, phrase: u32) -> Option<&str> {
    let bars = coverage?.bars.get(phrase as usize)?;
    bars.rsplit(' ').next()
}

/// The name of the kind of slip.
pub fn by_name(by: SlipBy) -> &'static str {
    match by {
        SlipBy::Degree => "degree",
        SlipBy::Interval => "interval",
        SlipBy::String => "string",
    }
}

impl HandFigures {
    /// `None` where nothing was played.
    fn new(tune: &TuneProgress, coverage: Option<&Coverage>) -> Option<HandFigures> {
        let played = tune.played().count();
        (played > 0).then(|| HandFigures {
            holds: count_standing(tune.played(), Standing::Holds),
            fades: count_standing(tune.played(), Standing::Fades),
            untouched: coverage.map(|it| it.played.len().saturating_sub(played)),
        })
    }
}

impl<'a> CellFigures<'a> {
    fn new(cell: &Cell, coverage: Option<&'a Coverage>) -> CellFigures<'a> {
        CellFigures {
            phrase: cell.item.phrase + 1,
            kind: cell.item.kind.name(),
            position: cell
                .item
                .placement
                .map(|placement| placement.position.get()),
            octave: cell.item.placement.map(|placement| placement.octave.get()),
            asked: cell.asked,
            right: cell.right,
            median_seconds: cell.median_seconds,
            stability_days: cell.stability,
            recall: (cell.recall * 10_000.0).round() / 10_000.0,
            standing: cell.standing.name(),
            bars: bars_of(coverage, cell.item.phrase),
        }
    }
}
