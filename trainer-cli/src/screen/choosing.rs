//! The full screen on which the player chooses what sounds under a melody, note by note.

pub(super) mod choose_drawing;
#[cfg(test)]
mod choose_screen_tests;
pub(super) mod choose_state;
mod choose_view;
mod voiced_strip;

use std::time::Duration;

use ratatui::crossterm::event as input;

use super::look::Look;
use crate::commands::arrange::{ArrangementEditor, Audition};
use crate::failure::Failure;
use crate::terminal::{FullScreen, ScreenEvent};
use choose_state::{ChooseEffect, ChooseEvent, ChooseState};
use choose_view::{candidates, view};

pub use choose_state::TuneHead;

/// How long the screen waits for a key when nothing is left to prepare.
const TICK: Duration = Duration::from_millis(250);

/// Writes the choices as they are, and says where.
pub type KeepChoices<'a> = &'a mut dyn FnMut(&ArrangementEditor) -> Result<String, Failure>;

/// Lets the player choose until they leave; without `save` there is no file for what was chosen.
pub fn choose(
    editor: &mut ArrangementEditor,
    head: TuneHead,
    look: Look,
    contrast: f64,
    mut save: Option<KeepChoices>,
) -> Result<(), Failure> {
    let mut screen = FullScreen::enter()?;
    let mut state = ChooseState::new(look, screen.size()?, head, save.is_some());
    let mut audition = Audition::new(contrast);
    show(editor, &mut state);
    let mut is_ready = false;
    loop {
        screen.draw(|frame| choose_drawing::draw(&state, frame))?;
        // What later choices may need is worked out while nobody types.
        let event = loop {
            let within = if is_ready { TICK } else { Duration::ZERO };
            match screen.next_event(within)? {
                Some(event) => break event,
                None => is_ready = !editor.prepare(),
            }
        };
        let event = match event {
            ScreenEvent::Resumed => {
                let (columns, rows) = screen.size()?;
                Some(ChooseEvent::Size(columns, rows))
            }
            ScreenEvent::Input(event) => event_of(event),
        };
        let Some(effect) = event.and_then(|event| state.update(event)) else {
            continue;
        };
        is_ready = false;
        match effect {
            ChooseEffect::Leave => return Ok(()),
            ChooseEffect::Save { then_leave } => match saved(editor, &mut save) {
                Ok(notice) => {
                    if then_leave {
                        return Ok(());
                    }
                    show(editor, &mut state);
                    state.update(ChooseEvent::Notice(notice));
                }
                Err(failure) => {
                    state.update(ChooseEvent::Notice(failure.to_string()));
                }
            },
            ChooseEffect::Hear | ChooseEffect::HearBars => {
                if let Err(failure) = heard(effect, editor, &state, &mut audition) {
                    state.update(ChooseEvent::Notice(failure.to_string()));
                }
            }
            _ => {
                let notice = done(effect, editor, &state);
                show(editor, &mut state);
                if let Some(notice) = notice {
                    state.update(ChooseEvent::Notice(notice.into()));
                }
            }
        }
    }
}

/// Shows the arrangement as it is now.
fn show(editor: &mut ArrangementEditor, state: &mut ChooseState) {
    state.update(ChooseEvent::Arranged(view(editor)));
    let found = candidates(editor, state.stop, &state.filters);
    state.update(ChooseEvent::Candidates(found));
}

/// Does what a key asked for; what there is to say about it is returned.
fn done(
    effect: ChooseEffect,
    editor: &mut ArrangementEditor,
    state: &ChooseState,
) -> Option<&'static str> {
    match effect {
        ChooseEffect::Pick => {
            let found = state.candidates.shown.get(state.candidate)?;
            editor.pick(state.stop, &found.voicing);
            None
        }
        ChooseEffect::Pin => editor.pin(state.stop).err(),
        ChooseEffect::Bare => editor.leave_bare(state.stop).err(),
        ChooseEffect::Undo => (!editor.undo()).then_some("nothing to take back"),
        ChooseEffect::Redo => (!editor.redo()).then_some("nothing was taken back"),
        _ => None,
    }
}

fn saved(
    editor: &mut ArrangementEditor,
    save: &mut Option<KeepChoices>,
) -> Result<String, Failure> {
    let Some(save) = save else {
        return Err(Failure::could_not(
            "this tune lies in no file: name one with `--choices FILE`",
            "",
        ));
    };
    let notice = save(editor)?;
    editor.now_saved();
    Ok(notice)
}

fn heard(
    effect: ChooseEffect,
    editor: &ArrangementEditor,
    state: &ChooseState,
    audition: &mut Audition,
) -> Result<(), Failure> {
    let under = state.candidates.shown.get(state.candidate);
    match (effect, under) {
        (ChooseEffect::Hear, Some(found)) => audition.voicing(editor, &found.voicing),
        _ => audition.bars(editor, state.stop),
    }
}

/// What an event of the terminal means to the screen.
fn event_of(event: input::Event) -> Option<ChooseEvent> {
    match event {
        input::Event::Key(key) => Some(ChooseEvent::Key(key)),
        input::Event::Resize(columns, rows) => Some(ChooseEvent::Size(columns, rows)),
        _ => None,
    }
}
