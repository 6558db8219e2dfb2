//! `neckline transcribe`.

use std::path::PathBuf;

use super::hand_args::HandArgs;
use crate::commands::transcribe::TranscribeRequest;
use crate::output::Existing;

/// Write down the notes of a recording.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The recording is of one guitar or another plucked string that plays one note at a time: WAV, AIFF, FLAC, Ogg Vorbis, MP3 or \
AAC, any sample rate, mono or stereo. Each note struck is listed with the time, how long it sounds, its pitch as written for \
the guitar (an octave above what sounds), and its level.

Examples:
  neckline transcribe take.wav
  neckline transcribe take.flac --json
  neckline transcribe take.mp3 -o take.abc")]
pub struct TranscribeArgs {
    /// The recording
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,

    /// Print one JSON object
    #[arg(long, conflicts_with = "output")]
    json: bool,

    /// Write a tune instead: .ron, .abc, .musicxml, .mxl or .mid
    ///
    /// Tempo, note values, a meter of 4/4 or 3/4 and the key are found from the notes: look them over.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,

    /// Write over a file that is there
    #[arg(long, requires = "output", hide_short_help = true)]
    replace: bool,

    #[command(flatten)]
    hand: HandArgs,
}

impl From<TranscribeArgs> for TranscribeRequest {
    fn from(args: TranscribeArgs) -> Self {
        TranscribeRequest {
            recording: args.recording,
            json: args.json,
            output: args.output,
            existing: Existing::from_option(args.replace),
            hand: args.hand.into(),
        }
    }
}
