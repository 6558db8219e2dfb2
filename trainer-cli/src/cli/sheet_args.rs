//! `neckline sheet`.

use std::path::PathBuf;

use clap::ValueEnum;
use fretlib::sheet::{Paper, Part};
use jiff::civil::DateTime;

use super::hand_args::HandArgs;
use super::history_args::DataArgs;
use super::instrument_args::InstrumentArgs;
use super::placement_args::PlacementArgs;
use super::tune_args::TuneArgs;
use crate::commands::sheet::SheetRequest;
use crate::output::Existing;
use crate::terminal::clock::read_time;

/// Make a page for the music stand: notation, tablature, necks.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The format goes by the ending of the file's name: .pdf, .svg, .png or .html. A picture holds one page; when there are more \
they get numbers, tune-1.png, tune-2.png. In the HTML a click on a note shows it on every neck.

Parts: heading, notation, chords, degrees, intervals, tablature, outside (the notes outside the scale), necks, grid (boxes \
to tick). --position and --octave pick what the tablature shows, --positions which necks are drawn and practised.

Examples:
  neckline sheet -o ballad.pdf
  neckline sheet tune.abc -o tune.html --position V
  neckline sheet tune.ron -o tune.pdf --parts heading,notation,tablature --paper letter
  neckline sheet tune.ron -o lesson.pdf --student
  neckline sheet tune.ron -o week.pdf --from-progress")]
pub struct SheetArgs {
    /// The file to write: .pdf, .svg, .png or .html
    #[arg(long, short, value_name = "FILE")]
    output: PathBuf,

    /// Write over files that are there
    #[arg(long)]
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

    /// What is on the sheet, such as notation,necks
    ///
    /// All parts but intervals are when it is left open.
    #[arg(long, value_name = "PARTS", value_delimiter = ',', value_parser = part)]
    parts: Vec<Part>,

    /// Leave blanks to fill in, and add the answers at the end
    #[arg(long)]
    student: bool,

    /// Put the weakest positions first, by the history
    ///
    /// Those never asked about come last.
    #[arg(long)]
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
enum PaperArg {
    /// 210 by 297 mm
    A4,
    /// 8½ by 11 inches
    Letter,
}

impl From<SheetArgs> for SheetRequest {
    fn from(args: SheetArgs) -> Self {
        let all_but_intervals = Part::ALL.into_iter().filter(|it| *it != Part::Intervals);
        SheetRequest {
            output: args.output,
            existing: Existing::from_option(args.replace),
            paper: match args.paper {
                PaperArg::A4 => Paper::A4,
                PaperArg::Letter => Paper::Letter,
            },
            parts: if args.parts.is_empty() {
                all_but_intervals.collect()
            } else {
                args.parts
            },
            student: args.student,
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
