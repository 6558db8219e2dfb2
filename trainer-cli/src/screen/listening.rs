//! The full screen while the program listens: the bars as tablature, what was struck last, the verdicts of the last pass.

mod listen_drawing;
#[cfg(test)]
mod listen_screen_tests;
mod listen_state;

use std::time::Duration;

use ratatui::crossterm::event as input;

use super::look::Look;
use crate::audio::{SoundInput, cannot_listen};
use crate::commands::listen::LiveSession;
use crate::failure::Failure;
use crate::terminal::{FullScreen, ScreenEvent};
use listen_state::{ListenEffect, ListenEvent, ListenState, ListeningView};

/// How often sound and keys are looked for.
const TICK: Duration = Duration::from_millis(15);

/// Listens until the player leaves.
pub fn listen_along(
    session: &mut LiveSession,
    microphone: &mut dyn SoundInput,
    look: Look,
) -> Result<(), Failure> {
    let mut screen = FullScreen::enter()?;
    let tune = session.control.tune.clone();
    let mut state = ListenState::new(look, screen.size()?, tune, session.music.clone());
    loop {
        state.update(ListenEvent::Listening(view_of(session)));
        screen.draw(|frame| listen_drawing::draw(&state, frame))?;
        if state.is_listening() {
            listen(session, microphone, &mut state)?;
        }
        let wait = match state.is_listening() {
            true => Duration::ZERO,
            false => TICK,
        };
        let event = match screen.next_event(wait)? {
            Some(ScreenEvent::Resumed) => {
                // What was played while the program was stopped is not to be judged.
                session.begin_again();
                let (columns, rows) = screen.size()?;
                Some(ListenEvent::Size(columns, rows))
            }
            Some(ScreenEvent::Input(input::Event::Key(key))) => Some(ListenEvent::Key(key)),
            Some(ScreenEvent::Input(input::Event::Resize(columns, rows))) => {
                Some(ListenEvent::Size(columns, rows))
            }
            Some(ScreenEvent::Input(_)) | None => None,
        };
        match event.and_then(|event| state.update(event)) {
            None => {}
            Some(ListenEffect::Leave) => return Ok(()),
            Some(ListenEffect::Close) => {
                session.pause();
                microphone.close();
            }
            Some(ListenEffect::Open) => match microphone.open() {
                Ok(_) => session.begin_again(),
                Err(reason) => {
                    state.update(ListenEvent::Lost(reason));
                }
            },
            Some(ListenEffect::Tuner) => session.turn_tuner(),
        }
    }
}

/// Hears what has come, and tells the screen.
fn listen(
    session: &mut LiveSession,
    microphone: &mut dyn SoundInput,
    state: &mut ListenState,
) -> Result<(), Failure> {
    let news = match microphone.next(TICK) {
        Ok(Some(samples)) => session.hear(&samples)?,
        Ok(None) => {
            let news = session.finish()?;
            state.update(ListenEvent::Lost("the sound has ended".into()));
            news
        }
        Err(reason) => {
            session.pause();
            state.update(ListenEvent::Lost(cannot_listen(&reason).to_string()));
            Vec::new()
        }
    };
    for news in news {
        state.update(ListenEvent::News(news));
    }
    if session.is_over() {
        session.pause();
        microphone.close();
        state.update(ListenEvent::Over);
    }
    Ok(())
}

fn view_of(session: &LiveSession) -> ListeningView {
    ListeningView {
        aim: session.aim_in_words(),
        // A moment of the beat, in the time of the pass as it is written.
        place: session
            .whereabouts()
            .map(|here| session.music.tempo_map.seconds_at(here.onset)),
        music: session.music.clone(),
        hearing: session.hearing(),
        is_counting_in: session.is_counting_in(),
        tuner: session.tuner(),
    }
}
