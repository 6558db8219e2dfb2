//! `neckline sheet`: the page for the music stand.

mod bound_set;
mod every_tune;
mod paper_exercises;
mod prepared_sheet;
mod sheet_file;

use std::collections::BTreeMap;
use std::io::Write;
use std::ops::RangeInclusive;
use std::path::PathBuf;

use fretlib::fingering::Player;
use fretlib::practice::{PlacementKey, TuneId};
use fretlib::sheet::{Answers, Paper, Part, pages};

use jiff::civil::DateTime;

use self::prepared_sheet::{PreparedSheet, SheetPlayer};
use self::sheet_file::{write_html, write_pages};
use crate::commands::arrange::AsArranged;
use crate::commands::listen::JudgedTake;
use crate::failure::Failure;
use crate::history::{History, Progress};
use crate::output::Existing;
use crate::practice_sets::ShortName;
use crate::request::{
    HandRequest, HistoryFolder, InstrumentRequest, PlacementRequest, TuneOnInstrument, TuneRequest,
};
use crate::terminal::{Clock, Streams};

pub use sheet_file::SheetFormat;

/// What to put on paper, and where.
#[derive(Debug)]
pub struct SheetRequest {
    /// Whether a tune, a set, or every tune of a folder.
    pub source: SheetSource,
    /// The file to write, or the folder for all of a folder.
    pub output: PathBuf,
    /// What is done about files that are there.
    pub existing: Existing,
    /// The size of the paper.
    pub paper: Paper,
    /// What is on the sheet.
    pub parts: Vec<Part>,
    /// Whether it is set as it is arranged, with what lies under the melody.
    pub arranged: AsArranged,
    /// A recording of the player, whose faults are marked.
    pub take: Option<PathBuf>,
    /// How many bars go on a line.
    pub bars_per_line: Option<usize>,
    /// The phrases whose order of notes is written on the necks, counted from 1.
    pub phrases: Option<RangeInclusive<u32>>,
    /// Whether it is an exercise.
    pub answers: Answers,
    /// Which quiz.
    pub seed: u64,
    /// Put the weakest positions first, by the practice history.
    pub from_progress: bool,
    /// The time to take for the present.
    pub now: Option<DateTime>,
    /// The placements on the sheet, and the one in the tablature.
    pub placement: PlacementRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
    /// Where the history is.
    pub folder: HistoryFolder,
}

impl SheetRequest {
    /// Whether the tablature shows the fingering kept with the tune, where there is one.
    fn shows_own(&self) -> bool {
        !self.placement.is_picked() && self.placement.positions.is_none() && !self.from_progress
    }
}

/// What is set on paper.
#[derive(Clone, Debug)]
pub enum SheetSource {
    /// One tune.
    Tune,
    /// The tunes of a set, bound together.
    Set(ShortName),
    /// Every tune of a folder or a tune book, a file each, in this format.
    Every(SheetFormat),
}

/// Writes the sheet, or the sheets.
pub fn run(request: &SheetRequest, streams: &mut Streams) -> Result<(), Failure> {
    let format = match &request.source {
        SheetSource::Every(format) => return every_tune::run(request, format.if_built()?, streams),
        _ => SheetFormat::of(&request.output)?,
    };
    if let SheetSource::Set(name) = &request.source {
        return bound_set::run(request, name, format, streams);
    }
    let tune = TuneOnInstrument {
        tune: request.tune.clone(),
        instrument: request.instrument.clone(),
    };
    let sheet = prepared(request, &tune, streams)?;
    let title = sheet.title();
    let written = sheet.with(request, |sheet| match format {
        SheetFormat::Html => {
            write_html(sheet, request.paper, &request.output, request.existing)?;
            Ok(vec![request.output.clone()])
        }
        _ => {
            let pages = pages(sheet, request.paper);
            write_pages(pages, title, format, &request.output, request.existing)
        }
    })?;
    for path in written {
        writeln!(streams.stdout, "{}", path.display())?;
    }
    Ok(())
}

/// Opens a tune and makes it ready to be set on paper.
fn prepared(
    request: &SheetRequest,
    tune: &TuneOnInstrument,
    streams: &mut Streams,
) -> Result<PreparedSheet, Failure> {
    let instrument = tune.instrument.open()?;
    let opened = tune.tune.open(streams)?;
    let player = SheetPlayer {
        hand: request.hand.open(streams)?,
        open_strings: request.hand.open_strings(streams)?,
        preference: request.hand.preference(streams)?,
        recalls: match request.from_progress {
            true => recalls(request, &tune.tune, instrument.name(), streams)?,
            false => None,
        },
    };
    let arranged =
        request
            .arranged
            .arrange(&opened, &tune.tune, &instrument, player.hand, streams)?;
    let take = match &request.take {
        Some(take) => Some(JudgedTake::of(take, &opened, arranged.as_ref(), streams)?),
        None => None,
    };
    let own = match arranged.is_none() && request.shows_own() {
        true => {
            let player = Player {
                instrument: &instrument,
                hand: player.hand,
            };
            tune.tune.own_fingering(&opened, player, streams)?
        }
        false => None,
    };
    let (sheet, remarks) = PreparedSheet::new(opened, instrument, own, request, &player)?;
    for remark in remarks {
        writeln!(streams.stderr, "note: {remark}")?;
    }
    let sheet = match arranged {
        Some(arranged) => sheet.arranged(arranged),
        None => sheet,
    };
    Ok(match take {
        Some(take) => sheet.with_take(&take),
        None => sheet,
    })
}

/// How likely each placement of a tune is to be played right now; `None` without any history.
fn recalls(
    request: &SheetRequest,
    tune: &TuneRequest,
    instrument: &str,
    streams: &mut Streams,
) -> Result<Option<BTreeMap<PlacementKey, f64>>, Failure> {
    // The history identifies a tune by all its bars, whichever are on the sheet.
    let id = TuneId::of(&tune.whole().open(streams)?.melody);
    let now = Clock::from_option(request.now)?.now();
    let progress = match History::open_to_read(&request.folder.path()?)? {
        Some(history) => history.progress(&history.model()?, now, Some(id))?,
        None => Progress::default(),
    };
    let tune = progress
        .tunes
        .iter()
        .find(|it| it.tune.id == id && it.instrument == instrument);
    let Some(tune) = tune else {
        writeln!(
            streams.stderr,
            "note: the history has nothing of this tune on the {instrument}; `neckline drill` begins it"
        )?;
        return Ok(None);
    };
    let mut recalls: BTreeMap<PlacementKey, Vec<f64>> = BTreeMap::new();
    for ((_, placement), recall) in tune.grid(&BTreeMap::new()) {
        if let Some(placement) = placement {
            recalls.entry(placement).or_default().push(recall);
        }
    }
    let mean = |all: Vec<f64>| all.iter().sum::<f64>() / all.len() as f64;
    let recalls = recalls.into_iter();
    Ok(Some(recalls.map(|(key, all)| (key, mean(all))).collect()))
}
