//! The full screen: the neck, and a question in large type.
//!
//! The state is one value; an event changes it and may request an effect; drawing changes nothing. Only this file uses
//! the clock and the session.

mod choosing;
mod edge_lines;
mod lettering;
mod listening;
mod look;
mod neck_view;
mod pinning;
mod playing;
mod render;
#[cfg(test)]
mod snapshot;
mod state;
#[cfg(test)]
mod tests;
mod undo_stack;

use std::io;
use std::time::{Duration, Instant};

use ratatui::crossterm::event::{self as input, MouseButton, MouseEventKind};

use crate::audio::{SoundInput, SoundOutput};
use crate::commands::drill;
use crate::commands::drill::by_playing::{PlayedAnswer, PlayedAnswers};
use crate::report::heading::title_or_untitled;
use crate::report::phrase_page::PhrasePage;
use crate::session::{Asked, Session, answer_on_the_neck, note_marks};
use crate::terminal::{Clock, FullScreen, ScreenEvent};
use fretlib::practice::{Lesson, PhraseStrip, Stage, Verdict};

pub use choosing::{KeepChoices, TuneHead, choose};
pub use listening::listen_along;
pub use look::Look;
pub use pinning::{KeepFingering, pin_down};
pub use playing::play_along;
use state::{Effect, Event, LessonView, Phase, QuestionView, StageView, State};
pub use undo_stack::UndoStack;

/// How often the clocks on the screen move.
const TICK: Duration = Duration::from_millis(200);

/// How long a right answer that was played stands before the next question; chosen by ear.
const NEXT_AFTER: Duration = Duration::from_secs(3);

/// Choices longer than this are cut, whatever the width of the screen.
const MOST_COLUMNS: usize = 240;

/// When the player is reminded to rest. Common practice, no source.
const REST_AFTER: Duration = Duration::from_secs(25 * 60);
const REST: &str = "25 minutes: put the guitar down for a moment (Tab pauses)";

/// Plays a session on the terminal until the player leaves; every answer is kept when this returns. With `playing` answers are
/// played, and a question that was answered is followed by the next one.
pub fn play(
    session: &mut Session,
    clock: &Clock,
    look: Look,
    length: drill::SessionLook,
    news: Option<String>,
    sound: &mut dyn SoundOutput,
    mut playing: Option<(PlayedAnswers, &mut dyn SoundInput)>,
) -> io::Result<()> {
    let mut terminal = FullScreen::enter()?;
    let mut state = State::new(look, terminal.size()?);
    state.listens = playing.is_some();
    if let Some(news) = news.or(playing.is_some().then(|| drill::by_playing::HOW.into())) {
        state.update(Event::Notice(news));
    }
    let mut asked = None;
    if !length.is_over(session, state.in_session, clock.now()) {
        asked = put_next(session, clock, sound, &mut state);
    }
    if asked.is_none() {
        state.update(Event::Ended(session.summary(clock.now())));
    }
    let mut put_off: Vec<Asked> = Vec::new();
    let mut last = Instant::now();
    // Whether the question on the screen is listened for, and since when its answer stands there.
    let mut is_begun = false;
    let mut answered: Option<Instant> = None;
    loop {
        tell_news(session, &mut state);
        terminal.draw(|frame| render::render(&state, frame))?;
        // The microphone has its own wait.
        let wait = match state.listens {
            true => Duration::ZERO,
            false => TICK,
        };
        let event = match terminal.next_event(wait)? {
            Some(ScreenEvent::Resumed) => {
                // Time while the program was stopped does not count as thinking.
                last = Instant::now();
                let (columns, rows) = terminal.size()?;
                Some(Event::Size(columns, rows))
            }
            Some(ScreenEvent::Input(event)) => event_of(event),
            None => None,
        };
        let before = state.in_session;
        state.update(Event::Passed(last.elapsed()));
        if before < REST_AFTER && state.in_session >= REST_AFTER {
            state.update(Event::Notice(REST.into()));
        }
        last = Instant::now();
        let mut effect = event.and_then(|event| state.update(event));
        if let (Some((answers, microphone)), None) = (&mut playing, &effect)
            && state.listens
        {
            let is_asking = state.phase == Phase::Asking && state.overlay == state::Overlay::None;
            if let Some(asked) = asked.as_ref().filter(|_| is_asking && !is_begun) {
                answers.begin(session, asked);
                is_begun = true;
            }
            let heard = match &asked {
                Some(asked) => answers.hear(session, asked, *microphone),
                None => Ok(PlayedAnswer::Waiting),
            };
            match heard {
                Ok(PlayedAnswer::Given(words, answer)) if is_asking => {
                    effect = state.update(Event::Played(words, answer));
                }
                Ok(PlayedAnswer::Given(..) | PlayedAnswer::Waiting) => {}
                Ok(PlayedAnswer::Ended) => {
                    state.listens = false;
                    state.update(Event::Notice("the sound has ended".into()));
                }
                Err(reason) => {
                    state.listens = false;
                    state.update(Event::Notice(format!("{reason}; type your answers")));
                }
            }
            let is_right = matches!(&state.phase, Phase::Answered { verdict: Some(verdict), .. } if verdict.is_right());
            let stands = answered.map(|since| since.elapsed());
            if is_right && effect.is_none() && stands.is_some_and(|it| it >= NEXT_AFTER) {
                effect = Some(Effect::Next);
            }
        }
        let Some(effect) = effect else {
            continue;
        };
        match effect {
            Effect::Leave => return Ok(()),
            Effect::Answer(typed, answer) => {
                if let Some(asked) = &asked {
                    let seconds = state.on_question.as_secs_f64();
                    let verdict = session.answer(asked, &typed, answer, seconds, clock.now());
                    state.update(Event::Judged {
                        verdict: answer.map(|_| verdict),
                        remark: remark(asked, verdict, answer.is_none()),
                        tally: session.tally().clone(),
                    });
                    drill::by_ear::play_answer(session, asked, sound);
                }
                answered = Some(Instant::now());
            }
            Effect::Next => {
                is_begun = false;
                let is_over = length.is_over(session, state.in_session, clock.now());
                asked = match put_off.pop() {
                    Some(waiting) => Some(put(session, waiting, sound, &mut state)),
                    None if is_over => None,
                    None => put_next(session, clock, sound, &mut state),
                };
                if asked.is_none() {
                    sound.stop();
                    state.update(Event::Ended(session.summary(clock.now())));
                }
            }
            Effect::Play => {
                if let Some(asked) = &asked {
                    match state.phase {
                        Phase::Answered { .. } => {
                            drill::by_ear::play_answer(session, asked, sound);
                        }
                        _ => {
                            drill::by_ear::play(session, asked, sound);
                            is_begun = false;
                        }
                    }
                }
            }
            Effect::TakeBack => {
                is_begun = false;
                if let Some(before) = session.take_back() {
                    // An unanswered question is asked again afterwards.
                    if state.phase == Phase::Asking {
                        put_off.extend(asked.take());
                    }
                    state.tally = session.tally().clone();
                    // Only the last answer can be taken back.
                    state.has_answer = false;
                    asked = Some(put(session, before, sound, &mut state));
                }
            }
        }
    }
}

fn remark(asked: &Asked, verdict: Verdict, shown: bool) -> Option<String> {
    if shown {
        None
    } else {
        asked.question.remark(verdict)
    }
}

fn tell_news(session: &mut Session, state: &mut State) {
    if let Some(news) = session.news() {
        state.update(Event::Notice(news.to_string()));
    }
}

fn put_next(
    session: &mut Session,
    clock: &Clock,
    sound: &mut dyn SoundOutput,
    state: &mut State,
) -> Option<Asked> {
    let (asked, news) = drill::by_ear::next(session, sound, clock.now());
    if let Some(news) = news {
        state.update(Event::Notice(news));
    }
    Some(put(session, asked?, sound, state))
}

fn put(session: &Session, asked: Asked, sound: &mut dyn SoundOutput, state: &mut State) -> Asked {
    let lesson = asked.lesson.map(|lesson| {
        let width = usize::from(state.size.0.saturating_sub(4));
        Box::new(lesson_view(
            session,
            &asked,
            lesson,
            width,
            state.look.ascii,
        ))
    });
    match lesson {
        // The question is heard when it is put: after the lesson.
        Some(_) => sound.stop(),
        None => drill::by_ear::play(session, &asked, sound),
    }
    state.update(Event::Asked(Box::new(view(session, &asked)), lesson));
    asked
}

/// The question for the screen, with everything shown after its answer.
fn view(session: &Session, asked: &Asked) -> QuestionView {
    let tune = session.tune(asked);
    let material = &tune.material;
    let question = &asked.question;
    let (answers, position) = answer_on_the_neck(question, material);
    let placement = question
        .placement
        .or_else(|| material.placements().first().copied());
    let phrase = material.phrase_of(question.note);
    let mut marks = Vec::new();
    if let (Some(placement), Some(notes)) = (placement, material.phrases().get(phrase)) {
        for note in notes.clone() {
            marks.extend(
                note_marks(material, note, placement)
                    .into_iter()
                    .map(|mark| (mark, false)),
            );
        }
    }
    marks.extend(answers.into_iter().map(|mark| (mark, true)));
    let title = title_or_untitled(&tune.entry.title);
    QuestionView {
        wording: question.wording(material),
        headline: render::headline_of(question),
        tune: title.to_string(),
        strip: PhraseStrip::of_question(question, material),
        answer_strip: match question.is_heard() {
            true => Some(PhraseStrip::of_answer(question, material)),
            false => None,
        },
        choices: question.choices(material, MOST_COLUMNS),
        instrument: material.instrument().clone(),
        position,
        phrase_marks: marks,
        question: question.clone(),
    }
}

/// A lesson for the screen.
fn lesson_view(
    session: &Session,
    asked: &Asked,
    lesson: Lesson,
    width: usize,
    ascii: bool,
) -> LessonView {
    let tune = session.tune(asked);
    let page = |stage| PhrasePage {
        material: &tune.material,
        lesson: &lesson,
        stage,
        ascii,
        width,
    };
    let stages = lesson.stages().iter().map(|stage| StageView {
        strip: PhraseStrip::of_lesson(lesson.notes(&tune.material), *stage, &tune.material),
        marks: page(*stage).marks(),
        instruction: stage.instruction(),
    });
    LessonView {
        heading: page(Stage::Whole).heading(),
        instrument: tune.material.instrument().clone(),
        position: page(Stage::Whole).position(),
        stages: stages.collect(),
        tablature: page(Stage::Whole).tablature(),
    }
}

/// The screen event of a terminal event.
fn event_of(event: input::Event) -> Option<Event> {
    match event {
        input::Event::Key(key) => Some(Event::Key(key)),
        input::Event::Resize(columns, rows) => Some(Event::Size(columns, rows)),
        input::Event::Mouse(mouse) => match mouse.kind {
            MouseEventKind::Down(MouseButton::Left) => Some(Event::Click {
                column: mouse.column,
                row: mouse.row,
            }),
            _ => None,
        },
        _ => None,
    }
}
