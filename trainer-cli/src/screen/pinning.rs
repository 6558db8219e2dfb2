//! The full screen on which the player pins a fingering down, note by note.

mod pin_drawing;
#[cfg(test)]
mod pin_screen_tests;
mod pin_state;

use std::time::Duration;

use ratatui::crossterm::event as input;

use super::choosing::choose_state::TuneHead;
use super::look::Look;
use crate::commands::fingering::FingeringEditor;
use crate::failure::Failure;
use crate::terminal::{FullScreen, ScreenEvent};
use pin_state::{PinEffect, PinEvent, PinState, notes_of};

/// How long the screen waits for a key.
const TICK: Duration = Duration::from_millis(250);

/// Writes the fingering as it is, and says where.
pub type KeepFingering<'a> = &'a mut dyn FnMut(&FingeringEditor) -> Result<String, Failure>;

/// Lets the player pin notes until they leave; without `save` there is no file for the fingering.
pub fn pin_down(
    editor: &mut FingeringEditor,
    head: TuneHead,
    look: Look,
    mut save: Option<KeepFingering>,
) -> Result<(), Failure> {
    let mut screen = FullScreen::enter()?;
    let mut state = PinState::new(look, screen.size()?, head, save.is_some());
    show(editor, &mut state);
    loop {
        screen.draw(|frame| pin_drawing::draw(&state, frame))?;
        let event = match screen.next_event(TICK)? {
            Some(ScreenEvent::Resumed) => {
                let (columns, rows) = screen.size()?;
                Some(PinEvent::Size(columns, rows))
            }
            Some(ScreenEvent::Input(event)) => event_of(event),
            None => None,
        };
        let Some(effect) = event.and_then(|event| state.update(event)) else {
            continue;
        };
        match effect {
            PinEffect::Leave => return Ok(()),
            PinEffect::Save { then_leave } => {
                let Some(save) = &mut save else {
                    state.update(PinEvent::Notice("this tune lies in no file".into()));
                    continue;
                };
                match save(editor) {
                    Ok(_) if then_leave => return Ok(()),
                    Ok(notice) => {
                        editor.now_saved();
                        show(editor, &mut state);
                        state.update(PinEvent::Notice(notice));
                    }
                    Err(failure) => {
                        state.update(PinEvent::Notice(failure.to_string()));
                    }
                }
            }
            _ => {
                let notice = done(effect, editor, &state);
                show(editor, &mut state);
                if let Some(notice) = notice {
                    state.update(PinEvent::Notice(notice));
                }
            }
        }
    }
}

/// Shows the fingering as it is now.
fn show(editor: &FingeringEditor, state: &mut PinState) {
    state.update(PinEvent::Fingered(notes_of(editor)));
    let places = editor.places(state.note);
    let caution = editor.cautions().get(state.note).copied().flatten();
    state.update(PinEvent::Places(places, caution));
}

/// Does what a key asked for; what there is to say about it is returned.
fn done(effect: PinEffect, editor: &mut FingeringEditor, state: &PinState) -> Option<String> {
    let note = state.note;
    let before = match effect {
        PinEffect::Pin | PinEffect::Home => editor.cautions(),
        _ => Vec::new(),
    };
    let moved = match effect {
        PinEffect::Pin => {
            let place = state.places.get(state.place)?;
            match place.is_present {
                true => editor.toggle_pin(note),
                false => editor.pin(note, place.note.place.into()),
            }
        }
        PinEffect::Home => editor.home_from(note, editor.fingering().notes[note].position),
        PinEffect::Undo => {
            return (!editor.undo()).then(|| "nothing to take back".into());
        }
        PinEffect::Redo => {
            return (!editor.redo()).then(|| "nothing was taken back".into());
        }
        PinEffect::Look | PinEffect::Save { .. } | PinEffect::Leave => return None,
    };
    // The hand may have to go far now where the screen does not look.
    let cautions = editor.cautions();
    let new = (cautions.iter().zip(before).enumerate())
        .filter(|(at, (now, before))| *at != note && now.is_some() && **now != *before);
    let nearest = new.min_by_key(|(at, _)| at.abs_diff(note));
    if let Some((at, (Some(caution), _))) = nearest {
        return Some(format!("note {}: {caution}", at + 1));
    }
    Some(match moved {
        Ok(0) => "every note stays where it is".into(),
        Ok(1) => "1 note has another place".into(),
        Ok(moved) => format!("{moved} notes have other places"),
        Err(why) => why.into(),
    })
}

/// What an event of the terminal means to the screen.
fn event_of(event: input::Event) -> Option<PinEvent> {
    match event {
        input::Event::Key(key) => Some(PinEvent::Key(key)),
        input::Event::Resize(columns, rows) => Some(PinEvent::Size(columns, rows)),
        _ => None,
    }
}
