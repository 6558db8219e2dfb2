//! `neckline today`.

use super::drill_args::QuestionArgs;
use super::history_args::DataArgs;
use crate::commands::today::TodayRequest;
use crate::practice_sets::ShortName;

/// Plan what to play again today over all tunes practised, and drill it.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Examples:
  neckline today                 twenty minutes: what fades, and a little that is untouched
  neckline today --minutes 5
  neckline today --set sunday
  neckline today --by playing    answered on the instrument, what fades in the hands too
  neckline today --list          only the plan")]
pub struct TodayArgs {
    /// How long to practise
    #[arg(
        long,
        value_name = "MINUTES",
        default_value_t = 20,
        value_parser = clap::value_parser!(u32).range(1..=600)
    )]
    minutes: u32,

    /// The set to practise for [default: the one that is played next]
    #[arg(long, value_name = "NAME")]
    set: Option<ShortName>,

    /// Only print the plan
    #[arg(long)]
    list: bool,

    /// Draw the neck for a left-handed player
    #[arg(long)]
    left_handed: bool,

    #[command(flatten)]
    questions: QuestionArgs,

    #[command(flatten)]
    data: DataArgs,
}

impl From<TodayArgs> for TodayRequest {
    fn from(args: TodayArgs) -> Self {
        TodayRequest {
            minutes: args.minutes,
            set: args.set,
            list: args.list,
            left_handed: args.left_handed,
            by_ear: args.questions.by_ear(),
            answered_by: args.questions.answered_by(),
            session: args.questions.into(),
            folder: args.data.into(),
        }
    }
}
