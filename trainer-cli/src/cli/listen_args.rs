//! `neckline listen`.

use std::path::PathBuf;

use super::played_args::PlayedArgs;
use crate::commands::arrange::AsArranged;
use crate::commands::listen::ListenRequest;
use crate::output::Existing;

/// Hold a recording of your playing against the tune.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The tune may be played in any octave, at any tempo, begun anywhere, stopped and begun again; the tempo may drift. Under each \
note of the tablature stands what was heard, then what matters in a sentence each: wrong notes by place, notes off time, \
breaks where the line should join, notes that stick out or vanish, and the bars to practise next. What is doubtful is shown \
as not sure and never counts against you.

Nothing of the recording is kept.

Examples:
  neckline listen lamps-along-the-jetty --take take.wav
  neckline listen tune.abc --take take.flac --bars 9-16
  neckline listen tune.abc --take take.mp3 --svg take.svg
  neckline listen tune.abc --take take.wav --arrangement
  neckline listen tune.abc --take take.wav --json")]
pub struct ListenArgs {
    /// The recording: WAV, AIFF, FLAC, Ogg Vorbis, MP3 or AAC
    #[arg(long, value_name = "RECORDING", required = true, display_order = 1)]
    take: PathBuf,

    /// The tune is played as it is arranged: follow the line on top
    ///
    /// The choices kept beside the tune by `neckline arrange --save` hold, or those of `--arrangement=FILE`; without choices
    /// it is what `neckline arrange` finds. What lies under the melody is never an extra note; the verdicts are less
    /// certain than on a line alone.
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = true)]
    arrangement: Option<Option<PathBuf>>,

    /// Print one JSON object
    #[arg(long, conflicts_with = "svg")]
    json: bool,

    /// Draw timing and level over the bars into a file, or `-`
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,

    /// Write over a file that is there
    #[arg(long, requires = "svg", hide_short_help = true)]
    replace: bool,

    #[command(flatten)]
    played: PlayedArgs,
}

impl From<ListenArgs> for ListenRequest {
    fn from(args: ListenArgs) -> Self {
        ListenRequest {
            take: args.take,
            arranged: AsArranged::from_option(args.arrangement),
            json: args.json,
            svg: args.svg,
            existing: Existing::from_option(args.replace),
            hand: args.played.hand.into(),
            tune: args.played.tune.into(),
            instrument: args.played.instrument.into(),
        }
    }
}
