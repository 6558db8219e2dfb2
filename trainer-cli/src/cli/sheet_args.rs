//! `neckline sheet`.

use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::ValueEnum;
use fretlib::sheet::{Answers, Paper, Part};
use jiff::civil::DateTime;

use super::hand_args::HandArgs;
use super::history_args::DataArgs;
use super::instrument_args::InstrumentArgs;
use super::placement_args::PlacementArgs;
use super::ranges::numbers;
use super::tune_args::TuneArgs;
use crate::commands::arrange::AsArranged;
use crate::commands::sheet::{SheetFormat, SheetRequest, SheetSource};
use crate::output::Existing;
use crate::practice_sets::ShortName;
use crate::terminal::clock::read_time;

/// Make a page for the music stand: staff, tablature, fingering.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The format goes by the ending of the file's name: .pdf, .svg, .png or .html. A picture holds one page; when there are more \
they get numbers, tune-1.png, tune-2.png. In the HTML a click on a note shows it on every neck. --set binds the tunes of a set \
in their order behind a front page; --all writes a file for every tune of a folder into the folder OUT.

The page for the stand has these parts: heading, notation, chords, tablature, fingering, degrees, outside (the notes outside \
the scale). --parts with some of them takes those alone. It adds chord-tones and intervals to the page, and necks (the best \
positions) and grid (boxes to tick) on pages of their own. warm-up and quiz stand alone: exercises made of the tune, and \
places, degrees and intervals to fill in, the key on its own page and another quiz for each --seed. The tablature shows your fingering along the neck, or with \
--position one position.

Examples:
  neckline sheet -o ballad.pdf
  neckline sheet tune.abc -o tune.html --position V
  neckline sheet tune.ron -o tune.pdf --parts chord-tones,necks --paper letter
  neckline sheet tune.ron -o lesson.pdf --student --with-key
  neckline sheet tune.ron -o week.pdf --from-progress
  neckline sheet tune.ron -o stand.pdf --arrangement --parts diagrams
  neckline sheet tune.ron -o quiz.pdf --parts quiz --seed 2
  neckline sheet tune.ron -o mended.pdf --take take.wav
  neckline sheet --set sunday -o sunday.pdf
  neckline sheet --all tunes/ -o sheets/ --student --with-key")]
pub struct SheetArgs {
    /// The file to write: .pdf, .svg, .png or .html
    #[arg(long, short, value_name = "OUT")]
    output: PathBuf,

    /// Write every tune of a folder or book into a folder
    #[arg(long, hide_short_help = true, requires = "tune", conflicts_with_all = ["from_progress", "number"])]
    all: bool,

    /// The tunes of this set, behind a front page
    #[arg(long, value_name = "NAME", conflicts_with_all = ["all", "tune", "number", "bars", "transpose", "to_key", "instrument", "tuning", "frets", "capo"])]
    set: Option<ShortName>,

    /// The format of the files of --all
    #[arg(long, value_enum, default_value_t = SheetFormatArg::Pdf, requires = "all", value_name = "FORMAT", hide_short_help = true)]
    format: SheetFormatArg,

    /// Write over files that are there
    #[arg(long, hide_short_help = true)]
    replace: bool,

    /// The size of the paper
    #[arg(
        long,
        value_enum,
        default_value_t = PaperArg::A4,
        value_name = "SIZE",
        hide_short_help = true
    )]
    paper: PaperArg,

    /// What is on it, such as necks,grid or quiz
    #[arg(long, value_name = "PARTS", value_delimiter = ',', value_parser = part)]
    parts: Vec<Part>,

    /// Set what is arranged under the melody, too
    ///
    /// Two voices on the staff, tablature and fingers of both; `--parts diagrams` adds a diagram over the staff for each
    /// voicing. The choices kept beside the tune by `neckline arrange --save` hold, or those of `--arrangement=FILE`;
    /// without choices it is what `neckline arrange` finds. Degrees and the notes outside the scale are left to `--parts`.
    #[arg(
        long,
        value_name = "FILE",
        num_args = 0..=1,
        require_equals = true,
        conflicts_with_all = ["all", "student", "with_key", "from_progress", "position", "octave"]
    )]
    arrangement: Option<Option<PathBuf>>,

    /// Mark what is heard in a recording of your playing
    ///
    /// A sign under each note that was not right, and what matters in a sentence each, as `neckline listen` says it.
    #[arg(long, value_name = "RECORDING", conflicts_with_all = ["all", "set", "student", "with_key"], hide_short_help = true)]
    take: Option<PathBuf>,

    /// How many bars go on a line [default: as in the source, else 4]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=16), hide_short_help = true)]
    bars_per_line: Option<u8>,

    /// Add the necks, with the order of notes for these phrases, such as 3 or 1-2
    #[arg(long, value_name = "PHRASES", value_parser = numbers, hide_short_help = true)]
    phrases: Option<RangeInclusive<u32>>,

    /// Leave blanks to fill in
    #[arg(long)]
    student: bool,

    /// Leave blanks as `--student` does, and add the answers on pages of their own
    #[arg(long, hide_short_help = true)]
    with_key: bool,

    /// Which quiz: each number makes another one
    #[arg(long, value_name = "N", default_value_t = 1, hide_short_help = true)]
    seed: u64,

    /// Put the weakest positions first, by the history
    ///
    /// Those never asked about come last.
    #[arg(long, hide_short_help = true)]
    from_progress: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = read_time, hide_short_help = true)]
    now: Option<DateTime>,

    #[command(flatten)]
    placement: PlacementArgs,

    #[command(flatten)]
    tune: TuneArgs,

    #[command(flatten)]
    hand: HandArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,

    #[command(flatten)]
    data: DataArgs,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum SheetFormatArg {
    /// A document
    Pdf,
    /// A drawing a page
    Svg,
    /// A picture a page
    Png,
    /// A page for a browser
    Html,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum PaperArg {
    /// 210 by 297 mm
    A4,
    /// 8½ by 11 inches
    Letter,
}

impl From<SheetArgs> for SheetRequest {
    fn from(args: SheetArgs) -> Self {
        let format = match args.format {
            SheetFormatArg::Pdf => SheetFormat::Pdf,
            SheetFormatArg::Svg => SheetFormat::Svg,
            SheetFormatArg::Png => SheetFormat::Png,
            SheetFormatArg::Html => SheetFormat::Html,
        };
        let mut asked = args.parts;
        // The order of notes is written on the necks.
        asked.extend(args.phrases.is_some().then_some(Part::Necks));
        SheetRequest {
            source: match (args.set, args.all) {
                (Some(set), _) => SheetSource::Set(set),
                (None, true) => SheetSource::Every(format),
                (None, false) => SheetSource::Tune,
            },
            output: args.output,
            existing: Existing::from_option(args.replace),
            paper: match args.paper {
                PaperArg::A4 => Paper::A4,
                PaperArg::Letter => Paper::Letter,
            },
            parts: parts_of(asked, args.arrangement.is_some()),
            arranged: AsArranged::from_option(args.arrangement),
            take: args.take,
            bars_per_line: args.bars_per_line.map(usize::from),
            phrases: args.phrases,
            answers: match (args.student, args.with_key) {
                (false, false) => Answers::Printed,
                (true, false) => Answers::Blank,
                (_, true) => Answers::BlankWithKey,
            },
            seed: args.seed,
            from_progress: args.from_progress,
            now: args.now,
            placement: args.placement.into(),
            tune: args.tune.into(),
            hand: args.hand.into(),
            instrument: args.instrument.into(),
            folder: args.data.into(),
        }
    }
}

/// The parts that are asked for. An arrangement is for playing from: what the melody is, was asked before.
fn parts_of(asked: Vec<Part>, is_arranged: bool) -> Vec<Part> {
    let mut parts = Part::asked(&asked);
    if is_arranged {
        let is_study = |part: &Part| matches!(part, Part::Degrees | Part::Outside);
        parts.retain(|part| !is_study(part) || asked.contains(part));
    }
    parts
}

fn part(text: &str) -> Result<Part, String> {
    let found = Part::ALL
        .into_iter()
        .find(|part| part.name() == text.trim());
    found.ok_or_else(|| {
        let names: Vec<&str> = Part::ALL.iter().map(|part| part.name()).collect();
        format!("the parts are {}", names.join(", "))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_have_names() {
        for wanted in Part::ALL {
            assert_eq!(part(wanted.name()), Ok(wanted));
        }
        assert!(part("lyrics").unwrap_err().contains("necks"));
    }
}
