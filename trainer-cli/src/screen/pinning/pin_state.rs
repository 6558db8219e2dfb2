//! What the screen for pinning shows, and what a key does to it. No search, no file, no terminal.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::commands::fingering::{FingeringEditor, PlaceChoice};
use crate::screen::choosing::choose_state::{StopView, TuneHead};
use crate::screen::look::Look;

/// The fingering as the screen shows it.
#[derive(Clone, Debug, Default)]
pub struct FingeringView {
    /// Note by note.
    pub stops: Vec<StopView>,
    pub shifts: usize,
    pub pinned: usize,
    /// The homes, in words.
    pub homes: String,
    /// True when the file does not say this.
    pub is_changed: bool,
}

/// Everything that is shown.
#[derive(Clone)]
pub struct PinState {
    pub look: Look,
    /// Columns and rows.
    pub size: (u16, u16),
    pub head: TuneHead,
    pub fingering: FingeringView,
    /// Where the player is.
    pub note: usize,
    /// The places of the note there.
    pub places: Vec<PlaceChoice>,
    /// The one that is looked at.
    pub place: usize,
    /// What the hand should mind there.
    pub caution: Option<&'static str>,
    pub mode: PinMode,
    pub notice: Option<String>,
    pub can_save: bool,
}

/// What keys are for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum PinMode {
    /// Pinning.
    Pinning,
    /// The keys are shown.
    Help,
    /// Whether to save is asked before the screen is left.
    Leaving,
}

/// What happens to the screen.
pub enum PinEvent {
    /// A key.
    Key(KeyEvent),
    /// The terminal has this size.
    Size(u16, u16),
    /// The fingering is this now.
    Fingered(FingeringView),
    /// The places of the note where the player is, and what to mind there.
    Places(Vec<PlaceChoice>, Option<&'static str>),
    /// Something to tell.
    Notice(String),
}

/// What the screen asks of the world.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum PinEffect {
    /// Find the places where the player is now.
    Look,
    /// Pin the note at the place that is looked at, or let it go.
    Pin,
    /// Make the position of the hand home from here on.
    Home,
    Undo,
    Redo,
    Save {
        then_leave: bool,
    },
    Leave,
}

impl PinState {
    /// The fewest columns and rows.
    pub const SMALLEST: (u16, u16) = (60, 20);

    /// A screen before anything is shown.
    pub fn new(look: Look, size: (u16, u16), head: TuneHead, can_save: bool) -> PinState {
        PinState {
            look,
            size,
            head,
            fingering: FingeringView::default(),
            note: 0,
            places: Vec::new(),
            place: 0,
            caution: None,
            mode: PinMode::Pinning,
            notice: None,
            can_save,
        }
    }

    /// Takes an event in, and says what it asks of the world.
    pub fn update(&mut self, event: PinEvent) -> Option<PinEffect> {
        match event {
            PinEvent::Key(key) if key.kind != KeyEventKind::Release => return self.key(key),
            PinEvent::Key(_) => {}
            PinEvent::Size(columns, rows) => self.size = (columns, rows),
            PinEvent::Fingered(fingering) => self.fingering = fingering,
            PinEvent::Places(places, caution) => {
                self.place = places.iter().position(|it| it.is_present).unwrap_or(0);
                (self.places, self.caution) = (places, caution);
            }
            PinEvent::Notice(notice) => self.notice = Some(notice),
        }
        None
    }

    fn key(&mut self, key: KeyEvent) -> Option<PinEffect> {
        self.notice = None;
        let is_control = key.modifiers.contains(KeyModifiers::CONTROL);
        match (self.mode, key.code) {
            // Pressed again it leaves, whatever was pinned.
            (PinMode::Leaving, KeyCode::Char('c')) if is_control => Some(PinEffect::Leave),
            (_, KeyCode::Char('c')) if is_control => self.leave(),
            (PinMode::Help, _) => {
                self.mode = PinMode::Pinning;
                None
            }
            (PinMode::Leaving, code) => {
                self.mode = PinMode::Pinning;
                match code {
                    KeyCode::Char('s') if self.can_save => {
                        Some(PinEffect::Save { then_leave: true })
                    }
                    KeyCode::Char('d') => Some(PinEffect::Leave),
                    _ => None,
                }
            }
            (PinMode::Pinning, KeyCode::Char('r')) if is_control => Some(PinEffect::Redo),
            (PinMode::Pinning, _) if is_control => None,
            (PinMode::Pinning, code) => self.pinned(code),
        }
    }

    fn pinned(&mut self, code: KeyCode) -> Option<PinEffect> {
        match code {
            KeyCode::Left => self.go_to(self.note.saturating_sub(1)),
            KeyCode::Right => self.go_to(self.note + 1),
            KeyCode::PageUp | KeyCode::Char('[') => {
                let before = &self.fingering.stops[..self.note];
                self.go_to(before.iter().rposition(|it| it.begins_bar).unwrap_or(0))
            }
            KeyCode::PageDown | KeyCode::Char(']') => {
                let after = self.fingering.stops.iter().skip(self.note + 1);
                let ahead = after.take_while(|it| !it.begins_bar).count();
                self.go_to(self.note + 1 + ahead)
            }
            KeyCode::Home => self.go_to(0),
            KeyCode::End => self.go_to(usize::MAX),
            KeyCode::Up => self.look_at(self.place.saturating_sub(1)),
            KeyCode::Down => self.look_at(self.place + 1),
            KeyCode::Enter | KeyCode::Char('p') => Some(PinEffect::Pin),
            KeyCode::Char('h') => Some(PinEffect::Home),
            KeyCode::Char('u') => Some(PinEffect::Undo),
            KeyCode::Char('r') => Some(PinEffect::Redo),
            KeyCode::Char('s') => Some(PinEffect::Save { then_leave: false }),
            KeyCode::Char('?') | KeyCode::F(1) => {
                self.mode = PinMode::Help;
                None
            }
            KeyCode::Esc | KeyCode::Char('q') => self.leave(),
            _ => None,
        }
    }

    fn leave(&mut self) -> Option<PinEffect> {
        if !self.fingering.is_changed {
            return Some(PinEffect::Leave);
        }
        self.mode = PinMode::Leaving;
        None
    }

    fn go_to(&mut self, note: usize) -> Option<PinEffect> {
        let note = note.min(self.fingering.stops.len().saturating_sub(1));
        if note == self.note {
            return None;
        }
        self.note = note;
        Some(PinEffect::Look)
    }

    fn look_at(&mut self, place: usize) -> Option<PinEffect> {
        self.place = place.min(self.places.len().saturating_sub(1));
        None
    }
}

/// A fingering as the screen shows it.
pub fn notes_of(editor: &FingeringEditor) -> FingeringView {
    let melody = editor.melody();
    let fingering = editor.fingering();
    let strings = editor.strings();
    let (mut bar, mut position) = (None, None);
    let stops = fingering.notes.iter().enumerate().map(|(index, played)| {
        let note = melody.notes()[index];
        let here = melody.bar_at(note.onset).number;
        let mut figures = vec![None; strings];
        figures[played.place.string.index()] = Some(played.place.fret.to_string());
        let has_moved = position.replace(played.position) != Some(played.position);
        let finger = (played.finger).map_or("o".into(), |finger| finger.to_string());
        let how = match played.finger {
            Some(finger) => format!("fret {}, finger {finger}", played.place.fret),
            None => "open, the hand".into(),
        };
        StopView {
            bar: here.to_string(),
            begins_bar: bar.replace(here) != Some(here),
            // Over the strings stands where the hand comes to.
            chord: has_moved.then(|| played.position.to_string()),
            figures,
            mark: editor.is_pinned(index).then_some('p'),
            words: format!(
                "bar {here}, note {}: {}, string {}, {how} in {}",
                index + 1,
                note.pitch,
                played.place.string,
                played.position
            ),
            name: finger,
            caution: None,
        }
    });
    FingeringView {
        stops: stops.collect(),
        shifts: fingering.shifts().count(),
        pinned: editor.pinned(),
        homes: editor.homes(),
        is_changed: editor.is_changed(),
    }
}
