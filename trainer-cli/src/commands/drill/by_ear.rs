//! Questions by ear in a session: left out where nothing can be heard, played where something can.

use std::sync::Arc;

use fretlib::practice::Moment;

use crate::audio::SoundOutput;
use crate::failure::Failure;
use crate::request::{ByEar, SessionRequest};
use crate::session::{Asked, Session};
use crate::terminal::Streams;

/// Leaves the kinds by ear out of a request where they cannot or shall not be asked, and says why when the player might
/// expect them.
///
/// # Errors
///
/// When no kind is left.
pub fn settle(
    request: &mut SessionRequest,
    by_ear: ByEar,
    streams: &mut Streams,
) -> Result<Option<String>, Failure> {
    let is_wanted = match by_ear {
        ByEar::Never => false,
        ByEar::WherePossible => streams.stdin_is_terminal,
        ByEar::Asked => true,
    };
    if !request.kinds.iter().any(|kind| kind.is_by_ear()) {
        return Ok(None);
    }
    let problem = match is_wanted {
        true => streams.sound.open().err(),
        false => None,
    };
    if is_wanted && problem.is_none() {
        return Ok(None);
    }
    request.kinds.retain(|kind| !kind.is_by_ear());
    match problem {
        None if request.kinds.is_empty() => Err(Failure::usage(
            "without sound nothing can be asked by ear",
            "leave out `--no-sound`, or ask for other kinds with `--kinds`",
        )),
        Some(reason) if request.kinds.is_empty() => Err(Failure::could_not(
            format!("nothing can be asked by ear: {reason}"),
            "ask for other kinds with `--kinds`",
        )),
        problem => Ok(problem.map(|reason| left_out(&reason))),
    }
}

fn left_out(reason: &str) -> String {
    format!("questions by ear are left out: {reason}")
}

/// The next question that can be put. When one by ear cannot be heard, all of them are left out from then on, and why is
/// returned beside the question.
pub fn next(
    session: &mut Session,
    sound: &mut dyn SoundOutput,
    now: Moment,
) -> (Option<Asked>, Option<String>) {
    let mut news = None;
    loop {
        let asked = session.next(now);
        let problem = asked
            .as_ref()
            .and_then(|asked| problem(session, asked, sound));
        let Some(reason) = problem else {
            return (asked, news);
        };
        news = Some(left_out(&reason));
        session.leave_out_by_ear();
    }
}

/// Why a question cannot be heard; none when it can, or need not.
fn problem(session: &Session, asked: &Asked, sound: &mut dyn SoundOutput) -> Option<String> {
    if !asked.question.is_heard() {
        return None;
    }
    match asked.question.sound(&session.tune(asked).material) {
        Some(_) => sound.open().err(),
        None => Some("a note of the tune is too low, too high or too late to be heard".into()),
    }
}

/// Plays a question by ear; at any other what still sounds ends.
pub fn play(session: &Session, asked: &Asked, sound: &mut dyn SoundOutput) {
    match asked.question.sound(&session.tune(asked).material) {
        Some(performance) => sound.play(Arc::new(performance)),
        None => sound.stop(),
    }
}

/// Plays the answer of a question by ear.
pub fn play_answer(session: &Session, asked: &Asked, sound: &mut dyn SoundOutput) {
    if let Some(performance) = asked.question.answer_sound(&session.tune(asked).material) {
        sound.play(Arc::new(performance));
    }
}
