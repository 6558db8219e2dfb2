//! The screen for choosing as it is drawn, and what keys do to the arrangement.

use fretlib::arranging::{Arranger, ArrangingSettings, Chosen, Lattice, Style};
use fretlib::format::abc;
use fretlib::melody::Melody;
use fretlib::neck::{Hand, Instrument};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::choose_drawing::draw;
use super::choose_state::{ChooseEffect, ChooseEvent, ChooseMode, ChooseState, TuneHead};
use super::{done, show};
use crate::commands::arrange::ArrangementEditor;
use crate::screen::look::Look;
use crate::screen::snapshot::{self, check_drawn};

const BELL: &str = "X:1\nT:Ferry Bell\nM:4/4\nL:1/4\nQ:1/4=100\nK:C\n\"Dm7\"f2 e d|\"G7\"f4|\"Cmaj7\"e2 g2|\"Am7\"c' b a g|\"Dm7\"a2 \"G7\"g2|\"Cmaj7\"e4|\n";

fn melody() -> Melody {
    let reading = abc::read(BELL.as_bytes(), &abc::AbcOptions::default());
    reading.unwrap().melody
}

/// A player at the screen.
struct Player<'a> {
    editor: ArrangementEditor<'a>,
    state: ChooseState,
}

/// Sits a player down at a screen of this size.
fn play(size: (u16, u16), ascii: bool, left_handed: bool, then: impl FnOnce(&mut Player)) {
    let (melody, guitar) = (melody(), Instrument::default());
    let arranger = Arranger {
        instrument: &guitar,
        hand: Hand::MEDIUM,
        style: Style::SHELLS,
    };
    let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default()).unwrap();
    let head = TuneHead {
        title: "Ferry Bell".into(),
        facts: "C major, guitar, style shells, density medium".into(),
        instrument: guitar.clone(),
    };
    let look = Look {
        color: true,
        ascii,
        left_handed,
    };
    let mut player = Player {
        editor: ArrangementEditor::new(&lattice, Vec::new(), Vec::new()),
        state: ChooseState::new(look, size, head, true),
    };
    show(&mut player.editor, &mut player.state);
    then(&mut player);
}

impl Player<'_> {
    fn press(&mut self, code: KeyCode) -> Option<ChooseEffect> {
        let key = KeyEvent::new(code, KeyModifiers::NONE);
        let effect = self.state.update(ChooseEvent::Key(key))?;
        let notice = done(effect, &mut self.editor, &self.state);
        show(&mut self.editor, &mut self.state);
        if let Some(notice) = notice {
            self.state.update(ChooseEvent::Notice(notice.into()));
        }
        Some(effect)
    }

    fn type_in(&mut self, text: &str) {
        for c in text.chars() {
            self.press(KeyCode::Char(c));
        }
    }

    fn drawn(&self) -> String {
        snapshot::drawn(self.state.size, |frame| draw(&self.state, frame))
    }

    fn shapes(&self) -> Vec<&str> {
        let shown = self.state.candidates.shown.iter();
        shown.map(|it| it.shape.as_str()).collect()
    }
}

#[test]
fn bars_voicings_and_neck_are_seen_at_every_size() {
    play((80, 24), false, false, |player| {
        player.press(KeyCode::Char(']'));
        player.press(KeyCode::Char('p'));
        check_drawn(&player.drawn(), "choosing_80x24");
    });
    play((60, 20), true, false, |player| {
        player.type_in("]]/no root");
        check_drawn(&player.drawn(), "choosing_typing_60x20");
    });
    play((120, 40), false, true, |player| {
        player.type_in("b]");
        player.press(KeyCode::Down);
        check_drawn(&player.drawn(), "choosing_left_handed_120x40");
    });
}

#[test]
fn a_voicing_is_picked_pinned_left_out_and_taken_back() {
    play((80, 24), false, false, |player| {
        let free = player.editor.arrangement().clone();
        player.press(KeyCode::Down);
        let picked = player.shapes()[1].to_owned();
        assert_eq!(player.press(KeyCode::Enter), Some(ChooseEffect::Pick));
        assert_eq!(player.editor.choices()[0].chosen.to_string(), picked);
        assert!(
            player.state.stops[0]
                .words
                .ends_with(&format!("pinned {picked}"))
        );
        assert!(player.editor.arrangement().cost >= free.cost - 1e-9);
        assert!(player.state.is_changed && player.drawn().contains("not saved"));
        // The one that sounds is the one that is looked at next.
        assert_eq!(player.shapes()[player.state.candidate], picked);
        player.press(KeyCode::Char('b'));
        assert_eq!(player.editor.choices().len(), 1);
        assert_eq!(player.editor.choices()[0].chosen, Chosen::Bare);
        assert!(player.drawn().contains("left bare"));
        // What could sound there is still to be seen, and picked.
        assert!(player.shapes().len() > 5);
        player.press(KeyCode::Char('u'));
        assert_eq!(player.editor.choices()[0].chosen.to_string(), picked);
        player.press(KeyCode::Char('u'));
        // The same way, though its cost was added up in another order.
        assert_eq!(player.editor.arrangement().notes, free.notes);
        assert!(!player.state.is_changed);
        player.press(KeyCode::Char('u'));
        assert_eq!(player.state.notice.as_deref(), Some("nothing to take back"));
        player.press(KeyCode::Char('r'));
        assert_eq!(player.editor.choices()[0].chosen.to_string(), picked);
        // Pinned already: let go.
        player.press(KeyCode::Char('p'));
        assert!(player.editor.choices().is_empty());
        assert_eq!(player.editor.arrangement().notes, free.notes);
    });
}

#[test]
fn what_is_typed_narrows_the_list_at_once() {
    play((80, 24), false, false, |player| {
        let all = player.state.candidates.total;
        player.type_in("/max 2 fingers");
        let fewer = player.state.candidates.total;
        assert!(fewer > 0 && fewer < all, "{fewer} of {all}");
        assert!(player.drawn().contains("/max 2 fingers"));
        player.type_in(", no");
        // What cannot be read yet changes nothing.
        assert_eq!(player.state.candidates.total, fewer);
        player.type_in(" root");
        assert!(player.state.candidates.total <= fewer);
        player.press(KeyCode::Enter);
        assert_eq!(player.state.mode, ChooseMode::Choosing);
        player.press(KeyCode::Esc);
        assert_eq!(
            (player.state.candidates.total, player.state.filter.as_str()),
            (all, "")
        );
        player.type_in("/max 3 fingers, no root, no seventh");
        assert_eq!(player.state.candidates.total, 0);
        assert!(
            player
                .drawn()
                .contains("none is like `max 3 fingers, no root")
        );
    });
}

#[test]
fn a_note_that_passes_says_so_and_leaving_asks_first() {
    play((80, 24), false, false, |player| {
        player.press(KeyCode::Right);
        assert!(player.drawn().contains("passes, bare"));
        player.press(KeyCode::Char('p'));
        assert!(
            player
                .drawn()
                .contains("nothing is asked for here; another density")
        );
        assert_eq!(player.press(KeyCode::Enter), None);
        assert_eq!(player.press(KeyCode::Char('q')), Some(ChooseEffect::Leave));
        player.press(KeyCode::Left);
        player.press(KeyCode::Char('p'));
        assert_eq!(player.press(KeyCode::Char('q')), None);
        assert!(
            player
                .drawn()
                .contains("What was chosen is not saved. Leave?")
        );
        assert_eq!(player.press(KeyCode::Char('x')), None);
        assert_eq!(player.state.mode, ChooseMode::Choosing);
        player.press(KeyCode::Esc);
        let save = ChooseEffect::Save { then_leave: true };
        assert_eq!(player.press(KeyCode::Char('s')), Some(save));
        player.press(KeyCode::Esc);
        assert_eq!(player.press(KeyCode::Char('d')), Some(ChooseEffect::Leave));
    });
}

#[test]
fn every_key_is_shown_and_a_small_terminal_says_what_it_needs() {
    play((80, 24), false, false, |player| {
        player.press(KeyCode::Char('?'));
        check_drawn(&player.drawn(), "choosing_help_80x24");
    });
    play((59, 24), false, false, |player| {
        assert!(player.drawn().contains("needs 60 x 20, this is 59 x 24"));
    });
}
