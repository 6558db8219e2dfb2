//! `neckline progress`.

use jiff::civil::DateTime;

use super::history_args::DataArgs;
use crate::commands::progress::{ProgressForm, ProgressRequest};
use crate::terminal::clock::read_time;

/// Show how much of each tune is remembered, and where.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
For each tune and octave a grid of phrases by positions, shaded by how likely each is to be remembered now, with a dot \
where nothing has been asked yet; then the weakest with the command that drills them, what keeps slipping, and the answers of the last days.

Examples:
  neckline progress
  neckline progress --json
  neckline progress --csv > answers.csv")]
pub struct ProgressArgs {
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
            now: args.now,
            folder: args.data.into(),
        }
    }
}
