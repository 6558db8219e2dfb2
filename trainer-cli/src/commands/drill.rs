//! `neckline drill`: questions about a melody, wherever it lies whole.

pub mod by_ear;
pub mod by_playing;
mod line_by_line;

use std::io::Write;
use std::time::Duration;

use fretlib::practice::Moment;

use self::by_playing::{AnsweredBy, PlayedAnswers};
use crate::audio::SoundInput;
use crate::failure::Failure;
use crate::request::{ByEar, HistoryFolder, PartRequest, SessionRequest, TuneOnInstrument};
use crate::screen;
use crate::session::{PracticeTune, Session};
use crate::terminal::{Clock, Streams};

/// What to ask about, and how.
#[derive(Debug)]
pub struct DrillRequest {
    /// What is asked, how much and in which order.
    pub session: SessionRequest,
    /// Whether it is asked by ear.
    pub by_ear: ByEar,
    /// How answers are given.
    pub answered_by: AnsweredBy,
    /// What part of the tune and the neck is asked about.
    pub part: PartRequest,
    /// Where the history is.
    pub folder: HistoryFolder,
    /// The tune.
    pub tune: TuneOnInstrument,
}

/// How a drill looks and how long it is.
#[derive(Clone, Copy, Debug)]
pub struct SessionLook {
    /// Draw the neck for a left-handed player.
    pub left_handed: bool,
    /// The most questions.
    pub most: Option<u32>,
    /// The most time; without it the session continues after the day's work.
    pub longest: Option<Duration>,
}

impl SessionLook {
    /// The default length of a session. Chosen by ear.
    pub const USUAL_LENGTH: Duration = Duration::from_secs(20 * 60);

    /// Whether a session is over after this time.
    pub fn is_over(self, session: &Session, spent: Duration, now: Moment) -> bool {
        let is_asked_enough = |most| session.tally().all.asked >= most;
        let is_long_enough = |longest| spent >= longest || session.is_done(now);
        self.most.is_some_and(is_asked_enough) || self.longest.is_some_and(is_long_enough)
    }
}

/// Asks about the tune.
pub fn run(request: &DrillRequest, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(request.session.now)?;
    let tune = PracticeTune::open(&request.tune, &request.part, streams)?;
    if let Some(octave) = tune.on_open_strings {
        writeln!(
            streams.stderr,
            "note: the tune is also whole in I on open strings, {}; `--positions I` asks about it there",
            octave.in_words()
        )?;
    }
    let mut wanted = request.session.clone();
    if !tune.material.is_arranged() && wanted.kinds.iter().all(|kind| kind.is_of_arrangement()) {
        return Err(Failure::could_not(
            "there is no arrangement of this tune to ask about",
            "`neckline arrange TUNE --save` keeps one beside it; `--arrangement` takes what the program finds",
        ));
    }
    let playing = by_playing::settle(&mut wanted, request.answered_by, streams)?;
    let news = by_ear::settle(&mut wanted, request.by_ear, streams)?;
    let session = Session::open(vec![tune], &wanted, &request.folder, clock.now())?;
    let look = SessionLook {
        left_handed: request.tune.instrument.left_handed,
        most: request.session.questions,
        // With a number of questions, only that number ends the session.
        longest: match request.session.questions {
            Some(_) => None,
            None => Some(SessionLook::USUAL_LENGTH),
        },
    };
    let plain = request.session.plain;
    play(session, &clock, look, plain, (news, playing), streams)
}

/// Plays a session: on the full screen when a person sits at a terminal, else line by line. `news` is said once;
/// with `playing` answers are played, and the microphone is closed at the end.
pub fn play(
    mut session: Session,
    clock: &Clock,
    look: SessionLook,
    plain: bool,
    (news, playing): (Option<String>, Option<PlayedAnswers>),
    streams: &mut Streams,
) -> Result<(), Failure> {
    if plain || !streams.stdin_is_terminal || !streams.stdout_is_terminal {
        if let Some(news) = news {
            writeln!(streams.stderr, "note: {news}")?;
        }
        let done = line_by_line::run(session, clock, look, playing, streams);
        streams.microphone.close();
        return done;
    }
    streams.stdout.flush()?;
    let screen_look = screen::Look {
        color: streams.color,
        ascii: streams.ascii,
        left_handed: look.left_handed,
    };
    let sound = streams.sound.as_mut();
    let microphone: &mut dyn SoundInput = streams.microphone.as_mut();
    let playing = playing.map(|playing| (playing, microphone));
    let done = screen::play(&mut session, clock, screen_look, look, news, sound, playing);
    streams.sound.stop();
    streams.microphone.close();
    done?;
    line_by_line::close(session, clock, streams)
}
