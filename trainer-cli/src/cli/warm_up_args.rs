//! `neckline warm-up`.

use super::history_args::DataArgs;
use super::played_args::PlayedArgs;
use crate::commands::warm_up::WarmUpRequest;
use crate::practice_sets::ShortName;
use crate::request::TuneOnInstrument;

/// Warm up on the tune itself: five to ten minutes, soft and slow
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The exercises are made of the tune: its scale in its best position, its commonest intervals along the scale, each note outside \
the scale with its neighbours, the widest move of the fingering that is still comfortable, and a phrase in the next position. \
The easiest comes first; nothing is at the limit of your hand. On a terminal each has its time, with a click at its tempo where \
there is sound: y says that a pass was right, n that it was not yet, and after two right passes the tempo rises by 5 %. These \
numbers are design choices, not research results.

Stop at pain, numbness or tingling. Rest ten minutes an hour. See a doctor or a hand therapist about pain that \
does not go away. A warm-up promises nothing.

Examples:
  neckline warm-up                          on the first built-in tune
  neckline warm-up tune.abc --minutes 5
  neckline warm-up --set sunday             on all its tunes in turn
  neckline warm-up tune.abc --print         for paper")]
pub struct WarmUpArgs {
    /// How long
    #[arg(
        long,
        value_name = "MINUTES",
        default_value_t = 7,
        value_parser = clap::value_parser!(u32).range(5..=10)
    )]
    minutes: u32,

    /// Only print the exercises
    #[arg(long)]
    print: bool,

    /// Let nothing sound
    #[arg(long)]
    no_click: bool,

    /// On all tunes of this set
    #[arg(long, value_name = "NAME", conflicts_with_all = ["tune", "number", "bars", "transpose", "to_key", "instrument", "tuning", "frets", "capo"])]
    set: Option<ShortName>,

    #[command(flatten)]
    data: DataArgs,

    #[command(flatten)]
    played: PlayedArgs,
}

impl From<WarmUpArgs> for WarmUpRequest {
    fn from(args: WarmUpArgs) -> Self {
        WarmUpRequest {
            tune: TuneOnInstrument {
                tune: args.played.tune.into(),
                instrument: args.played.instrument.into(),
            },
            set: args.set,
            hand: args.played.hand.into(),
            minutes: args.minutes,
            print: args.print,
            no_click: args.no_click,
            folder: args.data.into(),
        }
    }
}
