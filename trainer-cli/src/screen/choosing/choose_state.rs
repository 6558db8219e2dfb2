//! What the screen for choosing shows, and what a key does to it. No arrangement, no file, no terminal, no sound.

use fretlib::arranging::{Voicing, VoicingFilter};
use fretlib::neck::Instrument;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::screen::look::Look;

/// What stays as it is while the player chooses.
#[derive(Clone, Debug)]
pub struct TuneHead {
    /// The tune's name.
    pub title: String,
    /// Key, octave, style and density.
    pub facts: String,
    /// The instrument.
    pub instrument: Instrument,
}

/// Everything that is shown.
#[derive(Clone)]
pub struct ChooseState {
    pub look: Look,
    /// Columns and rows.
    pub size: (u16, u16),
    pub head: TuneHead,
    /// The arrangement, stop by stop.
    pub stops: Vec<StopView>,
    /// True when the file does not say what was chosen.
    pub is_changed: bool,
    /// Where the player is.
    pub stop: usize,
    /// What may sound there.
    pub candidates: CandidateList,
    /// The one that is looked at.
    pub candidate: usize,
    /// What was typed to narrow them down, and what it means as far as it could be read.
    pub filter: String,
    pub filters: Vec<VoicingFilter>,
    /// Why it cannot be read yet.
    pub unreadable: Option<String>,
    pub mode: ChooseMode,
    pub notice: Option<String>,
    can_save: bool,
}

/// What keys are for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ChooseMode {
    /// Choosing.
    Choosing,
    /// Typing a filter.
    Typing,
    /// The keys are shown.
    Help,
    /// Whether to save is asked before the screen is left.
    Leaving,
}

/// A note, or a voicing under it, as the screen shows it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StopView {
    /// The bar, as print counts.
    pub bar: String,
    /// The first stop of its bar.
    pub begins_bar: bool,
    /// A chord symbol that begins here.
    pub chord: Option<String>,
    /// What is written on each string, the highest first.
    pub figures: Vec<Option<String>>,
    /// The note on the staff; nothing where it goes on.
    pub name: String,
    /// `p` for a pinned voicing, `b` for bare as asked, `!` for a choice that does not fit or nothing within reach.
    pub mark: Option<char>,
    /// What is here, in words.
    pub words: String,
    /// What the player should mind, in words.
    pub caution: Option<String>,
}

/// The voicings at a stop.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CandidateList {
    /// How many there are as asked.
    pub total: usize,
    /// The cheapest of them.
    pub shown: Vec<CandidateView>,
    /// Why there is none.
    pub why_none: String,
}

/// A voicing as a line of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct CandidateView {
    pub voicing: Voicing,
    pub shape: String,
    /// Degrees from the lowest note up to the melody.
    pub degrees: String,
    /// What it costs more than the one that sounds.
    pub more: f64,
    /// It sounds now.
    pub is_present: bool,
    /// Past comfortable reach.
    pub is_wide: bool,
}

/// What happens to the screen.
pub enum ChooseEvent {
    /// A key.
    Key(KeyEvent),
    /// The terminal has this size.
    Size(u16, u16),
    /// The arrangement is this now; whether it differs from the file.
    Arranged((Vec<StopView>, bool)),
    /// These voicings may sound where the player is.
    Candidates(CandidateList),
    /// Something to tell.
    Notice(String),
}

/// What the screen asks of the world.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ChooseEffect {
    /// Find the voicings where the player is now.
    Look,
    /// Choose the voicing that is looked at.
    Pick,
    /// Pin what sounds, or let it go.
    Pin,
    /// Leave the note bare, or not.
    Bare,
    Undo,
    Redo,
    /// Let the voicing that is looked at be heard.
    Hear,
    /// Let this bar and the next be heard.
    HearBars,
    Save {
        then_leave: bool,
    },
    Leave,
}

/// The longest filter that is typed.
const LONGEST_FILTER: usize = 80;

impl ChooseState {
    /// The fewest columns and rows.
    pub const SMALLEST: (u16, u16) = (60, 20);

    /// A screen before anything is shown.
    pub fn new(look: Look, size: (u16, u16), head: TuneHead, can_save: bool) -> ChooseState {
        ChooseState {
            look,
            size,
            head,
            stops: Vec::new(),
            is_changed: false,
            stop: 0,
            candidates: CandidateList::default(),
            candidate: 0,
            filter: String::new(),
            filters: Vec::new(),
            unreadable: None,
            mode: ChooseMode::Choosing,
            notice: None,
            can_save,
        }
    }

    /// Whether there is a file to save to.
    pub fn can_save(&self) -> bool {
        self.can_save
    }

    /// Takes an event in, and says what it asks of the world.
    pub fn update(&mut self, event: ChooseEvent) -> Option<ChooseEffect> {
        match event {
            ChooseEvent::Key(key) if key.kind != KeyEventKind::Release => return self.key(key),
            ChooseEvent::Key(_) => {}
            ChooseEvent::Size(columns, rows) => self.size = (columns, rows),
            ChooseEvent::Arranged((stops, is_changed)) => {
                self.stop = self.stop.min(stops.len().saturating_sub(1));
                self.stops = stops;
                self.is_changed = is_changed;
            }
            ChooseEvent::Candidates(candidates) => {
                let present = candidates.shown.iter().position(|it| it.is_present);
                self.candidate = present.unwrap_or(0);
                self.candidates = candidates;
            }
            ChooseEvent::Notice(notice) => self.notice = Some(notice),
        }
        None
    }

    fn key(&mut self, key: KeyEvent) -> Option<ChooseEffect> {
        self.notice = None;
        let is_control = key.modifiers.contains(KeyModifiers::CONTROL);
        if is_control && key.code == KeyCode::Char('c') {
            // Pressed again it leaves, whatever was chosen.
            return match self.mode {
                ChooseMode::Leaving => Some(ChooseEffect::Leave),
                _ => self.leave(),
            };
        }
        match self.mode {
            ChooseMode::Help => {
                self.mode = ChooseMode::Choosing;
                None
            }
            ChooseMode::Leaving => self.answer(key.code),
            ChooseMode::Typing if is_control => None,
            ChooseMode::Typing => self.typed(key.code),
            ChooseMode::Choosing if is_control => match key.code {
                KeyCode::Char('r') => Some(ChooseEffect::Redo),
                _ => None,
            },
            ChooseMode::Choosing => self.chosen(key.code),
        }
    }

    fn chosen(&mut self, code: KeyCode) -> Option<ChooseEffect> {
        match code {
            KeyCode::Left => self.go_to(self.stop.saturating_sub(1)),
            KeyCode::Right => self.go_to(self.stop + 1),
            KeyCode::PageUp | KeyCode::Char('[') => self.go_to(self.bar_before()),
            KeyCode::PageDown | KeyCode::Char(']') => self.go_to(self.bar_after()),
            KeyCode::Home => self.go_to(0),
            KeyCode::End => self.go_to(self.stops.len()),
            KeyCode::Up => self.look_at(self.candidate.saturating_sub(1)),
            KeyCode::Down => self.look_at(self.candidate + 1),
            KeyCode::Enter if self.candidates.shown.is_empty() => {
                self.notice = Some(self.candidates.why_none.clone());
                None
            }
            KeyCode::Enter => Some(ChooseEffect::Pick),
            KeyCode::Char('p') => Some(ChooseEffect::Pin),
            KeyCode::Char('b') => Some(ChooseEffect::Bare),
            KeyCode::Char('u') => Some(ChooseEffect::Undo),
            KeyCode::Char('r') => Some(ChooseEffect::Redo),
            KeyCode::Char('/') => {
                self.mode = ChooseMode::Typing;
                None
            }
            KeyCode::Char(' ') => Some(ChooseEffect::Hear),
            KeyCode::Char('h') => Some(ChooseEffect::HearBars),
            KeyCode::Char('s') => Some(ChooseEffect::Save { then_leave: false }),
            KeyCode::Char('?') | KeyCode::F(1) => {
                self.mode = ChooseMode::Help;
                None
            }
            KeyCode::Esc if !self.filter.is_empty() => self.filter_by(String::new()),
            KeyCode::Esc | KeyCode::Char('q') => self.leave(),
            _ => None,
        }
    }

    fn leave(&mut self) -> Option<ChooseEffect> {
        if !self.is_changed {
            return Some(ChooseEffect::Leave);
        }
        self.mode = ChooseMode::Leaving;
        None
    }

    fn answer(&mut self, code: KeyCode) -> Option<ChooseEffect> {
        self.mode = ChooseMode::Choosing;
        match code {
            KeyCode::Char('s') if self.can_save => Some(ChooseEffect::Save { then_leave: true }),
            KeyCode::Char('d') => Some(ChooseEffect::Leave),
            _ => None,
        }
    }

    fn typed(&mut self, code: KeyCode) -> Option<ChooseEffect> {
        let mut filter = self.filter.clone();
        match code {
            KeyCode::Enter => {
                self.mode = ChooseMode::Choosing;
                return None;
            }
            KeyCode::Esc => {
                self.mode = ChooseMode::Choosing;
                filter.clear();
            }
            KeyCode::Backspace => {
                filter.pop();
            }
            KeyCode::Up => return self.look_at(self.candidate.saturating_sub(1)),
            KeyCode::Down => return self.look_at(self.candidate + 1),
            KeyCode::Char(c) if filter.chars().count() < LONGEST_FILTER && !c.is_control() => {
                filter.push(c);
            }
            _ => return None,
        }
        self.filter_by(filter)
    }

    /// Takes a filter in; one that cannot be read yet leaves the list as it is.
    fn filter_by(&mut self, filter: String) -> Option<ChooseEffect> {
        self.filter = filter;
        match VoicingFilter::read_all(&self.filter) {
            Ok(filters) => {
                self.unreadable = None;
                let is_new = filters != self.filters;
                self.filters = filters;
                is_new.then_some(ChooseEffect::Look)
            }
            Err(error) => {
                self.unreadable = Some(error.to_string());
                None
            }
        }
    }

    fn go_to(&mut self, stop: usize) -> Option<ChooseEffect> {
        let stop = stop.min(self.stops.len().saturating_sub(1));
        if stop == self.stop {
            return None;
        }
        self.stop = stop;
        Some(ChooseEffect::Look)
    }

    fn look_at(&mut self, candidate: usize) -> Option<ChooseEffect> {
        self.candidate = candidate.min(self.candidates.shown.len().saturating_sub(1));
        None
    }

    /// The first stop of the bar; of the one before when the player is there already.
    fn bar_before(&self) -> usize {
        let before = &self.stops[..self.stop.min(self.stops.len())];
        before.iter().rposition(|stop| stop.begins_bar).unwrap_or(0)
    }

    fn bar_after(&self) -> usize {
        let after = self.stops.iter().skip(self.stop + 1);
        let ahead = after.take_while(|stop| !stop.begins_bar).count();
        self.stop + 1 + ahead
    }
}
