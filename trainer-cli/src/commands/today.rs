//! `neckline today`: what is due, over all tunes practised.

use std::io::Write;

use fretlib::practice::{Kind, Moment};

use crate::args::DataArgs;
use crate::clock::Clock;
use crate::commands::drill::{self, QuestionArgs};
use crate::failure::Failure;
use crate::history::History;
use crate::session::Deck;
use crate::streams::Streams;

/// Say what is due today over all tunes practised, and drill it.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Examples:
  neckline today                 twenty minutes of what is due, a little that is new
  neckline today --minutes 5
  neckline today --list          only the plan")]
pub struct Today {
    /// How long to practise
    #[arg(long, value_name = "MINUTES", default_value_t = 20, value_parser = clap::value_parser!(u32).range(1..=600))]
    pub minutes: u32,

    /// Only say what is due
    #[arg(long)]
    pub list: bool,

    /// Draw the neck for a left-handed player
    #[arg(long)]
    pub left_handed: bool,

    #[command(flatten)]
    pub questions: QuestionArgs,

    #[command(flatten)]
    pub data: DataArgs,
}

/// A tune of the plan.
struct Share {
    title: String,
    due: usize,
}

/// Plans, says the plan and drills it.
pub fn run(args: &Today, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(args.questions.now)?;
    let now = clock.now();
    let Some(history) = History::open_to_read(&args.data.folder()?)? else {
        return Err(nothing_practised());
    };
    let (decks, shares) = gather(&history, now, args, streams)?;
    if decks.is_empty() {
        return Err(nothing_practised());
    }
    let seconds = history.usual_seconds_of_all()?.unwrap_or(USUAL_SECONDS) + BETWEEN_SECONDS;
    drop(history);
    let room = (f64::from(args.minutes) * 60.0 / seconds).max(1.0) as usize;
    let due: usize = shares.iter().map(|share| share.due).sum();
    for share in &shares {
        writeln!(streams.stdout, "{:>5} due  {}", share.due, share.title)?;
    }
    let mut questions = args.questions.clone();
    let asked = due.min(room);
    let new = questions.new.min(room - asked);
    let minutes = ((asked + new) as f64 * seconds / 60.0).ceil();
    writeln!(
        streams.stdout,
        "{} minutes: {asked} of {due} due, up to {new} new, about {minutes:.0} minutes\n",
        args.minutes
    )?;
    if args.list {
        return Ok(());
    }
    questions.new = new;
    // The seed of a session over what is due fixes the choice among it, not what is due.
    let mut plan = drill::plan(&questions);
    plan.random = false;
    let session = drill::session(decks, &plan, &questions, &args.data)?;
    let most = args.questions.questions.unwrap_or(room as u32);
    let look = drill::Look {
        left_handed: args.left_handed,
        most: Some(most),
    };
    drill::play(session, &clock, look, args.questions.plain, streams)
}

/// The usual time of an answer while nothing is known of the player. Chosen by ear.
const USUAL_SECONDS: f64 = 8.0;
/// Time between an answer and the next question: reading one and the other. Chosen by ear.
const BETWEEN_SECONDS: f64 = 4.0;

/// Opens every tune of the history again; one that is gone or has changed is left out and said.
fn gather(
    history: &History,
    now: Moment,
    args: &Today,
    streams: &mut Streams,
) -> Result<(Vec<Deck>, Vec<Share>), Failure> {
    let model = history.model()?;
    let retention = fretlib::practice::Aim::default().retention;
    let wanted =
        |kind: Kind| args.questions.kinds.is_empty() || args.questions.kinds.contains(&kind);
    let mut decks: Vec<Deck> = Vec::new();
    let mut shares = Vec::new();
    for (shelf, entry) in history.tunes()? {
        // One neck a session: a tune practised on two instruments is asked on the one played last.
        if decks.iter().any(|deck| deck.entry.id == entry.id) {
            continue;
        }
        let deck = match drill::reopen(&entry, streams) {
            Ok(deck) if deck.entry.id == entry.id => deck,
            Ok(_) => {
                writeln!(
                    streams.stderr,
                    "note: {} has changed since it was practised; drill it once to begin anew",
                    entry.title
                )?;
                continue;
            }
            Err(failure) => {
                writeln!(
                    streams.stderr,
                    "note: {} is left out: {failure}",
                    entry.title
                )?;
                continue;
            }
        };
        let memories = history.memories(shelf, entry.id)?;
        let due = memories
            .iter()
            .filter(|(item, memory)| {
                wanted(item.kind) && model.due(memory, retention) <= now.seconds
            })
            .count();
        shares.push(Share {
            title: entry.title.clone(),
            due,
        });
        decks.push(deck);
    }
    Ok((decks, shares))
}

fn nothing_practised() -> Failure {
    Failure::could_not(
        "no tune has been practised yet",
        "begin with `neckline drill TUNE`",
    )
}
