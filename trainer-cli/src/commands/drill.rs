//! `neckline drill`: questions about a melody, wherever it lies whole.

mod lines;
mod reopen;
mod setup;

use std::ops::RangeInclusive;

use fretlib::neck::Position;
use fretlib::practice::{Kind, Mix};

use crate::args::{self, DataArgs, InstrumentArgs, TuneArgs};
use crate::clock::{self, Clock};
use crate::failure::Failure;
use crate::screen;
use crate::session::Session;
use crate::streams::Streams;

pub use lines::Look;
pub use reopen::reopen;
pub use setup::{Part, deck, plan, session};

/// Ask where the notes of a melody are, and what they are.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Kinds of question:
  place     where is this note of the melody: string and fret
  name      what is at this place: note and degree
  degree    which degree of the key is this note
  interval  which interval leads to the next note
  next      what comes next: its name or its place
  scale     is it in the scale and, if not, what is it
  octave    where is the same note an octave away, in another position

Answers are read generously: `3 5`, `s3 f5`; `Eb`, `e flat`; `m3`, `minor third`; `no #4`. An enharmonic answer \
counts, and its spelling is pointed out. `?` shows the answer, `q` ends.

Questions follow your history: what is due, what is weak, a little that is new. With --seed they are chosen at random, \
the same for the same seed; with --seed and --now a session over the same history is the same.

Examples:
  neckline drill my-tune.ron
  neckline drill my-tune.ron --kinds place,next --positions V-IX --bars 1-8
  neckline drill --questions 20 --seed 7")]
pub struct Drill {
    #[command(flatten)]
    pub questions: QuestionArgs,

    /// Only these positions, such as 2-9 or II-IX
    #[arg(long, value_name = "POSITIONS", value_parser = args::positions)]
    pub positions: Option<RangeInclusive<Position>>,

    /// Only these phrases, such as 2 or 1-3
    #[arg(long, value_name = "PHRASES", value_parser = args::numbers)]
    pub phrases: Option<RangeInclusive<u32>>,

    #[command(flatten)]
    pub data: DataArgs,

    #[command(flatten)]
    pub tune: TuneArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,
}

/// What is asked, how much and in which order.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "Questions")]
pub struct QuestionArgs {
    /// Only these kinds of question [default: all]
    #[arg(long, value_name = "KINDS", value_delimiter = ',')]
    pub kinds: Vec<Kind>,

    /// End after this many questions
    #[arg(long, value_name = "N")]
    pub questions: Option<u32>,

    /// Choose questions at random, the same ones for the same number
    #[arg(long, value_name = "NUMBER")]
    pub seed: Option<u64>,

    /// How questions follow each other: growing (new ones in blocks, the rest mixed), mixed or blocks
    #[arg(long, value_name = "MIX", default_value = "growing")]
    pub mix: Mix,

    /// The most new items in one session; an item is a phrase asked in one way at one position and octave
    #[arg(long, value_name = "N", default_value_t = 12)]
    pub new: usize,

    /// Ask line by line, also on a terminal
    #[arg(long)]
    pub plain: bool,

    /// Keep nothing of this session
    #[arg(long)]
    pub no_history: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = clock::read_time)]
    pub now: Option<jiff::civil::DateTime>,
}

/// Asks.
pub fn run(args: &Drill, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(args.questions.now)?;
    let deck = deck(
        &args.tune,
        &args.instrument,
        &Part {
            positions: args.positions.clone(),
            phrases: args.phrases.clone(),
        },
        streams,
    )?;
    let plan = plan(&args.questions);
    let session = session(vec![deck], &plan, &args.questions, &args.data)?;
    let look = Look {
        left_handed: args.instrument.left_handed,
        most: args.questions.questions,
    };
    play(session, &clock, look, args.questions.plain, streams)
}

/// Plays a session: on the full screen when a person sits at a terminal, else line by line.
pub fn play(
    mut session: Session,
    clock: &Clock,
    look: Look,
    plain: bool,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if plain || !streams.stdin_is_terminal || !streams.stdout_is_terminal {
        return lines::run(session, clock, look, streams);
    }
    streams.stdout.flush()?;
    let screen_look = screen::Look {
        color: streams.color,
        ascii: streams.ascii,
        left_handed: look.left_handed,
    };
    screen::play(&mut session, clock, screen_look, look.most)?;
    lines::close(session, clock, streams)
}
