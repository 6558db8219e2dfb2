//! The state of the screen while a melody is played, and the effects of events. No clock, no terminal, no sound.

use std::time::Duration;

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::audio::Heard;
use crate::commands::play::PlayedTune;
use crate::screen::look::Look;
use fretlib::sound::Layer;

/// Everything that is shown.
#[derive(Clone)]
pub struct PlayState {
    /// How it may look.
    pub look: Look,
    /// Columns and rows.
    pub size: (u16, u16),
    /// The tune.
    pub tune: PlayedTune,
    /// The place in the music; `None` before it is heard.
    pub heard: Option<Heard>,
    /// How it is played.
    pub playing: PlayingView,
    /// Whether the melody, the chords and the click sound.
    pub layers: [bool; 3],
    /// Whether it is paused.
    pub paused: bool,
    /// Whether all was played.
    pub ended: bool,
    /// Whether the keys are shown.
    pub help: bool,
    /// How long it has sounded.
    pub sounded: Duration,
    /// How long it has sounded since a break was suggested or taken.
    since_break: Duration,
    /// The notice for the player.
    pub notice: Option<String>,
}

/// How it is played, for the screen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlayingView {
    /// Beats a minute, and percent of the tune's own tempo.
    pub tempo: f64,
    pub percent: f64,
    /// The first and the last bar that are played, when they are not all.
    pub stretch: Option<(String, String)>,
    /// The next step of the ladder.
    pub ladder: Option<String>,
    /// The latency, and how often the sound broke off.
    pub latency: Duration,
    pub underruns: u32,
}

/// What happens to the screen.
pub enum PlayEvent {
    /// A key.
    Key(KeyEvent),
    /// The terminal has this size.
    Size(u16, u16),
    /// Time has passed.
    Passed(Duration),
    /// The place in the music that is heard now.
    Heard(Option<Heard>),
    /// How it is played now.
    Playing(PlayingView),
    /// All was played.
    Ended,
    /// There is no more sound, with the reason.
    Lost(String),
    /// Something to tell.
    Notice(String),
}

/// An effect requested by the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlayEffect {
    /// Fall silent.
    Pause,
    /// Continue from the bar it stopped in, or from the start when all was played.
    GoOn,
    /// Move this many bars on, or back.
    Move(i32),
    /// Begin the loop with the current bar.
    LoopFrom,
    /// End the loop with the current bar.
    LoopTo,
    /// Play all of it again.
    NoLoop,
    /// Change the tempo by this many percent.
    Tempo(i16),
    /// Turn a layer on or off.
    Turn(Layer, bool),
    /// The last pass was right, or not.
    Judge(bool),
    /// Leave.
    Leave,
}

/// The time of playing after which a break is suggested.
///
/// Ten minutes' rest an hour is common practice among musicians; 25 minutes is our choice.
const BREAK_AFTER: Duration = Duration::from_secs(25 * 60);

impl PlayState {
    /// The fewest columns and rows.
    pub const SMALLEST: (u16, u16) = (60, 20);

    /// A screen before anything is heard.
    pub fn new(look: Look, size: (u16, u16), tune: PlayedTune, layers: [bool; 3]) -> PlayState {
        PlayState {
            look,
            size,
            tune,
            heard: None,
            playing: PlayingView::default(),
            layers,
            paused: false,
            ended: false,
            help: false,
            sounded: Duration::ZERO,
            since_break: Duration::ZERO,
            notice: None,
        }
    }

    /// Handles an event, and gives the effect that it requests.
    pub fn update(&mut self, event: PlayEvent) -> Option<PlayEffect> {
        match event {
            PlayEvent::Key(key) if key.kind != KeyEventKind::Release => return self.key(key),
            PlayEvent::Key(_) => {}
            PlayEvent::Size(columns, rows) => self.size = (columns, rows),
            PlayEvent::Passed(time) => self.pass(time),
            // The place where it stopped stays visible in a pause.
            PlayEvent::Heard(heard) if heard.is_some() || !(self.paused || self.ended) => {
                self.heard = heard;
            }
            PlayEvent::Heard(_) => {}
            PlayEvent::Playing(playing) => self.playing = playing,
            PlayEvent::Ended => self.ended = true,
            PlayEvent::Lost(reason) => {
                self.paused = true;
                self.notice = Some(format!(
                    "the sound has stopped: {reason}; space tries again"
                ));
            }
            PlayEvent::Notice(notice) => self.notice = Some(notice),
        }
        None
    }

    fn pass(&mut self, time: Duration) {
        if self.paused || self.ended {
            self.since_break = Duration::ZERO;
            return;
        }
        self.sounded += time;
        self.since_break += time;
        if self.since_break >= BREAK_AFTER {
            self.since_break = Duration::ZERO;
            self.notice =
                Some("25 minutes of playing: rest the hands for a few, space pauses".into());
        }
    }

    fn key(&mut self, key: KeyEvent) -> Option<PlayEffect> {
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return (key.code == KeyCode::Char('c')).then_some(PlayEffect::Leave);
        }
        if self.help {
            self.help = false;
            return (key.code == KeyCode::Char('q')).then_some(PlayEffect::Leave);
        }
        self.notice = None;
        match key.code {
            KeyCode::Esc | KeyCode::Char('q') => Some(PlayEffect::Leave),
            KeyCode::Char('?') | KeyCode::F(1) => {
                self.help = true;
                None
            }
            KeyCode::Char(' ') if self.paused || self.ended => {
                self.paused = false;
                self.ended = false;
                Some(PlayEffect::GoOn)
            }
            KeyCode::Char(' ') => {
                self.paused = true;
                Some(PlayEffect::Pause)
            }
            KeyCode::Char('c') => Some(self.turn(Layer::Click)),
            KeyCode::Char('m') => Some(self.turn(Layer::Melody)),
            KeyCode::Char('h') => Some(self.turn(Layer::Chords)),
            // All other keys are about the music.
            _ if self.paused || self.ended => None,
            KeyCode::Left => Some(PlayEffect::Move(-1)),
            KeyCode::Right => Some(PlayEffect::Move(1)),
            KeyCode::Char('[') => Some(PlayEffect::LoopFrom),
            KeyCode::Char(']') => Some(PlayEffect::LoopTo),
            KeyCode::Backspace => Some(PlayEffect::NoLoop),
            KeyCode::Char('+' | '=') => Some(PlayEffect::Tempo(5)),
            KeyCode::Char('-') => Some(PlayEffect::Tempo(-5)),
            KeyCode::Char('y') if self.playing.ladder.is_some() => Some(PlayEffect::Judge(true)),
            KeyCode::Char('n') if self.playing.ladder.is_some() => Some(PlayEffect::Judge(false)),
            _ => None,
        }
    }

    fn turn(&mut self, layer: Layer) -> PlayEffect {
        let on = &mut self.layers[layer as usize];
        *on = !*on;
        PlayEffect::Turn(layer, *on)
    }
}
