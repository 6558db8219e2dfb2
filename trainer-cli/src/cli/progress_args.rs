//! `neckline progress`.

use jiff::civil::DateTime;

use super::history_args::DataArgs;
use crate::commands::progress::{ProgressForm, ProgressRequest};
use crate::practice_sets::ShortName;
use crate::request::TuneRequest;
use crate::terminal::clock::read_time;

/// Show what of each tune holds, fades or is untouched, and where.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
What was answered right and is likely to be right again holds; the rest of what was asked fades, and is to be played again \
today. For each tune and octave a grid of bars by positions, shaded by how much of all that can be asked there would be \
right now; then the weakest with the command that drills them, what keeps slipping, and the answers of the last days.

Examples:
  neckline progress
  neckline progress oars-in-three
  neckline progress --set sunday
  neckline progress --json
  neckline progress --csv > answers.csv")]
pub struct ProgressArgs {
    /// Only this tune: built-in or a file
    #[arg(value_name = "TUNE")]
    tune: Option<String>,

    /// The tunes of this set on one page
    #[arg(long, value_name = "NAME", conflicts_with_all = ["tune", "json", "csv"])]
    set: Option<ShortName>,

    /// Print one JSON object instead of a page
    #[arg(long, conflicts_with = "csv")]
    json: bool,

    /// Print every answer as comma-separated values
    #[arg(long)]
    csv: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = read_time, hide_short_help = true)]
    now: Option<DateTime>,

    #[command(flatten)]
    data: DataArgs,
}

impl From<ProgressArgs> for ProgressRequest {
    fn from(args: ProgressArgs) -> Self {
        ProgressRequest {
            form: match (args.json, args.csv) {
                (true, _) => ProgressForm::Json,
                (_, true) => ProgressForm::Table,
                _ => ProgressForm::Page,
            },
            tune: args.tune.map(|source| TuneRequest {
                source: Some(source),
                ..TuneRequest::default()
            }),
            set: args.set,
            now: args.now,
            folder: args.data.into(),
        }
    }
}
