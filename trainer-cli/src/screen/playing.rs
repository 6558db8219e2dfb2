//! The full screen while a melody is played: the current bars as tablature, the neck, and keys that change the sound.

pub mod bar_strip;
pub mod play_drawing;
#[cfg(test)]
mod play_screen_tests;
mod play_state;

use std::time::{Duration, Instant};

use ratatui::crossterm::event as input;

use super::look::Look;
use crate::commands::play::{Live, PlayControl};
use crate::failure::Failure;
use crate::terminal::{FullScreen, ScreenEvent};
use play_state::{PlayEffect, PlayEvent, PlayState, PlayingView};

/// How often the moving mark moves.
const TICK: Duration = Duration::from_millis(33);

/// Plays until the player leaves.
pub fn play_along(
    control: &mut PlayControl,
    live: &mut Live,
    look: Look,
    layers: [bool; 3],
) -> Result<(), Failure> {
    // The sound starts first, so that it does not wait for the screen.
    live.begin(control)?;
    let mut screen = FullScreen::enter()?;
    let mut state = PlayState::new(look, screen.size()?, control.tune.clone(), layers);
    let mut last = Instant::now();
    loop {
        tell(control, live, &mut state)?;
        screen.draw(|frame| play_drawing::draw(&state, frame))?;
        let event = match screen.next_event(TICK)? {
            Some(ScreenEvent::Resumed) => {
                // While the program was stopped, the music was too.
                last = Instant::now();
                let (columns, rows) = screen.size()?;
                Some(PlayEvent::Size(columns, rows))
            }
            Some(ScreenEvent::Input(event)) => event_of(event),
            None => None,
        };
        state.update(PlayEvent::Passed(last.elapsed()));
        last = Instant::now();
        let Some(effect) = event.and_then(|event| state.update(event)) else {
            continue;
        };
        if effect == PlayEffect::Leave {
            return Ok(());
        }
        if let Some(notice) = done(effect, control, live, &state)? {
            state.update(PlayEvent::Notice(notice));
        }
    }
}

/// Updates the screen with the state of the music and the sound, and queues passes.
fn tell(control: &mut PlayControl, live: &Live, state: &mut PlayState) -> Result<(), Failure> {
    let status = live.status();
    state.update(PlayEvent::Playing(PlayingView {
        tempo: control.beats_a_minute(),
        percent: control.percent(),
        stretch: control.stretch_in_words(),
        ladder: control.ladder_in_words(),
        latency: status.latency,
        underruns: status.underruns,
    }));
    if let Some(reason) = status.fault {
        if !state.paused {
            live.stop(control);
            state.update(PlayEvent::Lost(reason));
        }
        return Ok(());
    }
    if state.paused || state.ended {
        return Ok(());
    }
    live.supply(control)?;
    state.update(PlayEvent::Heard(live.heard()));
    if live.is_over() {
        state.update(PlayEvent::Ended);
    }
    Ok(())
}

/// Carries out an effect, and returns a notice about it.
fn done(
    effect: PlayEffect,
    control: &mut PlayControl,
    live: &mut Live,
    state: &PlayState,
) -> Result<Option<String>, Failure> {
    match effect {
        PlayEffect::Leave => {}
        PlayEffect::Pause => live.stop(control),
        PlayEffect::GoOn => {
            if live.status().fault.is_some()
                && let Err(failure) = live.reopen()
            {
                return Ok(Some(failure.to_string()));
            }
            live.go_on(control, state.heard.as_ref())?;
        }
        PlayEffect::Move(bars) => live.move_by(control, bars)?,
        PlayEffect::LoopFrom => live.loop_from_here(control)?,
        PlayEffect::LoopTo => live.loop_to_here(control)?,
        PlayEffect::NoLoop => live.play_all(control)?,
        PlayEffect::Tempo(percent) => {
            if control.ladder().is_some() {
                return Ok(Some(
                    "the ladder sets the tempo: y when a pass was right, n when not".into(),
                ));
            }
            live.change_tempo(control, percent)?;
        }
        PlayEffect::Turn(layer, on) => live.stage().turn(layer, on),
        PlayEffect::Judge(right) => return live.judge(control, right).map(Some),
    }
    Ok(None)
}

/// What an event of the terminal means to the screen.
fn event_of(event: input::Event) -> Option<PlayEvent> {
    match event {
        input::Event::Key(key) => Some(PlayEvent::Key(key)),
        input::Event::Resize(columns, rows) => Some(PlayEvent::Size(columns, rows)),
        _ => None,
    }
}
