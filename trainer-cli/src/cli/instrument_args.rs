//! Which instrument.

use crate::request::InstrumentRequest;

#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Instrument")]
pub struct InstrumentArgs {
    /// A built-in one or a file [default: guitar]
    ///
    /// `neckline instruments` lists the built-in ones.
    #[arg(long, value_name = "NAME")]
    instrument: Option<String>,

    /// The open strings from the lowest: `D A D G B E`
    ///
    /// Add octaves if the nearest is not meant: `G3 C4 E4 A4`.
    #[arg(long, value_name = "STRINGS")]
    tuning: Option<String>,

    /// The number of frets [default: the instrument's own]
    #[arg(long, value_name = "N", hide_short_help = true)]
    frets: Option<u8>,

    /// The fret the capo is on [default: none]
    #[arg(long, value_name = "FRET")]
    capo: Option<u8>,

    /// Draw the neck for a left-handed player
    #[arg(long, hide_short_help = true)]
    left_handed: bool,
}

impl From<InstrumentArgs> for InstrumentRequest {
    fn from(args: InstrumentArgs) -> Self {
        InstrumentRequest {
            instrument: args.instrument,
            tuning: args.tuning,
            frets: args.frets,
            capo: args.capo,
            left_handed: args.left_handed,
        }
    }
}

/// List the built-in instruments.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Any other instrument is a file of RON, or the guitar tuned another way:
  neckline map --tuning \"D A D F# A D\"
  neckline map --instrument my-lute.ron")]
pub struct InstrumentsArgs {}
