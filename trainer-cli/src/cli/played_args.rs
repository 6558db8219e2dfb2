//! A tune, the instrument it is played on, and whose hand plays it.

use super::hand_args::HandArgs;
use super::instrument_args::InstrumentArgs;
use super::tune_args::TuneArgs;

#[derive(Clone, Debug, clap::Args)]
pub struct PlayedArgs {
    #[command(flatten)]
    pub hand: HandArgs,

    #[command(flatten)]
    pub tune: TuneArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,
}
