//! Answers given on the instrument: the microphone in a session.

use std::time::Duration;

use fretlib::hearing::{LiveEvent, LiveListener, RecordingRate};
use fretlib::practice::{Answer, Question, Task};
use fretlib::theory::{MidiNumber, Pitch};

use crate::audio::{SoundInput, cannot_listen};
use crate::failure::Failure;
use crate::request::SessionRequest;
use crate::session::{Asked, Session};
use crate::terminal::Streams;

/// How answers are given.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum AnsweredBy {
    /// By typing.
    Typing,
    /// By playing.
    Playing,
}

/// What is said once, when answers are played.
pub const HOW: &str =
    "answer on the instrument: the pitch counts, the place itself cannot be heard";

/// What the answer to a question is, when it is played.
pub fn how_to_play(question: &Question) -> &'static str {
    match question.task {
        Task::Interval { .. } => "play both notes",
        _ => "play it",
    }
}

/// How long a look for more sound lasts.
const LOOK: Duration = Duration::from_millis(15);

/// How long the program's own sound is left out after its end, in seconds: rooms ring on.
const ECHO: f64 = 0.3;

/// Listens for the answers to questions.
pub struct PlayedAnswers {
    rate: RecordingRate,
    // One for the whole session: a string that rings on from the last answer is no new strike.
    listener: Option<LiveListener>,
    // Samples heard so far, and from which second on strikes are an answer.
    heard: u64,
    from: f64,
    is_waiting: bool,
    played: Vec<Pitch>,
}

/// Opens the microphone where answers are played, and leaves out the kinds that are not.
///
/// # Errors
///
/// When the microphone cannot be opened, or no kind is left.
pub fn settle(
    request: &mut SessionRequest,
    answered_by: AnsweredBy,
    streams: &mut Streams,
) -> Result<Option<PlayedAnswers>, Failure> {
    if answered_by == AnsweredBy::Typing {
        return Ok(None);
    }
    request.kinds.retain(|kind| kind.is_playable());
    if request.kinds.is_empty() {
        return Err(Failure::usage(
            "none of these kinds can be answered by playing",
            "ask for place, next, octave, line, or those by ear",
        ));
    }
    let rate = streams
        .microphone
        .open()
        .map_err(|reason| cannot_listen(&reason))?;
    Ok(Some(PlayedAnswers {
        rate,
        listener: None,
        heard: 0,
        from: 0.0,
        is_waiting: false,
        played: Vec::new(),
    }))
}

impl PlayedAnswers {
    /// Begins to listen for the answer to a question, once its own sound has ended.
    pub fn begin(&mut self, session: &Session, asked: &Asked) {
        let material = &session.tune(asked).material;
        // Only the names of strikes are asked for, so that any melody will do.
        self.listener
            .get_or_insert_with(|| LiveListener::new(self.rate, material.melody()))
            .forget_pass();
        self.played.clear();
        self.is_waiting = true;
        let own = asked.question.sound(material);
        let own = own.map_or(0.0, |sound| sound.seconds() + ECHO);
        self.from = self.rate.seconds(self.heard) + own;
    }

    /// Hears what has come since, and gives the answer when it is complete: in words, and as it is judged.
    ///
    /// # Errors
    ///
    /// When the microphone has gone away; the reason in words.
    pub fn hear(
        &mut self,
        session: &Session,
        asked: &Asked,
        microphone: &mut dyn SoundInput,
    ) -> Result<PlayedAnswer, String> {
        let Some(samples) = microphone.next(LOOK)? else {
            return Ok(PlayedAnswer::Ended);
        };
        self.heard += samples.len() as u64;
        let Some(listener) = &mut self.listener else {
            return Ok(PlayedAnswer::Waiting);
        };
        let instrument = session.tune(asked).material.instrument();
        for event in listener.push(&samples) {
            let LiveEvent::Named(named) = event else {
                continue;
            };
            if !self.is_waiting || named.at < self.from {
                continue;
            }
            let written =
                i16::from(named.pitch.get()) - i16::from(instrument.sounding().semitones());
            let midi = u8::try_from(written).ok().map(MidiNumber::new);
            let Some(Ok(midi)) = midi else {
                continue;
            };
            self.played.push(Pitch::from_midi(midi));
            if let Some(answer) = asked.question.answer_played(&self.played, instrument) {
                let names: Vec<String> = self.played.iter().map(Pitch::to_string).collect();
                self.is_waiting = false;
                return Ok(PlayedAnswer::Given(
                    format!("played {}", names.join(" ")),
                    answer,
                ));
            }
        }
        Ok(PlayedAnswer::Waiting)
    }
}

/// What came of listening for a moment.
#[derive(Clone, Debug, PartialEq)]
pub enum PlayedAnswer {
    /// Nothing yet, or not enough.
    Waiting,
    /// An answer, in words and as it is judged.
    Given(String, Answer),
    /// There is nothing more to listen to.
    Ended,
}
