//! The state of the full screen, and the effects of events. Nothing here reads a clock, a terminal or a file.

use std::time::Duration;

use fretlib::neck::{Finger, Fret, Instrument, Place, Position, StringNumber};
use fretlib::practice::{Answer, Kind, PhraseStrip, Question, Verdict, Wording};
use fretlib::text::{NeckMark, StyledText};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use ratatui::layout::Rect;

use super::look::Look;
use super::neck_view::NeckView;
use crate::session::{Summary, Tally};

/// A question for the screen.
#[derive(Clone, Debug)]
pub struct QuestionView {
    /// The question.
    pub question: Question,
    /// In words.
    pub wording: Wording,
    /// The subject in large type: a note, a place, a degree.
    pub headline: String,
    /// The title of the tune.
    pub tune: String,
    /// The bars around it, with note names.
    pub strip: PhraseStrip,
    /// What takes its place when the answer is out, after a question by ear.
    pub answer_strip: Option<PhraseStrip>,
    /// What there is to choose from, a line each.
    pub choices: Vec<String>,
    /// The instrument it is asked on.
    pub instrument: Instrument,
    /// Where the hand stands.
    pub position: Option<Position>,
    /// The notes of the phrase at this placement, with the answer first and marked; shown after the answer.
    pub phrase_marks: Vec<(NeckMark, bool)>,
}

/// A lesson for the screen.
#[derive(Clone, Debug)]
pub struct LessonView {
    /// The heading: what is learned, and where.
    pub heading: String,
    /// The instrument it is shown on.
    pub instrument: Instrument,
    /// Where the hand stands.
    pub position: Option<Position>,
    /// The stages, in order; at least one.
    pub stages: Vec<StageView>,
    /// The tablature of the whole phrase, which is shown at first.
    pub tablature: Option<StyledText>,
}

/// What a lesson shows at one stage.
#[derive(Clone, Debug)]
pub struct StageView {
    /// The bars with the note names that are not hidden.
    pub strip: PhraseStrip,
    /// Its notes on the neck.
    pub marks: Vec<NeckMark>,
    /// What the player is asked to do.
    pub instruction: &'static str,
}

/// The stage of a question.
#[derive(Clone, Debug, PartialEq)]
pub enum Phase {
    /// A lesson is shown at this stage; the question follows.
    Learning(usize),
    /// An answer is awaited.
    Asking,
    /// The answer is shown.
    Answered {
        /// The verdict; `None` when it was shown on request.
        verdict: Option<Verdict>,
        /// A remark on it.
        remark: Option<String>,
    },
    /// The session is over.
    Over,
}

/// What covers the question.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Overlay {
    /// Nothing.
    None,
    /// A pause: the question is hidden and its time stands still.
    Pause,
    /// The keys.
    Help,
}

/// An event for the screen.
#[derive(Clone, Debug)]
pub enum Event {
    /// A key.
    Key(KeyEvent),
    /// A press of the left mouse button.
    Click {
        /// The column.
        column: u16,
        /// The row.
        row: u16,
    },
    /// The terminal has this size.
    Size(u16, u16),
    /// Time has passed.
    Passed(Duration),
    /// An answer was played: in words, and as it is judged.
    Played(String, Answer),
    /// A question is asked, possibly after a lesson.
    Asked(Box<QuestionView>, Option<Box<LessonView>>),
    /// The answer was judged and recorded.
    Judged {
        /// The verdict; `None` when it was shown on request.
        verdict: Option<Verdict>,
        /// A remark on it.
        remark: Option<String>,
        /// How the session is going now.
        tally: Tally,
    },
    /// The session is over, and came to this.
    Ended(Summary),
    /// A notice, shown once.
    Notice(String),
}

/// An effect requested by the screen.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Judge an answer; `None` means "show me".
    Answer(String, Option<Answer>),
    /// Ask the next question.
    Next,
    /// Take the last answer back.
    TakeBack,
    /// Play the question by ear, or its answer when that is out.
    Play,
    /// Leave.
    Leave,
}

/// The whole screen.
#[derive(Clone, Debug)]
pub struct State {
    /// How it may look.
    pub look: Look,
    /// Columns and rows.
    pub size: (u16, u16),
    /// The question; `None` before the first.
    pub view: Option<QuestionView>,
    /// Its stage.
    pub phase: Phase,
    /// What covers it.
    pub overlay: Overlay,
    /// What has been typed.
    pub typed: String,
    /// Why the typed text is not an answer.
    pub unclear: Option<String>,
    /// Where the cursor is on the neck.
    pub cursor: Place,
    /// The place given as the answer, if it was a place.
    pub given: Option<Place>,
    /// How the session is going.
    pub tally: Tally,
    /// The lesson before the question.
    pub lesson: Option<LessonView>,
    /// The summary of the session.
    pub summary: Summary,
    /// How long this question has taken.
    pub on_question: Duration,
    /// How long the session has lasted, without pauses.
    pub in_session: Duration,
    /// The notice for the player.
    pub notice: Option<String>,
    /// Whether the microphone is open, for answers that are played.
    pub listens: bool,
    /// Whether there is an answer to take back.
    pub has_answer: bool,
}

/// Input is cut here.
const LONGEST: usize = 40;

impl State {
    /// A screen before its first question.
    pub fn new(look: Look, size: (u16, u16)) -> State {
        State {
            look,
            size,
            view: None,
            phase: Phase::Asking,
            overlay: Overlay::None,
            typed: String::new(),
            unclear: None,
            cursor: Place {
                string: middle_string(6),
                fret: Fret::OPEN,
            },
            given: None,
            tally: Tally::default(),
            lesson: None,
            summary: Summary::default(),
            on_question: Duration::ZERO,
            in_session: Duration::ZERO,
            notice: None,
            listens: false,
            has_answer: false,
        }
    }

    /// Handles an event, and gives the effect that it requests.
    pub fn update(&mut self, event: Event) -> Option<Effect> {
        let effect = self.take_in(event);
        if let Some(Effect::Answer(..)) = &effect {
            // What the player was told has been there long enough.
            self.notice = None;
        }
        if let Some(Effect::Answer(_, Some(Answer::Place(place)))) = &effect {
            self.given = Some(*place);
        }
        effect
    }

    fn take_in(&mut self, event: Event) -> Option<Effect> {
        match event {
            Event::Size(columns, rows) => {
                self.size = (columns, rows);
                None
            }
            Event::Passed(time) => {
                if self.overlay == Overlay::None && self.phase == Phase::Asking {
                    self.on_question += time;
                }
                if self.overlay == Overlay::None && self.phase != Phase::Over {
                    self.in_session += time;
                }
                None
            }
            Event::Played(words, answer) => Some(Effect::Answer(words, Some(answer))),
            Event::Asked(question, lesson) => {
                self.cursor = start_of(&question);
                self.view = Some(*question);
                self.phase = match lesson {
                    Some(_) => Phase::Learning(0),
                    None => Phase::Asking,
                };
                self.lesson = lesson.map(|lesson| *lesson);
                self.typed.clear();
                self.unclear = None;
                self.given = None;
                self.on_question = Duration::ZERO;
                None
            }
            Event::Judged {
                verdict,
                remark,
                tally,
            } => {
                self.phase = Phase::Answered { verdict, remark };
                self.tally = tally;
                self.has_answer = true;
                None
            }
            Event::Ended(summary) => {
                self.summary = summary;
                self.phase = Phase::Over;
                self.overlay = Overlay::None;
                None
            }
            Event::Notice(text) => {
                self.notice = Some(text);
                None
            }
            Event::Click { column, row } => self.click(column, row),
            Event::Key(key) if key.kind != KeyEventKind::Release => self.key(key),
            Event::Key(_) => None,
        }
    }

    fn click(&mut self, column: u16, row: u16) -> Option<Effect> {
        if self.overlay != Overlay::None {
            return None;
        }
        match self.phase {
            Phase::Asking => {
                let place = self.neck()?.place_at(column, row)?;
                if !self.answers_with_a_place() {
                    return None;
                }
                self.cursor = place;
                Some(self.answer_with(place))
            }
            Phase::Answered { .. } => Some(Effect::Next),
            Phase::Learning(_) => self.learned(),
            Phase::Over => None,
        }
    }

    fn key(&mut self, key: KeyEvent) -> Option<Effect> {
        if key.code == KeyCode::Char('c') && key.modifiers.contains(KeyModifiers::CONTROL) {
            return Some(Effect::Leave);
        }
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return None;
        }
        if self.overlay != Overlay::None {
            if matches!(key.code, KeyCode::Char('q')) {
                return Some(Effect::Leave);
            }
            self.overlay = Overlay::None;
            return None;
        }
        match key.code {
            KeyCode::F(1) => {
                self.overlay = Overlay::Help;
                None
            }
            KeyCode::Tab => {
                self.overlay = Overlay::Pause;
                None
            }
            KeyCode::Esc if self.typed.is_empty() => Some(Effect::Leave),
            KeyCode::Char('q') if self.typed.is_empty() => Some(Effect::Leave),
            KeyCode::Backspace if self.typed.is_empty() => Some(Effect::TakeBack),
            code => match self.phase {
                Phase::Asking => self.typing(code),
                Phase::Learning(_) if code == KeyCode::Char('s') => {
                    self.phase = Phase::Asking;
                    self.hear()
                }
                Phase::Learning(_) => self.learned(),
                Phase::Answered { .. } if code == KeyCode::Char('r') && self.is_heard() => {
                    self.hear()
                }
                Phase::Answered { .. } => Some(Effect::Next),
                Phase::Over => Some(Effect::Leave),
            },
        }
    }

    /// The next stage of a lesson, or the question.
    fn learned(&mut self) -> Option<Effect> {
        let stages = self.lesson.as_ref().map_or(0, |lesson| lesson.stages.len());
        self.phase = match self.phase {
            Phase::Learning(stage) if stage + 1 < stages => Phase::Learning(stage + 1),
            _ => Phase::Asking,
        };
        match self.phase {
            Phase::Asking => self.hear(),
            _ => None,
        }
    }

    /// Whether the question is by ear.
    pub fn is_heard(&self) -> bool {
        let view = self.view.as_ref();
        view.is_some_and(|view| view.question.is_heard())
    }

    fn hear(&self) -> Option<Effect> {
        self.is_heard().then_some(Effect::Play)
    }

    fn typing(&mut self, code: KeyCode) -> Option<Effect> {
        self.unclear = None;
        match code {
            KeyCode::Esc => self.typed.clear(),
            KeyCode::Backspace => {
                self.typed.pop();
            }
            KeyCode::Enter if self.typed.trim().is_empty() && self.has_cursor() => {
                return Some(self.answer_with(self.cursor));
            }
            KeyCode::Enter => return self.submit(),
            KeyCode::Up | KeyCode::Down | KeyCode::Left | KeyCode::Right if self.has_cursor() => {
                self.move_cursor(code);
            }
            KeyCode::Char('r') if self.typed.is_empty() && self.is_heard() => return self.hear(),
            KeyCode::Char('?') if self.typed.trim().is_empty() => {
                return Some(Effect::Answer("?".into(), None));
            }
            KeyCode::Char(letter) if self.typed.len() < LONGEST && !letter.is_control() => {
                self.typed.push(letter);
            }
            _ => {}
        }
        None
    }

    fn submit(&mut self) -> Option<Effect> {
        let view = self.view.as_ref()?;
        match view.question.read(&self.typed, &view.instrument) {
            Ok(answer) => Some(Effect::Answer(self.typed.clone(), Some(answer))),
            Err(unclear) => {
                self.unclear = Some(unclear.to_string());
                None
            }
        }
    }

    /// Whether the question can be answered by showing a place.
    pub fn answers_with_a_place(&self) -> bool {
        let kind = self.view.as_ref().map(|view| view.question.kind());
        matches!(
            kind,
            Some(Kind::Place | Kind::Next | Kind::Octave | Kind::NextByEar | Kind::Line)
        )
    }

    /// Whether a place can be picked on the neck: not while the answer is listened for.
    pub fn has_cursor(&self) -> bool {
        self.answers_with_a_place() && !self.listens
    }

    fn answer_with(&self, place: Place) -> Effect {
        let answer = Answer::Place(place);
        Effect::Answer(answer.to_string(), Some(answer))
    }

    fn move_cursor(&mut self, code: KeyCode) {
        let Some(view) = &self.view else {
            return;
        };
        let Place { string, fret } = self.cursor;
        let strings = view.instrument.strings().len() as u8;
        let along: i8 = match (code, self.look.left_handed) {
            (KeyCode::Left, false) | (KeyCode::Right, true) => -1,
            (KeyCode::Right, false) | (KeyCode::Left, true) => 1,
            _ => 0,
        };
        let across: i8 = match code {
            KeyCode::Up => -1,
            KeyCode::Down => 1,
            _ => 0,
        };
        let fret = fret
            .get()
            .saturating_add_signed(along)
            .min(view.instrument.highest_fret().get());
        let string = string.get().saturating_add_signed(across).clamp(1, strings);
        if let (Ok(string), Ok(fret)) = (StringNumber::new(string), Fret::new(fret)) {
            self.cursor = Place { string, fret };
        }
    }

    /// The geometry of the neck on the screen, when a question is shown.
    pub fn neck(&self) -> Option<NeckView> {
        let view = self.view.as_ref()?;
        let area = self.neck_area()?;
        Some(NeckView::new(
            area,
            &view.instrument,
            view.position,
            self.look.left_handed,
        ))
    }

    /// The area of the neck; `None` when the terminal is too small.
    pub fn neck_area(&self) -> Option<Rect> {
        let view = self.view.as_ref()?;
        let (columns, rows) = self.size;
        let smallest = self.smallest();
        if columns < smallest.0 || rows < smallest.1 {
            return None;
        }
        let top = self.above_neck();
        let room = rows - top - State::BELOW_NECK;
        let height = NeckView::height(&view.instrument, room).min(room);
        Some(Rect::new(2, top + (room - height) / 2, columns - 4, height))
    }

    /// The fewest columns and rows that a question on this instrument fits in.
    pub fn smallest(&self) -> (u16, u16) {
        let strings = self
            .view
            .as_ref()
            .map_or(6, |view| view.instrument.strings().len() as u16);
        (60, State::ABOVE_NECK + strings + 2 + State::BELOW_NECK)
    }

    /// Whether the question also fits in large type.
    pub fn has_large_type(&self) -> bool {
        self.size.1 >= 30
    }

    /// Rows above the neck.
    pub fn above_neck(&self) -> u16 {
        match self.has_large_type() {
            true => State::ABOVE_NECK + State::LARGE_TYPE,
            false => State::ABOVE_NECK,
        }
    }

    /// Rows above the neck: the head line, where the question is, the strip, and the question.
    pub const ABOVE_NECK: u16 = 7;
    /// Rows of large type and one below.
    pub const LARGE_TYPE: u16 = 6;
    /// Rows below the neck: the answer, the remark and the keys.
    pub const BELOW_NECK: u16 = 3;
}

/// Where the cursor starts: on the place the question leads on from, or under the index finger. What is right has no say in
/// it, or the cursor would give it away.
fn start_of(view: &QuestionView) -> Place {
    let index_finger = view
        .position
        .map_or(Fret::OPEN, |position| position.fret(Finger::First));
    match (view.question.kind(), view.question.shown_place()) {
        // It is shown in another position than the one asked for.
        (Kind::Octave, Some(shown)) => Place {
            fret: index_finger,
            ..shown
        },
        (_, Some(shown)) => shown,
        (_, None) => Place {
            string: middle_string(view.instrument.strings().len() as u8),
            fret: index_finger,
        },
    }
}

fn middle_string(strings: u8) -> StringNumber {
    match StringNumber::new(strings.div_ceil(2)) {
        Ok(string) => string,
        Err(_) => unreachable!("an instrument has one to twelve strings"),
    }
}
