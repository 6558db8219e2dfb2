//! `neckline listen`.

use std::path::PathBuf;

use fretlib::neck::Position;
use fretlib::practice::LadderRange;
use fretlib::sound::ClickPattern;

use super::history_args::PassHistoryArgs;
use super::played_args::PlayedArgs;
use crate::commands::arrange::AsArranged;
use crate::commands::listen::{ListenRequest, LiveRequest};
use crate::output::Existing;
use crate::request::AskedTempo;

/// Listen to your playing, live or in a recording, and hold it against the tune.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Without --take the microphone is opened, and a mark shows while it is open. The tablature moves along with you, what you \
strike is named at once, and each time through gets its verdict when it ends. With --ladder a tempo is climbed by right \
passes that are heard; only certain faults fail one, and a pass counts within 4 % of the tempo. Wear headphones for --click \
and --count-in. Stop at the first pain, and rest the hands ten minutes an hour.

The tune may be played in any octave, at any tempo, begun anywhere, stopped and begun again; the tempo may drift. Under each \
note of the tablature stands what was heard, then what matters in a sentence each: wrong notes by place, notes off time, \
breaks where the line should join, notes that stick out or vanish, and the bars to practise next. What is doubtful is shown \
as not sure and never counts against you.

Nothing is kept of the sound but verdicts, unless --keep names a folder. A phrase that was played whole is remembered at its position like an answer: right at the tune's tempo holds, right but slower holds less long, with a certain fault it comes back today. A recording counts once, at the time it is judged, and not with --json or --svg; --no-history keeps nothing.

Examples:
  neckline listen lamps-along-the-jetty                        live
  neckline listen tune.abc --ladder 60-100% --count-in 1
  neckline listen lamps-along-the-jetty --take take.wav
  neckline listen tune.abc --take take.flac --bars 9-16
  neckline listen tune.abc --take take.mp3 --svg take.svg
  neckline listen tune.abc --take take.wav --arrangement
  neckline listen tune.abc --take take.wav --json")]
pub struct ListenArgs {
    /// Judge a recording instead, such as take.wav
    ///
    /// WAV, AIFF, FLAC, Ogg Vorbis, MP3 or AAC.
    #[arg(
        long,
        value_name = "RECORDING",
        display_order = 1,
        conflicts_with_all = ["tempo", "ladder", "passes", "loops", "count_in", "click", "keep", "plain"]
    )]
    take: Option<PathBuf>,

    /// The tempo asked for, such as 80 or 70%
    #[arg(long, value_name = "TEMPO")]
    tempo: Option<AskedTempo>,

    /// Climb from one tempo to another, such as 60-100%
    #[arg(long, value_name = "FROM-TO", conflicts_with_all = ["tempo", "loops"])]
    ladder: Option<LadderRange>,

    /// Right passes in a row before the ladder climbs a rung
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=20), hide_short_help = true)]
    passes: u8,

    /// End after this many passes
    #[arg(long = "loop", value_name = "N", value_parser = clap::value_parser!(u32).range(1..=9_999))]
    loops: Option<u32>,

    /// Bars counted before each pass, in headphones
    #[arg(long, value_name = "BARS", default_value_t = 0, value_parser = clap::value_parser!(u8).range(0..=8), hide_default_value = true)]
    count_in: u8,

    /// Click on `all` beats, on `2-4` or on `1`
    ///
    /// In headphones: the microphone would hear it.
    #[arg(long, value_name = "BEATS")]
    click: Option<ClickPattern>,

    /// Keep each pass as a WAV file in this folder
    #[arg(long, value_name = "FOLDER")]
    keep: Option<PathBuf>,

    /// Print line by line, also on a terminal
    #[arg(long, hide_short_help = true)]
    plain: bool,

    /// Follow the top line of the arrangement you play
    ///
    /// The choices kept beside the tune by `neckline arrange --save` hold, or those of `--arrangement=FILE`; without choices
    /// it is what `neckline arrange` finds. What lies under the melody is never an extra note; the verdicts are less
    /// certain than on a line alone.
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = true, requires = "take", hide_short_help = true)]
    arrangement: Option<Option<PathBuf>>,

    /// Where you play, such as VII
    ///
    /// The tablature shows it there, and there it is remembered how you played each phrase; a place cannot be heard. By
    /// default that is your own fingering, or the best position of the tune.
    #[arg(long, value_name = "POSITION", conflicts_with = "arrangement")]
    position: Option<Position>,

    /// Print one JSON object
    #[arg(long, requires = "take", conflicts_with = "svg")]
    json: bool,

    /// Draw timing and level over the bars into a file, or `-`
    #[arg(long, value_name = "FILE", requires = "take", hide_short_help = true)]
    svg: Option<PathBuf>,

    /// Write over a file that is there
    #[arg(long, requires = "svg", hide_short_help = true)]
    replace: bool,

    #[command(flatten)]
    played: PlayedArgs,

    #[command(flatten)]
    history: PassHistoryArgs,
}

impl From<ListenArgs> for ListenRequest {
    fn from(args: ListenArgs) -> Self {
        ListenRequest {
            take: args.take,
            arranged: AsArranged::from_option(args.arrangement),
            live: LiveRequest {
                tempo: args.tempo,
                ladder: args.ladder,
                passes: args.passes,
                count_in: args.count_in,
                click: args.click,
                loops: args.loops,
                keep: args.keep,
                plain: args.plain,
                no_history: args.history.no_history,
                now: args.history.now,
                folder: args.history.data.into(),
            },
            json: args.json,
            svg: args.svg,
            existing: Existing::from_option(args.replace),
            position: args.position,
            hand: args.played.hand.into(),
            tune: args.played.tune.into(),
            instrument: args.played.instrument.into(),
        }
    }
}
