//! `neckline set`.

use fretlib::theory::PitchClass;
use jiff::civil::{Date, DateTime};

use super::history_args::DataArgs;
use super::instrument_args::InstrumentArgs;
use crate::commands::set::SetRequest;
use crate::practice_sets::ShortName;
use crate::terminal::clock::{read_day, read_time};

/// Keep the tunes to be ready on a day together
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
`neckline today` divides its time among the tunes of the set that is played next, `neckline progress --set` shows how far \
each is.

Examples:
  neckline set sunday --by 2026-11-29 lamps-along-the-jetty oars-in-three
  neckline set sunday pedalo-blues --to-key A     one more, moved for the singer
  neckline set sunday --drop oars-in-three
  neckline set                                    all sets")]
pub struct SetArgs {
    /// The name of the set; without it all are listed
    #[arg(value_name = "NAME")]
    name: Option<ShortName>,

    /// Tunes to add: built-in or files
    #[arg(value_name = "TUNE")]
    add: Vec<String>,

    /// The day it is played, such as 2026-11-29
    #[arg(long, value_name = "DATE", value_parser = read_day, requires = "name")]
    by: Option<Date>,

    /// Take a tune out of the set
    #[arg(long, value_name = "TUNE", requires = "name")]
    drop: Vec<String>,

    /// Take the whole set away; the history keeps its answers
    #[arg(long, requires = "name", conflicts_with_all = ["by", "drop", "add"])]
    delete: bool,

    /// The tonic to move the tunes named here to, such as F or Bb
    #[arg(long, value_name = "TONIC", requires = "add")]
    to_key: Option<PitchClass>,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = read_time, hide_short_help = true)]
    now: Option<DateTime>,

    #[command(flatten)]
    data: DataArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,
}

impl From<SetArgs> for SetRequest {
    fn from(args: SetArgs) -> Self {
        SetRequest {
            name: args.name,
            by: args.by,
            add: args.add,
            drop: args.drop,
            delete: args.delete,
            to_key: args.to_key,
            instrument: args.instrument.into(),
            now: args.now,
            folder: args.data.into(),
        }
    }
}
