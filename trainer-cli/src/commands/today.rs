//! `neckline today`: what to play again, over all tunes practised.

use std::io::Write;

use std::time::Duration;

use fretlib::practice::{Moment, SessionAim, Standing};

use crate::commands::drill;
use crate::failure::Failure;
use crate::history::History;
use crate::request::{HistoryFolder, SessionRequest};
use crate::session::{PracticeTune, Session};
use crate::terminal::{Clock, Streams};

/// What to plan, and how long.
#[derive(Debug)]
pub struct TodayRequest {
    /// How long to practise.
    pub minutes: u32,
    /// Only say the plan.
    pub list: bool,
    /// Draw the neck for a left-handed player.
    pub left_handed: bool,
    /// What is asked, how much and in which order.
    pub session: SessionRequest,
    /// Where the history is.
    pub folder: HistoryFolder,
}

/// A tune of the plan.
struct Share {
    title: String,
    fading: usize,
}

/// Plans, says the plan and drills it.
pub fn run(request: &TodayRequest, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(request.session.now)?;
    let now = clock.now();
    let Some(history) = History::open_to_read(&request.folder.path()?)? else {
        return Err(nothing_practised());
    };
    let (tunes, shares) = gather(&history, now, request, streams)?;
    if tunes.is_empty() {
        return Err(nothing_practised());
    }
    let seconds = history.usual_seconds_of_all()?.unwrap_or(USUAL_SECONDS) + BETWEEN_SECONDS;
    drop(history);
    let room = (f64::from(request.minutes) * 60.0 / seconds).max(1.0) as usize;
    let fading: usize = shares.iter().map(|share| share.fading).sum();
    for share in &shares {
        writeln!(
            streams.stdout,
            "{:>5} to play again  {}",
            share.fading, share.title
        )?;
    }
    let mut of_today = request.session.clone();
    let asked = fading.min(room);
    let untouched = of_today.untouched.min(room - asked);
    let minutes = ((asked + untouched) as f64 * seconds / 60.0).ceil();
    writeln!(
        streams.stdout,
        "{} minutes: {asked} of {fading} to play again, up to {untouched} untouched, about {minutes:.0} minutes\n",
        request.minutes
    )?;
    if request.list {
        return Ok(());
    }
    of_today.untouched = untouched;
    // A seed fixes the choice among what fades, not what fades.
    of_today.is_random = false;
    let session = Session::open(tunes, &of_today, &request.folder, now)?;
    let most = request.session.questions.unwrap_or(room as u32);
    let look = drill::Look {
        left_handed: request.left_handed,
        most: Some(most),
        longest: Duration::from_secs(60 * u64::from(request.minutes)),
    };
    drill::play(session, &clock, look, request.session.plain, streams)
}

/// The usual time of an answer while nothing is known of the player. Chosen by ear.
const USUAL_SECONDS: f64 = 8.0;
/// Time between an answer and the next question: reading one and the other. Chosen by ear.
const BETWEEN_SECONDS: f64 = 4.0;

/// Opens every tune of the history again; one that is gone or has changed is left out and said.
fn gather(
    history: &History,
    now: Moment,
    request: &TodayRequest,
    streams: &mut Streams,
) -> Result<(Vec<PracticeTune>, Vec<Share>), Failure> {
    let model = history.model()?;
    let retention = SessionAim::default().retention;
    let mut tunes: Vec<PracticeTune> = Vec::new();
    let mut shares = Vec::new();
    for (known, entry) in history.tunes()? {
        // One neck a session: a tune practised on two instruments is asked on the one played last.
        if tunes.iter().any(|tune| tune.entry.id == entry.id) {
            continue;
        }
        let tune = match PracticeTune::reopen(&entry, streams) {
            Ok(tune) if tune.entry.id == entry.id => tune,
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
        let memories = history.memories(known, entry.id)?;
        let fading = memories
            .iter()
            .filter(|(item, memory)| {
                request.session.kinds.contains(&item.kind)
                    && model.standing(Some(memory), now, retention) == Standing::Fades
            })
            .count();
        shares.push(Share {
            title: entry.title.clone(),
            fading,
        });
        tunes.push(tune);
    }
    Ok((tunes, shares))
}

fn nothing_practised() -> Failure {
    Failure::could_not(
        "no tune has been practised yet",
        "begin with `neckline drill TUNE`",
    )
}
