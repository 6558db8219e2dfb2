//! `neckline shelf`: the tunes of a folder, ranked by difficulty with the reasons in words.

use std::io::Write;
use std::path::PathBuf;

use fretlib::fingering::Player;
use fretlib::format::settings_ron::Settings;
use fretlib::mapping::NeckMap;
use fretlib::neck::{Position, PositionSet};
use fretlib::practice::{Difficulty, DifficultyMeasure, DifficultyRank, rank_difficulties};
use fretlib::theory::Key;
use rayon::prelude::*;
use serde::Serialize;

use crate::failure::Failure;
use crate::input::settings::settings;
use crate::input::tune_collection::{CollectedTune, tunes_of};
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::progress_bar::progress_bar;
use crate::report::wrap::wrap;
use crate::request::{HandRequest, InstrumentRequest, TuneRequest};
use crate::terminal::Streams;

/// Which folder, and which of its tunes.
#[derive(Debug)]
pub struct ShelfRequest {
    /// A folder or a tune book.
    pub folder: PathBuf,
    /// Only tunes in this key.
    pub key: Option<Key>,
    /// Only tunes that lie whole in one of these positions, as written.
    pub positions: Option<PositionSet>,
    /// Only tunes slower than this, in quarter notes a minute.
    pub under: Option<f64>,
    /// Print one JSON object a line.
    pub json: bool,
    /// The player's hand.
    pub hand: HandRequest,
    /// The instrument.
    pub instrument: InstrumentRequest,
}

/// A tune of the shelf.
struct ShelfTune {
    name: String,
    title: String,
    key: Key,
    /// Quarter notes a minute.
    tempo: f64,
    /// The easiest position as written.
    position: Option<Position>,
    /// Whether it passes the filters.
    is_wanted: bool,
    /// `None` when no fingering is found.
    difficulty: Option<Difficulty>,
}

/// Reads every tune on all cores, and prints those that pass the filters, the easiest first.
///
/// The percentiles are those of the whole shelf, whatever is shown.
pub fn run(request: &ShelfRequest, streams: &mut Streams) -> Result<(), Failure> {
    let hand = request.hand.open(streams)?;
    let settings = settings(request.hand.settings.as_deref(), streams)?;
    let instrument = request.instrument.open()?;
    let jobs = tunes_of(&request.folder)?;
    let progress = progress_bar(jobs.len(), streams.ascii);
    let read: Vec<Result<ShelfTune, Failure>> = jobs
        .par_iter()
        .map(|job| {
            let tune = read(
                job,
                request,
                &settings,
                Player {
                    instrument: &instrument,
                    hand,
                },
            );
            progress.inc(1);
            tune
        })
        .collect();
    progress.finish_and_clear();
    let mut tunes = Vec::new();
    let mut failed = 0;
    for tune in read {
        match tune {
            Ok(tune) => tunes.push(tune),
            Err(failure) => {
                failed += 1;
                failure.report(streams)?;
                writeln!(streams.stderr)?;
            }
        }
    }
    let measured: Vec<Difficulty> = tunes.iter().filter_map(|tune| tune.difficulty).collect();
    let mut ranks = rank_difficulties(&measured).into_iter();
    let mut ranked: Vec<(&ShelfTune, Option<DifficultyRank>)> = tunes
        .iter()
        .map(|tune| (tune, tune.difficulty.and_then(|_| ranks.next())))
        .filter(|(tune, _)| tune.is_wanted)
        .collect();
    // Tunes without a fingering come last.
    let score = |rank: &Option<DifficultyRank>| rank.map_or(f64::INFINITY, |rank| rank.score);
    ranked.sort_by(|(one, first), (other, second)| {
        score(first)
            .total_cmp(&score(second))
            .then_with(|| one.name.cmp(&other.name))
    });
    if request.json {
        for (tune, rank) in &ranked {
            let line = serde_json::to_string(&ShelfLine::new(tune, rank.as_ref()))
                .map_err(std::io::Error::from)?;
            writeln!(streams.stdout, "{line}")?;
        }
    } else {
        page(&ranked, tunes.len(), streams)?;
    }
    match failed {
        0 => Ok(()),
        _ => {
            streams.stdout.flush()?;
            Err(Failure::could_not(
                format!("{} could not be read", count(failed, "tune")),
                "see the errors above",
            ))
        }
    }
}

fn page(
    ranked: &[(&ShelfTune, Option<DifficultyRank>)],
    all: usize,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let width = streams.width;
    let out = &mut streams.stdout;
    writeln!(
        out,
        "{} of {}, the easiest first",
        ranked.len(),
        count(all, "tune")
    )?;
    for (number, (tune, rank)) in (1..).zip(ranked) {
        let position = match tune.position {
            Some(position) => format!("position {position}"),
            None => "in no one position".into(),
        };
        let title = title_or_untitled(&tune.title);
        let line = format!("{title}, {}, {:.0} bpm, {position}", tune.key, tune.tempo);
        for (index, part) in wrap(&line, width.saturating_sub(6)).iter().enumerate() {
            match index {
                0 => writeln!(out, "{number:>4}  {part}")?,
                _ => writeln!(out, "      {part}")?,
            }
        }
        let reasons = match rank {
            Some(rank) => {
                let reasons = rank
                    .reasons
                    .iter()
                    .filter(|(_, percentile)| *percentile > 0.0);
                let names: Vec<&str> = reasons.map(|(reason, _)| reason.name()).collect();
                match names.is_empty() {
                    true => "nothing in it is harder than elsewhere".into(),
                    false => names.join(", "),
                }
            }
            None => "no fingering was found".into(),
        };
        for part in wrap(
            &format!("{} · {reasons}", tune.name),
            width.saturating_sub(6),
        ) {
            writeln!(out, "      {part}")?;
        }
    }
    if !ranked.is_empty() {
        let note = "Each tune's place is the mean of its three highest percentiles within this folder; the reasons are those \
                    three, the strongest first.";
        writeln!(out)?;
        for part in wrap(note, width) {
            writeln!(out, "{part}")?;
        }
    }
    Ok(())
}

fn read(
    job: &CollectedTune,
    request: &ShelfRequest,
    settings: &Settings,
    player: Player<'_>,
) -> Result<ShelfTune, Failure> {
    let (tune, _) = job.read(&TuneRequest::default())?;
    let open_strings = settings.open_strings.unwrap_or_default();
    let map = NeckMap::new(&tune.melody, player.instrument, open_strings);
    let as_written = || map.whole().filter(|it| it.octave.get() == 0);
    let best = as_written().min_by_key(|it| it.ease(settings.preference));
    let lies_there =
        |wanted: &PositionSet| as_written().any(|placement| wanted.contains(placement.position));
    let tempo = tune.melody.first_tempo().quarters_per_minute().to_f64();
    let is_wanted = request.key.is_none_or(|key| key == tune.key)
        && request.positions.as_ref().is_none_or(lies_there)
        && request.under.is_none_or(|under| tempo < under);
    Ok(ShelfTune {
        name: job.name.clone(),
        title: tune.melody.title().to_string(),
        key: tune.key,
        tempo,
        position: best.map(|it| it.position),
        is_wanted,
        difficulty: Difficulty::of(&tune.melody, tune.key, player),
    })
}

#[derive(Serialize)]
struct ShelfLine<'a> {
    schema: u8,
    name: &'a str,
    title: &'a str,
    key: String,
    tempo: f64,
    position: Option<u8>,
    score: Option<f64>,
    reasons: Vec<Reason>,
}

#[derive(Serialize)]
struct Reason {
    measure: &'static str,
    percentile: f64,
    value: f64,
}

impl<'a> ShelfLine<'a> {
    fn new(tune: &'a ShelfTune, rank: Option<&DifficultyRank>) -> ShelfLine<'a> {
        let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
        let value = |measure: DifficultyMeasure| {
            let all = DifficultyMeasure::ALL
                .iter()
                .zip(tune.difficulty.iter().flat_map(|it| it.values));
            let mut of_measure = all
                .filter(|(it, _)| **it == measure)
                .map(|(_, value)| value);
            of_measure.next().unwrap_or_default()
        };
        let reasons = rank.into_iter().flat_map(|rank| rank.reasons);
        ShelfLine {
            schema: 1,
            name: &tune.name,
            title: &tune.title,
            key: tune.key.to_string(),
            tempo: rounded(tune.tempo),
            position: tune.position.map(Position::get),
            score: rank.map(|rank| rounded(rank.score)),
            reasons: reasons
                .map(|(measure, percentile)| Reason {
                    measure: measure.name(),
                    percentile: rounded(percentile),
                    value: rounded(value(measure)),
                })
                .collect(),
        }
    }
}
