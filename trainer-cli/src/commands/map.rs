//! `neckline map`: where a melody lies on the neck.

mod json;
mod page;

use std::io::Write;
use std::ops::RangeInclusive;

use fretlib::mapping::{NeckMap, OpenStrings, Placement};
use fretlib::melody::{AnalysedNote, analyse};
use fretlib::neck::{Instrument, Position};
use fretlib::theory::Pitch;

use crate::args::{self, InstrumentArgs, TuneArgs};
use crate::failure::Failure;
use crate::instrument::instrument;
use crate::paint;
use crate::streams::Streams;
use crate::tune::{Tune, tune};

/// Show where a melody lies on the neck, position by position and octave by octave.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The page shows the notes outside the scale, a table of positions by octave, and one placement drawn: the best one, or the
one picked with --position and --octave. On the neck and under the tablature notes stand as degrees: [1] is the tonic,
*#4 a note outside the scale, ^7 a raised degree of a minor key, ~6 a stretch.

Examples:
  neckline map                                    the first built-in tune
  neckline map tune.abc --position V --octave +1
  neckline map tune.ron --to-key Ab --bars 1-8
  neckline map tune.ron --tuning \"D A D G B E\" --capo 2
  neckline map tune.ron --json")]
pub struct Map {
    #[command(flatten)]
    pub tune: TuneArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,

    /// The position to draw, such as V or 5 [default: the best]
    #[arg(long, value_name = "POSITION")]
    pub position: Option<Position>,

    /// The octave to draw, such as +1 [default: the best]
    #[arg(long, value_name = "OCTAVE", allow_hyphen_values = true, value_parser = clap::value_parser!(i8).range(-10..=10))]
    pub octave: Option<i8>,

    /// Only these positions, such as 2-9 or II-IX
    #[arg(long, value_name = "POSITIONS", value_parser = args::positions)]
    pub positions: Option<RangeInclusive<Position>>,

    /// Use open strings in every position
    #[arg(long)]
    pub open: bool,

    /// Print one JSON object instead of a page
    #[arg(long)]
    pub json: bool,
}

/// A tune mapped on an instrument, cut to the positions asked for.
struct Mapped {
    tune: Tune,
    instrument: Instrument,
    notes: Vec<AnalysedNote>,
    octaves: Vec<i8>,
    placements: Vec<Placement>,
}

/// Prints the page or the JSON.
pub fn run(args: &Map, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = instrument(&args.instrument)?;
    let tune = tune(&args.tune, streams)?;
    let open_strings = if args.open {
        OpenStrings::Anywhere
    } else {
        OpenStrings::FirstPosition
    };
    let map = NeckMap::new(&tune.melody, &instrument, open_strings);
    if map.placements().is_empty() {
        return Err(off_the_neck(&tune, &instrument));
    }
    let asked_for = |it: &&Placement| {
        args.positions
            .as_ref()
            .is_none_or(|all| all.contains(&it.position))
    };
    let mapped = Mapped {
        notes: analyse(&tune.melody, tune.key),
        octaves: map.octaves(),
        placements: map.placements().iter().filter(asked_for).cloned().collect(),
        tune,
        instrument,
    };
    if mapped.placements.is_empty() {
        return Err(no_such_position(&mapped));
    }
    if args.json {
        serde_json::to_writer(&mut streams.stdout, &json::Document::new(&mapped))
            .map_err(std::io::Error::from)?;
        writeln!(streams.stdout)?;
        return Ok(());
    }
    let drawn = pick(&mapped, &map, args)?;
    let page = page::Page {
        mapped: &mapped,
        drawn,
        left_handed: args.instrument.left_handed,
        ascii: streams.ascii,
        width: streams.width,
    };
    paint::write(streams, &page.draw())?;
    Ok(())
}

/// The placement to draw: the one asked for, else the best of those left to choose from.
fn pick<'a>(mapped: &Mapped, map: &'a NeckMap, args: &Map) -> Result<&'a Placement, Failure> {
    if let Some(octave) = args.octave
        && !mapped.octaves.contains(&octave)
    {
        let octaves: Vec<String> = mapped.octaves.iter().map(|it| format!("{it:+}")).collect();
        return Err(Failure::could_not(
            format!("at octave {octave:+} the tune leaves the neck"),
            format!("octaves on this instrument: {}", octaves.join(", ")),
        ));
    }
    map.best_where(|it| {
        let in_range = args
            .positions
            .as_ref()
            .is_none_or(|all| all.contains(&it.position));
        in_range
            && args.position.is_none_or(|position| position == it.position)
            && args.octave.is_none_or(|octave| octave == it.octave)
    })
    .ok_or_else(|| no_such_position(mapped))
}

fn no_such_position(mapped: &Mapped) -> Failure {
    let highest = mapped
        .instrument
        .positions()
        .next_back()
        .unwrap_or(Position::FIRST);
    Failure::usage(
        "there is no such position to show",
        format!(
            "the {} has positions I to {highest}; `--position` must lie within `--positions`",
            mapped.instrument.name()
        ),
    )
}

/// No octave fits: say by how much, and what would help.
pub(super) fn off_the_neck(tune: &Tune, instrument: &Instrument) -> Failure {
    let (low, high) = tune.melody.range();
    let (lowest, highest) = instrument.midi_range();
    let name = |midi: u8| -> String {
        // Spelled as the nearest natural or sharp: only the height matters here.
        let sharps = [
            "C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B",
        ];
        format!(
            "{}{}",
            sharps[usize::from(midi % 12)],
            i16::from(midi / 12) - 1
        )
    };
    let span = |low: Pitch, high: Pitch| high.midi() - low.midi();
    let wide = span(low, high);
    let has = highest - lowest;
    let (problem, hint) = if wide > has {
        (
            format!(
                "the tune spans {wide} semitones ({low} to {high}), the {} only {has} ({} to {}): {} too many",
                instrument.name(),
                name(lowest),
                name(highest),
                wide - has
            ),
            "map a part of it with `--bars`, or take an instrument with more strings or frets",
        )
    } else {
        // Narrow enough, but no whole number of octaves brings it on the neck.
        let below = (i16::from(lowest) - i16::from(low.midi())).rem_euclid(12);
        let above = (i16::from(high.midi()) - i16::from(highest)).rem_euclid(12);
        (
            format!(
                "at no octave does the tune ({low} to {high}) fit the {} ({} to {}): it is {below} semitones too low at one and {above} too high at the next",
                instrument.name(),
                name(lowest),
                name(highest)
            ),
            "move it with `--transpose` or `--to-key`, or map a part of it with `--bars`",
        )
    };
    Failure::could_not(problem, hint)
}
