//! `neckline play`.

use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::time::Duration;

use fretlib::neck::Position;
use fretlib::practice::LadderRange;
use fretlib::sound::{ClickDrop, ClickPattern, ConcertPitch, SampleRate, Swing};

use super::arrange_args::decibels;
use super::history_args::PassHistoryArgs;
use super::octave_args::OctaveArgs;
use super::played_args::PlayedArgs;
use super::ranges::numbers;
use crate::audio::SampleFormat;
use crate::commands::arrange::AsArranged;
use crate::commands::play::{Loops, PlayRequest, PlaySwing};
use crate::output::Existing;
use crate::request::{AskedTempo, PlacementRequest};

/// Play a melody, with loops, count-in, click and chords, or write it to a WAV file.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The melody is played in its playing order where the best fingering puts it, or in the position or octave you choose. On a \
terminal the tablature moves along with it and keys change what sounds; on a pipe a line is printed for each bar.

With --ladder right passes raise the tempo: after each pass you say whether it was right. It never rises by itself. What \
you say is kept: `neckline today` and `neckline progress` count the tempo at which each phrase is held.

Sound goes to the sound server (PulseAudio's protocol on Linux, which PipeWire speaks too). Without one, write a file with \
-o and play that.

Rest the hands ten minutes an hour, and stop at the first pain.

Examples:
  neckline play                                    the first built-in tune
  neckline play tune.abc --tempo 70% --count-in 1 --click 2-4
  neckline play tune.ron --bars 1-8 --loop endless --chords
  neckline play tune.ron --arrangement --contrast 12
  neckline play tune.ron --no-melody --chords --click all --click-drop 2+2
  neckline play tune.ron --ladder 60-100% --count-in 1
  neckline play tune.ron --tempo 80 --loop 4 -o take.wav")]
pub struct PlayArgs {
    /// Write a WAV file instead, or `-` for a pipe
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,

    /// Write over a file that is there
    #[arg(long, requires = "output", hide_short_help = true)]
    replace: bool,

    /// Beats a minute, or such as 70% or 'q. = 80'
    ///
    /// A bare number counts what the tune's own tempo counts, dotted quarters in most jigs; `q = 80` are quarter notes.
    /// By default the tune's own tempo. Changes of tempo inside the tune keep their proportion.
    #[arg(long, value_name = "TEMPO")]
    tempo: Option<AskedTempo>,

    /// Only these phrases, such as 2 or 1-3
    #[arg(long, value_name = "PHRASES", value_parser = numbers, conflicts_with = "bars", hide_short_help = true)]
    phrases: Option<RangeInclusive<u32>>,

    /// How many times, or `endless`
    #[arg(long = "loop", value_name = "N", value_parser = loops)]
    loops: Option<Loops>,

    /// The position to play in, such as V
    ///
    /// By default each note is played where the best fingering puts it.
    #[arg(long, value_name = "POSITION", hide_short_help = true)]
    position: Option<Position>,

    #[command(flatten)]
    octave: OctaveArgs,

    /// Bars counted before the first note
    #[arg(long, value_name = "BARS", default_value_t = 0, value_parser = clap::value_parser!(u8).range(0..=8))]
    count_in: u8,

    /// Click on `all` beats, on `2-4` or on `1`
    #[arg(long, value_name = "BEATS")]
    click: Option<ClickPattern>,

    /// Bars with and without click, such as 2+2
    #[arg(long, value_name = "BARS+BARS", hide_short_help = true)]
    click_drop: Option<ClickDrop>,

    /// Quiet chords under the melody
    #[arg(long)]
    chords: bool,

    /// Play what is arranged under the melody
    ///
    /// It uses the choices kept beside the tune by `neckline arrange --save`, or those in the file named with
    /// `--arrangement=FILE`; without choices it plays what `neckline arrange` finds.
    #[arg(
        long,
        value_name = "FILE",
        num_args = 0..=1,
        require_equals = true,
        conflicts_with_all = ["chords", "position", "octave"]
    )]
    arrangement: Option<Option<PathBuf>>,

    /// How much softer it is than the melody, such as 9dB
    ///
    /// Notes that are struck together count as one.
    #[arg(long, value_name = "DB", default_value = "9", value_parser = decibels, requires = "arrangement", hide_short_help = true)]
    contrast: f64,

    /// Leave the melody out, for you to play
    #[arg(long)]
    no_melody: bool,

    /// Swing `eighths` or `sixteenths`, or such as 60%
    ///
    /// With a share in percent, the first of two eighths takes that share of the beat: 50% is straight, 67% as in a
    /// triplet. By default the tune's own feel; `straight` plays a tune without its swing.
    #[arg(long, value_name = "FEEL", value_parser = swing, hide_short_help = true)]
    swing: Option<PlaySwing>,

    /// Climb from one tempo to another, such as 60-100%
    #[arg(long, value_name = "FROM-TO", conflicts_with_all = ["tempo", "loops", "output"])]
    ladder: Option<LadderRange>,

    /// Right passes in a row before the ladder climbs a rung
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=20), hide_short_help = true)]
    passes: u8,

    /// The frequency of A4 in hertz
    #[arg(long, value_name = "HERTZ", value_parser = concert_pitch, default_value = "440", hide_short_help = true)]
    tuning_a4: ConcertPitch,

    /// Bits a sample in the file: 16, 24, or 32 for floating point
    #[arg(long, value_name = "BITS", default_value = "16", value_parser = sample_format, hide_short_help = true)]
    bits: SampleFormat,

    /// Samples a second [default: 44100 in a file, 48000 for the sound server]
    #[arg(long, value_name = "HERTZ", value_parser = sample_rate, hide_short_help = true)]
    rate: Option<SampleRate>,

    /// Milliseconds from making a sample to hearing it, requested from the sound server
    #[arg(long, value_name = "MS", default_value = "60", value_parser = latency, hide_short_help = true)]
    latency: Duration,

    /// Print line by line, also on a terminal
    #[arg(long, hide_short_help = true)]
    plain: bool,

    #[command(flatten)]
    played: PlayedArgs,

    #[command(flatten)]
    history: PassHistoryArgs,
}

impl From<PlayArgs> for PlayRequest {
    fn from(args: PlayArgs) -> Self {
        let click = match (args.click, args.click_drop) {
            (None, None) => None,
            (click, Some(drop)) => Some(click.unwrap_or(ClickPattern::ALL).dropped(drop)),
            (click, None) => click,
        };
        let loops = if args.ladder.is_some() {
            Loops::Endless
        } else {
            args.loops.unwrap_or(Loops::Times(1))
        };
        PlayRequest {
            tempo: args.tempo,
            phrases: args.phrases,
            loops,
            count_in: args.count_in,
            click,
            chords: args.chords || args.arrangement.is_some(),
            arranged: AsArranged::from_option(args.arrangement),
            contrast: args.contrast,
            melody: !args.no_melody,
            swing: args.swing.unwrap_or(PlaySwing::OfTune),
            ladder: args.ladder,
            passes: args.passes,
            a4: args.tuning_a4,
            output: args.output,
            existing: Existing::from_option(args.replace),
            format: args.bits,
            rate: args.rate,
            latency: args.latency,
            plain: args.plain,
            placement: PlacementRequest {
                position: args.position,
                octave: args.octave.octave,
                ..PlacementRequest::default()
            },
            hand: args.played.hand.into(),
            tune: args.played.tune.into(),
            instrument: args.played.instrument.into(),
            no_history: args.history.no_history,
            now: args.history.now,
            folder: args.history.data.into(),
        }
    }
}

fn loops(text: &str) -> Result<Loops, String> {
    if text == "endless" {
        return Ok(Loops::Endless);
    }
    match text.parse() {
        Ok(times @ 1..=9_999) => Ok(Loops::Times(times)),
        _ => Err(format!(
            "expected a number from 1 to 9999, or `endless`, found `{text}`"
        )),
    }
}

fn swing(text: &str) -> Result<PlaySwing, String> {
    let expected =
        || format!("expected eighths, sixteenths, straight or a share such as 60%, found `{text}`");
    match text {
        "straight" => Ok(PlaySwing::Straight),
        "eighths" => Ok(PlaySwing::Swung(Swing::EIGHTHS)),
        "sixteenths" => Ok(PlaySwing::Swung(Swing::SIXTEENTHS)),
        _ => {
            let percent = text
                .strip_suffix('%')
                .unwrap_or(text)
                .parse()
                .map_err(|_| expected())?;
            let swing = Swing::EIGHTHS.with_share(percent);
            swing
                .map(PlaySwing::Swung)
                .map_err(|error| error.to_string())
        }
    }
}

fn concert_pitch(text: &str) -> Result<ConcertPitch, String> {
    let hertz = text
        .parse()
        .map_err(|_| format!("expected a frequency in hertz such as 442, found `{text}`"))?;
    ConcertPitch::new(hertz).map_err(|error| error.to_string())
}

fn sample_format(text: &str) -> Result<SampleFormat, String> {
    match text {
        "16" => Ok(SampleFormat::Int16),
        "24" => Ok(SampleFormat::Int24),
        "32" => Ok(SampleFormat::Float32),
        _ => Err(format!("expected 16, 24 or 32, found `{text}`")),
    }
}

fn sample_rate(text: &str) -> Result<SampleRate, String> {
    let hertz = text
        .parse()
        .map_err(|_| format!("expected samples a second such as 48000, found `{text}`"))?;
    SampleRate::new(hertz).map_err(|error| error.to_string())
}

fn latency(text: &str) -> Result<Duration, String> {
    match text.parse() {
        Ok(milliseconds @ 5..=2_000) => Ok(Duration::from_millis(milliseconds)),
        _ => Err(format!(
            "expected milliseconds from 5 to 2000, found `{text}`"
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_read_and_checked() {
        assert!(matches!(loops("endless"), Ok(Loops::Endless)));
        assert!(loops("0").is_err() && loops("10000").is_err() && loops("some").is_err());
        assert!(
            swing("60%").is_ok()
                && swing("67").is_ok()
                && swing("90%").is_err()
                && swing("jazz").is_err()
        );
        assert!(
            concert_pitch("442").is_ok()
                && concert_pitch("nan").is_err()
                && concert_pitch("44").is_err()
        );
        assert!(sample_format("24").is_ok() && sample_format("8").is_err());
        assert!(sample_rate("22050").is_ok() && sample_rate("1").is_err());
        assert!(latency("20").is_ok() && latency("0").is_err() && latency("9999").is_err());
    }
}
