//! The state of the screen while the program listens, and the effects of events. No clock, no terminal, no sound.

use std::sync::Arc;

use fretlib::hearing::{Hearing, JudgedNote};
use fretlib::sound::PlayThrough;
use fretlib::theory::Pitch;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::commands::listen::{LiveNews, PassReport, Tuner};
use crate::commands::play::PlayedTune;
use crate::screen::look::Look;

/// Everything that is shown.
#[derive(Clone)]
pub struct ListenState {
    /// How it may look.
    pub look: Look,
    /// Columns and rows.
    pub size: (u16, u16),
    /// The tune.
    pub tune: PlayedTune,
    /// What is asked and what is heard.
    pub listening: ListeningView,
    /// What was struck last.
    pub struck: LastStrike,
    /// The last pass that has ended.
    pub report: Option<PassReport>,
    /// Whether the microphone is open.
    pub microphone: MicrophoneState,
    /// Whether the keys are shown.
    pub help: bool,
    /// The notice for the player.
    pub notice: Option<String>,
}

/// What is asked of the player, and how it is heard.
#[derive(Clone)]
pub struct ListeningView {
    /// The tempo and the next step of the ladder.
    pub aim: String,
    /// The place of the player in the music, in its seconds.
    pub place: Option<f64>,
    /// The pass as it is written.
    pub music: Arc<PlayThrough>,
    /// How well the player is heard.
    pub hearing: Hearing,
    /// Whether the bars before the pass are counted.
    pub is_counting_in: bool,
    /// How far the strings are off, while they are tuned.
    pub tuner: Option<Tuner>,
}

/// What was struck last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LastStrike {
    /// Nothing yet.
    Nothing,
    /// Something whose name is not known yet.
    Unnamed,
    /// This note, and how far off it is in cents.
    Named(Pitch, f32),
}

/// Whether the microphone is open.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum MicrophoneState {
    /// It is open.
    Open,
    /// The player closed it, or it has gone away.
    Closed,
    /// It is closed, since everything asked for was played.
    Over,
}

/// What happens to the screen.
pub enum ListenEvent {
    /// A key.
    Key(KeyEvent),
    /// The terminal has this size.
    Size(u16, u16),
    /// What is asked and heard now.
    Listening(ListeningView),
    /// Something is new.
    News(LiveNews),
    /// Nothing can be heard any more, with the reason.
    Lost(String),
    /// Everything asked for was played.
    Over,
}

/// An effect requested by the screen.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ListenEffect {
    /// Close the microphone.
    Close,
    /// Open it again.
    Open,
    /// Show the tuner, or go on to the tune.
    Tuner,
    /// Leave.
    Leave,
}

impl ListenState {
    /// The fewest columns and rows.
    pub const SMALLEST: (u16, u16) = (60, 20);

    /// A screen before anything is heard.
    pub fn new(
        look: Look,
        size: (u16, u16),
        tune: PlayedTune,
        music: Arc<PlayThrough>,
    ) -> ListenState {
        ListenState {
            look,
            size,
            tune,
            listening: ListeningView {
                aim: String::new(),
                place: None,
                music,
                hearing: Hearing::default(),
                is_counting_in: false,
                tuner: None,
            },
            struck: LastStrike::Nothing,
            report: None,
            microphone: MicrophoneState::Open,
            help: false,
            notice: None,
        }
    }

    /// Whether the microphone is open.
    pub fn is_listening(&self) -> bool {
        self.microphone == MicrophoneState::Open
    }

    /// Handles an event, and gives the effect that it requests.
    pub fn update(&mut self, event: ListenEvent) -> Option<ListenEffect> {
        match event {
            ListenEvent::Key(key) if key.kind != KeyEventKind::Release => return self.key(key),
            ListenEvent::Key(_) => {}
            ListenEvent::Size(columns, rows) => self.size = (columns, rows),
            ListenEvent::Listening(listening) => self.listening = listening,
            ListenEvent::News(news) => self.tell(news),
            ListenEvent::Lost(reason) => {
                self.microphone = MicrophoneState::Closed;
                self.notice = Some(format!("{reason}; space tries again"));
            }
            ListenEvent::Over => self.microphone = MicrophoneState::Over,
        }
        None
    }

    fn tell(&mut self, news: LiveNews) {
        match news {
            LiveNews::Struck => self.struck = LastStrike::Unnamed,
            LiveNews::Named(pitch, cents) => self.struck = LastStrike::Named(pitch, cents),
            LiveNews::Dropped if self.struck == LastStrike::Unnamed => {
                self.struck = LastStrike::Nothing;
            }
            LiveNews::Dropped => {}
            LiveNews::Passed(report) => {
                self.notice = None;
                self.report = Some(*report);
            }
            LiveNews::Notice(notice) => self.notice = Some(notice),
            LiveNews::Kept(file) => self.notice = Some(format!("wrote {}", file.display())),
        }
    }

    /// The verdict on a note of the melody, in the last pass; of several times the last.
    pub fn verdict(&self, note: usize) -> Option<&JudgedNote> {
        let take = self.report.as_ref()?.take.as_ref()?;
        take.notes().filter(|judged| judged.index == note).last()
    }

    fn key(&mut self, key: KeyEvent) -> Option<ListenEffect> {
        let is_ctrl_c =
            key.code == KeyCode::Char('c') && key.modifiers.contains(KeyModifiers::CONTROL);
        if is_ctrl_c || matches!(key.code, KeyCode::Char('q') | KeyCode::Esc) {
            return Some(ListenEffect::Leave);
        }
        if std::mem::take(&mut self.help) {
            return None;
        }
        match (key.code, self.microphone) {
            (KeyCode::Char('?'), _) => {
                self.help = true;
                None
            }
            (KeyCode::Char(' '), MicrophoneState::Open) => {
                self.microphone = MicrophoneState::Closed;
                Some(ListenEffect::Close)
            }
            (KeyCode::Char(' '), MicrophoneState::Closed) => {
                self.microphone = MicrophoneState::Open;
                self.notice = None;
                Some(ListenEffect::Open)
            }
            (KeyCode::Char('t'), MicrophoneState::Open) => {
                self.notice = None;
                Some(ListenEffect::Tuner)
            }
            _ => None,
        }
    }
}
