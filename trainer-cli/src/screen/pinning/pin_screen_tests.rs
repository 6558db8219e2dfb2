//! The screen for pinning as it is drawn, and what keys do to the fingering.

use fretlib::fingering::{FingeringSearch, Player};
use fretlib::format::abc;
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::Octave;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::pin_drawing::draw;
use super::pin_state::{PinEffect, PinEvent, PinMode, PinState};
use super::{TuneHead, done, show};
use crate::commands::fingering::{Decisions, FingeringEditor};
use crate::screen::look::Look;
use crate::screen::snapshot::{self, check_drawn};

const BELL: &str =
    "X:1\nT:Ferry Bell\nM:4/4\nL:1/8\nK:G\nG2 B2 d2 g2|f2 d2 B2 A2|e4 c4|d2 e2 f2 a2|g8|\n";

/// A player at the screen.
struct AtScreen<'a> {
    editor: FingeringEditor<'a>,
    state: PinState,
}

/// Sits a player down at a screen of this size.
fn play(size: (u16, u16), ascii: bool, left_handed: bool, then: impl FnOnce(&mut AtScreen)) {
    let melody = abc::read(BELL.as_bytes(), &abc::AbcOptions::default())
        .unwrap()
        .melody;
    let guitar = Instrument::default();
    let search = FingeringSearch::new(Player {
        instrument: &guitar,
        hand: Hand::MEDIUM,
    });
    let found = search.best(&melody, Octave::WRITTEN).unwrap();
    let look = Look {
        color: true,
        ascii,
        left_handed,
    };
    let head = TuneHead {
        title: "Ferry Bell".into(),
        facts: "G major, guitar".into(),
        instrument: guitar.clone(),
    };
    let begun = (Decisions::default(), found);
    let mut player = AtScreen {
        editor: FingeringEditor::new(search, &melody, Octave::WRITTEN, begun, false).unwrap(),
        state: PinState::new(look, size, head, true),
    };
    show(&player.editor, &mut player.state);
    then(&mut player);
}

impl AtScreen<'_> {
    fn press(&mut self, code: KeyCode) -> Option<PinEffect> {
        let key = KeyEvent::new(code, KeyModifiers::NONE);
        let effect = self.state.update(PinEvent::Key(key))?;
        let notice = done(effect, &mut self.editor, &self.state);
        show(&self.editor, &mut self.state);
        if let Some(notice) = notice {
            self.state.update(PinEvent::Notice(notice));
        }
        Some(effect)
    }

    fn drawn(&self) -> String {
        snapshot::drawn(self.state.size, |frame| draw(&self.state, frame))
    }

    /// The place of a note, as `string:fret`.
    fn place(&self, note: usize) -> String {
        self.editor.fingering().notes[note].place.to_string()
    }
}

#[test]
fn the_screen_looks_as_it_did() {
    for (size, ascii, left_handed, name) in [
        ((80, 24), false, false, "pinning_80x24"),
        ((60, 20), true, false, "pinning_ascii_60x20"),
        ((120, 40), false, true, "pinning_left_handed_120x40"),
    ] {
        play(size, ascii, left_handed, |player| {
            player.press(KeyCode::Right);
            player.press(KeyCode::Right);
            player.press(KeyCode::Down);
            player.press(KeyCode::Char('p'));
            check_drawn(&player.drawn(), name);
        });
    }
    play((80, 24), false, false, |player| {
        player.press(KeyCode::Char('?'));
        check_drawn(&player.drawn(), "pinning_help_80x24");
    });
    play((59, 24), false, false, |player| {
        assert!(player.drawn().contains("needs 60 x 20, this is 59 x 24"));
    });
}

#[test]
fn a_pin_moves_the_notes_around_it_and_undo_brings_them_back() {
    play((80, 24), false, false, |player| {
        let before = player.editor.fingering().clone();
        assert!(!player.editor.is_changed());
        player.press(KeyCode::Char(']'));
        let note = player.state.note;
        assert_eq!(note, 4);
        player.press(KeyCode::Down);
        let place = player.state.places[player.state.place]
            .note
            .place
            .to_string();
        assert_ne!(place, player.place(note));
        player.press(KeyCode::Char('p'));
        assert_eq!(player.place(note), place);
        assert!(player.editor.is_pinned(note) && player.editor.is_changed());
        assert!(player.editor.kept().notes[note].is_pinned);
        // As in a search with that pin.
        player.press(KeyCode::Char('p'));
        assert!(!player.editor.is_pinned(note), "pressed again it lets go");
        assert_eq!(player.editor.fingering().notes, before.notes);
        player.press(KeyCode::Char('u'));
        assert_eq!(player.place(note), place);
        player.press(KeyCode::Char('u'));
        assert_eq!(player.editor.fingering(), &before);
        assert!(!player.editor.is_changed());
        player.press(KeyCode::Char('r'));
        assert_eq!(player.place(note), place);
    });
}

#[test]
fn a_home_holds_from_here_on() {
    play((80, 24), false, false, |player| {
        player.press(KeyCode::Char(']'));
        player.press(KeyCode::End);
        player.press(KeyCode::Down);
        player.press(KeyCode::Char('p'));
        player.press(KeyCode::Home);
        player.press(KeyCode::Char('h'));
        assert!(
            player.editor.homes().ends_with("@1-5"),
            "{}",
            player.editor.homes()
        );
        player.press(KeyCode::End);
        let position = player.editor.fingering().notes[player.state.note].position;
        player.press(KeyCode::Char('h'));
        let homes = player.editor.homes();
        assert!(
            homes.ends_with(&format!("{position}@5")) && homes.contains("@1-4 "),
            "{homes}"
        );
        player.press(KeyCode::Char('h'));
        assert!(
            player.editor.homes().ends_with("@1-4"),
            "{}",
            player.editor.homes()
        );
    });
}

#[test]
fn leaving_asks_first() {
    play((80, 24), false, false, |player| {
        assert_eq!(player.press(KeyCode::Char('q')), Some(PinEffect::Leave));
        player.press(KeyCode::Char('p'));
        assert_eq!(player.press(KeyCode::Char('q')), None);
        assert!(
            player
                .drawn()
                .contains("This fingering is not saved. Leave?")
        );
        player.press(KeyCode::Char('x'));
        assert_eq!(player.state.mode, PinMode::Pinning);
        player.press(KeyCode::Esc);
        let save = PinEffect::Save { then_leave: true };
        assert_eq!(player.press(KeyCode::Char('s')), Some(save));
    });
}

#[test]
fn many_shifts_fit_beside_the_neck_and_an_open_string_has_no_finger() {
    play((80, 24), false, false, |player| {
        assert!(
            player
                .drawn()
                .contains("note 1: G4, string 3, open, the hand in ")
        );
        player.state.places[0].shifts = Some(112);
        assert!(player.state.places[0].is_present);
        assert!(player.drawn().contains("now, 112 shifts\n"));
    });
}

#[test]
fn a_pin_far_away_carries_the_caution() {
    play((80, 24), false, false, |player| {
        let pin_at_end = |player: &mut AtScreen, end| {
            for _ in 0..player.state.places.len() {
                player.press(end);
            }
            player.press(KeyCode::Char('p'));
        };
        // Notes 3 and 4 as high as they lie, then note 3 as low as it does: the hand has to go far to note 4.
        for _ in 0..3 {
            player.press(KeyCode::Right);
        }
        pin_at_end(player, KeyCode::Down);
        player.press(KeyCode::Left);
        pin_at_end(player, KeyCode::Down);
        pin_at_end(player, KeyCode::Up);
        assert_eq!(
            (player.place(2), player.place(3)),
            ("2:3".into(), "5:22".into())
        );
        let drawn = player.drawn();
        let notice = drawn.lines().rev().nth(1).unwrap();
        assert!(
            notice.starts_with("  note ") && notice.ends_with("stop at the first pain"),
            "{drawn}"
        );
    });
}
