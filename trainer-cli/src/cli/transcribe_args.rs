//! `neckline transcribe`.

use std::path::PathBuf;

use crate::commands::transcribe::TranscribeRequest;

/// Write down the notes of a recording.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The recording is of one guitar or another plucked string that plays one note at a time: WAV, AIFF, FLAC, Ogg Vorbis, MP3 or \
AAC, any sample rate, mono or stereo. Each note struck is listed with the time, how long it sounds, its pitch as written for \
the guitar (an octave above what sounds), and its level.

Examples:
  neckline transcribe take.wav
  neckline transcribe take.flac --json")]
pub struct TranscribeArgs {
    /// The recording
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,

    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

impl From<TranscribeArgs> for TranscribeRequest {
    fn from(args: TranscribeArgs) -> Self {
        TranscribeRequest {
            recording: args.recording,
            json: args.json,
        }
    }
}
