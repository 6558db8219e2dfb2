//! `neckline drill`, and the options it shares with `neckline today`.

use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::str::FromStr;

use fretlib::ParseError;
use fretlib::mapping::OpenStrings;
use fretlib::neck::PositionSet;
use fretlib::practice::{Interleaving, Kind};
use jiff::civil::DateTime;

use super::history_args::DataArgs;
use super::instrument_args::InstrumentArgs;
use super::ranges::numbers;
use super::settings_args::SettingsArgs;
use super::tune_args::TuneArgs;
use crate::commands::arrange::AsArranged;
use crate::commands::drill::DrillRequest;
use crate::commands::drill::by_playing::AnsweredBy;
use crate::request::{ByEar, PartRequest, SessionRequest, TuneOnInstrument};
use crate::terminal::clock::read_time;

/// Ask where the notes of a melody are, and what they are.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Kinds of question:
  place     where is this note of the melody: string and fret
  name      what is at this place: note and degree
  degree    which degree of the key is this note
  interval  which interval leads to the next note
  next      what comes next: its name, its degree or its place
  scale     is it in the scale and, if not, what is it
  octave    where is the same note an octave away, in another position

Kinds about the arrangement, all of them by the word arrangement; asked where choices are kept beside the tune, or with
--arrangement:
  under     what lies under this note: degrees of the chord
  stays     which fingers stay from the voicing before
  left-out  which of root, third, fifth and seventh is left out
  line      where it plays the next note of the melody

Kinds that are heard, all of them by the word by-ear:
  interval-by-ear  which interval is it
  degree-by-ear    after the tune's own bars before it, which degree is the last note
  scale-by-ear     after them, is the last note in the scale and, if not, what is it
  next-by-ear      after part of a phrase, where is the note that comes next
  phrase-by-ear    which of these phrases is it

At a terminal they are asked wherever something can be heard, from a pipe only when they are named. `r` plays the question, \
and after the answer that, again.

Answers are read generously: `3 5`, `s3 f5`, `G 5`; `Eb`, `e flat`; `b7`, `flat seven`; `m3`, `minor third`; `no #4`. An \
enharmonic answer counts, and its spelling is pointed out. `?` shows the answer, `q` ends.

Questions follow your history. A phrase holds, fades or is untouched: what fades is to be played again today, what is \
untouched is shown, then hidden bit by bit, then asked. The session ends when nothing fades and the day's share of what is \
untouched is done, after 20 minutes at most, or after --questions. With --seed questions are chosen at random, the same for \
the same seed; with --seed and --now a session over the same history is the same.

Examples:
  neckline drill my-tune.ron
  neckline drill my-tune.ron --kinds place,next --positions V-IX --bars 1-8
  neckline drill my-tune.ron --kinds by-ear
  neckline drill my-tune.ron --by playing
  neckline drill --questions 20 --seed 7")]
pub struct DrillArgs {
    #[command(flatten)]
    questions: QuestionArgs,

    /// Only these positions, such as 2-9 or V,X
    #[arg(long, value_name = "POSITIONS")]
    positions: Option<PositionSet>,

    /// Ask only where no open strings are used
    #[arg(long, hide_short_help = true)]
    no_open: bool,

    #[command(flatten)]
    settings: SettingsArgs,

    /// Every position and octave that holds the tune, not only the best and those without open strings and stretches
    #[arg(long, conflicts_with = "positions", hide_short_help = true)]
    all_positions: bool,

    /// Only these phrases, such as 2 or 1-3
    #[arg(long, value_name = "PHRASES", value_parser = numbers)]
    phrases: Option<RangeInclusive<u32>>,

    /// Ask about the arrangement, also where no choices are kept
    ///
    /// With choices kept beside the tune by `neckline arrange --save` it is asked about anyway. `--arrangement=FILE` names
    /// other choices.
    #[arg(
        long,
        value_name = "FILE",
        num_args = 0..=1,
        require_equals = true,
        hide_short_help = true
    )]
    arrangement: Option<Option<PathBuf>>,

    #[command(flatten)]
    data: DataArgs,

    #[command(flatten)]
    tune: TuneArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,
}

/// What is asked, how much and in which order.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "Questions")]
pub struct QuestionArgs {
    /// Only these, such as place,next or by-ear
    #[arg(long, value_name = "KINDS", value_delimiter = ',')]
    kinds: Vec<KindGroup>,

    /// Answer by `playing`, else by `typing`
    ///
    /// By playing the microphone is opened, and kinds that cannot be played are left out. The pitch counts: the place itself
    /// cannot be heard.
    #[arg(long, value_name = "HOW", value_parser = answered_by, default_value = "typing", hide_default_value = true)]
    by: AnsweredBy,

    /// Ask nothing by ear
    #[arg(long, hide_short_help = true)]
    no_sound: bool,

    /// End after this many questions
    #[arg(long, value_name = "N")]
    questions: Option<u32>,

    /// Choose questions at random, the same ones for the same number
    #[arg(long, value_name = "NUMBER", hide_short_help = true)]
    seed: Option<u64>,

    /// How questions follow each other: growing (what is untouched in blocks, the rest mixed), mixed or blocks
    #[arg(
        long,
        value_name = "MIX",
        default_value = "growing",
        hide_short_help = true
    )]
    mix: Interleaving,

    /// The most that is untouched in one day: a phrase asked in one way at one position and octave counts as one
    #[arg(long, value_name = "N", default_value_t = 12, hide_short_help = true)]
    untouched: usize,

    /// Ask about untouched phrases without showing them first
    #[arg(long, hide_short_help = true)]
    ask_at_once: bool,

    /// Ask line by line, also on a terminal
    #[arg(long)]
    plain: bool,

    /// Keep nothing of this session
    #[arg(long)]
    no_history: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = read_time, hide_short_help = true)]
    now: Option<DateTime>,
}

/// A kind of question, all that are by ear, or all that are about an arrangement.
#[derive(Clone, Debug)]
struct KindGroup(Vec<Kind>);

impl FromStr for KindGroup {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text.eq_ignore_ascii_case("by-ear") {
            let kinds = Kind::ASKED.into_iter();
            return Ok(KindGroup(kinds.filter(|kind| kind.is_by_ear()).collect()));
        }
        if text.eq_ignore_ascii_case("arrangement") {
            let kinds = Kind::ASKED.into_iter();
            let kinds = kinds.filter(|kind| kind.is_of_arrangement());
            return Ok(KindGroup(kinds.collect()));
        }
        match text.parse() {
            Ok(Kind::Play) => Err("what you play is not asked: `neckline listen` hears it".into()),
            Ok(kind) => Ok(KindGroup(vec![kind])),
            Err(error) => Err(ParseError::to_string(&error)),
        }
    }
}

fn answered_by(text: &str) -> Result<AnsweredBy, String> {
    match text {
        "typing" => Ok(AnsweredBy::Typing),
        "playing" => Ok(AnsweredBy::Playing),
        _ => Err(format!("expected typing or playing, found `{text}`")),
    }
}

impl QuestionArgs {
    /// How answers are given.
    pub fn answered_by(&self) -> AnsweredBy {
        self.by
    }

    /// Whether questions are asked by ear.
    pub fn by_ear(&self) -> ByEar {
        match (self.no_sound, self.kinds.is_empty()) {
            (true, _) => ByEar::Never,
            (false, true) => ByEar::WherePossible,
            (false, false) => ByEar::Asked,
        }
    }
}

impl From<QuestionArgs> for SessionRequest {
    fn from(args: QuestionArgs) -> Self {
        SessionRequest {
            kinds: if args.kinds.is_empty() {
                Kind::ASKED.to_vec()
            } else {
                args.kinds.into_iter().flat_map(|group| group.0).collect()
            },
            questions: args.questions,
            // A seed alone means random order; with a fixed time it repeats a session over the history.
            is_random: args.seed.is_some() && args.now.is_none(),
            seed: args.seed,
            mix: args.mix,
            untouched: args.untouched,
            everywhere: false,
            ask_at_once: args.ask_at_once,
            plain: args.plain,
            no_history: args.no_history,
            now: args.now,
        }
    }
}

impl From<DrillArgs> for DrillRequest {
    fn from(args: DrillArgs) -> Self {
        let everywhere = args.all_positions || args.positions.is_some();
        DrillRequest {
            by_ear: args.questions.by_ear(),
            answered_by: args.questions.answered_by(),
            session: SessionRequest {
                everywhere,
                ..args.questions.into()
            },
            part: PartRequest {
                as_fingered: true,
                positions: args.positions,
                all_positions: args.all_positions,
                open_strings: args.no_open.then_some(OpenStrings::Nowhere),
                settings: args.settings.settings,
                arranged: AsArranged::from_option(args.arrangement),
                phrases: args.phrases,
            },
            folder: args.data.into(),
            tune: TuneOnInstrument {
                tune: args.tune.into(),
                instrument: args.instrument.into(),
            },
        }
    }
}
