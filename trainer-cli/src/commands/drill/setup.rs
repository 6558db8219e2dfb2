//! From options to a session.

use std::ops::RangeInclusive;

use fretlib::mapping::{NeckMap, OpenStrings, Placement};
use fretlib::melody::{Melody, phrases};
use fretlib::neck::{Instrument, Position};
use fretlib::practice::{Aim, Kind, Material, Spot};

use super::QuestionArgs;
use super::reopen::arguments;
use crate::args::{DataArgs, InstrumentArgs, TuneArgs};
use crate::failure::Failure;
use crate::history::History;
use crate::instrument::instrument;
use crate::session::{Deck, Plan, Session};
use crate::streams::Streams;
use crate::tune::tune;

/// The plan of a session.
pub fn plan(args: &QuestionArgs) -> Plan {
    Plan {
        kinds: if args.kinds.is_empty() {
            Kind::ALL.to_vec()
        } else {
            args.kinds.clone()
        },
        aim: Aim {
            new_items: args.new,
            mix: args.mix,
            ..Aim::default()
        },
        random: args.seed.is_some() && args.now.is_none(),
        seed: args.seed.unwrap_or_else(rand::random),
    }
}

/// A session over these tunes, with the history unless it is not wanted.
pub fn session(
    decks: Vec<Deck>,
    plan: &Plan,
    questions: &QuestionArgs,
    data: &DataArgs,
) -> Result<Session, Failure> {
    let history = if questions.no_history {
        None
    } else {
        Some(History::open(&data.folder()?))
    };
    Session::new(decks, plan, history).map_err(|error| {
        Failure::could_not(
            error.to_string(),
            "ask for other kinds or positions, or see `neckline map` for where the tune lies",
        )
    })
}

/// What part of a tune and of the neck is asked about.
#[derive(Clone, Debug, Default)]
pub struct Part {
    /// The positions.
    pub positions: Option<RangeInclusive<Position>>,
    /// The phrases, counted from 1.
    pub phrases: Option<RangeInclusive<u32>>,
}

/// The tune of the options, with the spots where it lies whole; when it lies whole nowhere, all spots with some of it.
pub fn deck(
    tune_args: &TuneArgs,
    instrument_args: &InstrumentArgs,
    part: &Part,
    streams: &mut Streams,
) -> Result<Deck, Failure> {
    let instrument = instrument(instrument_args)?;
    // Phrases and memories are those of the whole tune, whichever bars are asked about.
    let whole_args = TuneArgs {
        bars: None,
        ..tune_args.clone()
    };
    let whole = tune(&whole_args, streams)?;
    let played = match &tune_args.bars {
        None => whole.melody.clone(),
        Some(_) => tune(tune_args, streams)?.melody,
    };
    let spots = spots(&played, &instrument, part.positions.as_ref(), streams)?;
    let phrases = phrases(&whole.melody);
    let material = Material::new(whole.melody.clone(), whole.key, &phrases, instrument, spots);
    let bars = tune_args.bars.as_ref();
    let wanted: Vec<usize> = (0..material.notes().len())
        .filter(|note| bars.is_none_or(|bars| bars.contains(&material.notes()[*note].bar)))
        .filter(|note| {
            let phrase = material.phrase_of(*note) as u32 + 1;
            part.phrases
                .as_ref()
                .is_none_or(|phrases| phrases.contains(&phrase))
        })
        .collect();
    let count = material.phrases().len();
    let range = wanted.first().zip(wanted.last());
    let material = range
        .and_then(|(first, last)| material.only(*first..*last + 1))
        .ok_or_else(|| {
            Failure::usage(
                "no note is left to ask about",
                format!("the tune has phrases 1 to {count}; `neckline map` shows its bars"),
            )
        })?;
    let arguments = arguments(&whole_args, instrument_args);
    Ok(Deck::new(material, &whole.melody, arguments))
}

/// Where the melody lies whole, the easiest first: fewest stretches, nearest to the written octave, lowest.
fn spots(
    melody: &Melody,
    instrument: &Instrument,
    positions: Option<&RangeInclusive<Position>>,
    streams: &mut Streams,
) -> Result<Vec<Spot>, Failure> {
    let map = NeckMap::new(melody, instrument, OpenStrings::FirstPosition);
    let wanted = |it: &&Placement| positions.is_none_or(|range| range.contains(&it.position));
    let mut placements: Vec<&Placement> = map.placements().iter().filter(wanted).collect();
    if placements.is_empty() {
        return Err(Failure::could_not(
            "the tune is nowhere on the neck in those positions",
            "`neckline map` shows where it lies, and what would help",
        ));
    }
    if placements.iter().any(|it| it.is_whole()) {
        placements.retain(|it| it.is_whole());
    } else {
        let tune = match melody.title() {
            "" => "the tune".to_owned(),
            title => format!("“{title}”"),
        };
        writeln!(
            streams.stderr,
            "note: no position there holds the whole of {tune}; questions are about the notes that each one holds"
        )?;
        placements.sort_by_key(|it| it.missing.len());
    }
    placements.sort_by_key(|it| {
        (
            it.missing.len(),
            it.stretches(),
            it.octave.distance(),
            it.position,
        )
    });
    let spots = placements.iter().map(|it| Spot {
        position: it.position,
        octave: it.octave,
    });
    Ok(spots.collect())
}
