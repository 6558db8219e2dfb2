//! The drill line by line, for any terminal, pipe or screen reader.

use std::io::{self, BufRead, Write};
use std::time::{Duration, Instant};

use fretlib::practice::{Answer, PhraseStrip, Reason, Verdict};
use fretlib::text::NeckDiagram;

use super::by_playing::{HOW, PlayedAnswer, PlayedAnswers, how_to_play};
use super::{SessionLook, by_ear};
use crate::audio::cannot_listen;
use crate::failure::Failure;
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::phrase_page::PhrasePage;
use crate::session::{Asked, RecorderNews, Session, answer_on_the_neck};
use crate::terminal::{Clock, Streams, colour};

/// The input for an answer.
enum Input {
    Text(String),
    End,
}

/// Asks until the player ends it, the input ends or the day's work is done, then sums up.
pub fn run(
    mut session: Session,
    clock: &Clock,
    look: SessionLook,
    mut playing: Option<PlayedAnswers>,
    streams: &mut Streams,
) -> Result<(), Failure> {
    tell_news(&mut session, streams)?;
    introduce(&session, clock, streams)?;
    if playing.is_some() {
        writeln!(streams.stdout, "{HOW}; Ctrl-C closes the microphone\n")?;
    }
    let mut spent = Duration::ZERO;
    // Questions postponed while a previous answer is given again.
    let mut put_off: Vec<Asked> = Vec::new();
    'questions: while !look.is_over(&session, spent, clock.now()) || !put_off.is_empty() {
        let Some(mut asked) = next(&mut session, put_off.pop(), clock, streams)? else {
            break;
        };
        let since = Instant::now();
        if !teach(&session, &asked, look, streams)? {
            break;
        }
        spent += since.elapsed();
        put(&session, &asked, playing.is_some(), streams)?;
        let mut since = Instant::now();
        loop {
            let played = match &mut playing {
                Some(playing) => match heard(playing, &session, &asked, streams)? {
                    Some(played) => Some(played),
                    None => break 'questions,
                },
                None => None,
            };
            let typed = match &played {
                Some((words, _)) => Input::Text(words.clone()),
                None => input(streams, "> ")?,
            };
            let Input::Text(text) = typed else {
                break 'questions;
            };
            let text = text.trim();
            let answer = match text {
                _ if played.is_some() => played.map(|(_, answer)| answer),
                "" => {
                    if streams.stdin_is_terminal {
                        writeln!(streams.stdout, "   type an answer; ? shows it")?;
                    }
                    continue;
                }
                "q" | "quit" => break 'questions,
                "u" => {
                    match session.take_back() {
                        Some(before) => {
                            put_off.push(std::mem::replace(&mut asked, before));
                            writeln!(streams.stdout, "   taken back\n")?;
                            put(&session, &asked, playing.is_some(), streams)?;
                            since = Instant::now();
                        }
                        None => writeln!(streams.stdout, "   there is no answer to take back")?,
                    }
                    continue;
                }
                "r" if asked.question.is_heard() => {
                    by_ear::play(&session, &asked, streams.sound.as_mut());
                    continue;
                }
                "?" => None,
                _ => match session.read(&asked, text) {
                    Ok(answer) => Some(answer),
                    Err(error) => {
                        writeln!(streams.stdout, "   {error}")?;
                        ask(&session, &asked, false, streams)?;
                        continue;
                    }
                },
            };
            spent += since.elapsed();
            let seconds = since.elapsed().as_secs_f64();
            let verdict = session.answer(&asked, text, answer, seconds, clock.now());
            tell_news(&mut session, streams)?;
            acknowledge(&session, &asked, answer.is_none(), verdict, look, streams)?;
            if asked.question.is_heard() && !sound_answer(&session, &asked, streams)? {
                break 'questions;
            }
            break;
        }
    }
    close(session, clock, streams)
}

/// Waits for an answer that is played, and says what was heard; `None` when there is nothing more to listen to.
fn heard(
    playing: &mut PlayedAnswers,
    session: &Session,
    asked: &Asked,
    streams: &mut Streams,
) -> Result<Option<(String, Answer)>, Failure> {
    streams.stdout.flush()?;
    playing.begin(session, asked);
    loop {
        let heard = playing.hear(session, asked, streams.microphone.as_mut());
        match heard.map_err(|reason| cannot_listen(&reason))? {
            PlayedAnswer::Waiting => {}
            PlayedAnswer::Ended => return Ok(None),
            PlayedAnswer::Given(words, answer) => {
                writeln!(streams.stdout, "   {words}")?;
                return Ok(Some((words, answer)));
            }
        }
    }
}

/// The next question: one that was put off, or another one.
fn next(
    session: &mut Session,
    put_off: Option<Asked>,
    clock: &Clock,
    streams: &mut Streams,
) -> io::Result<Option<Asked>> {
    if put_off.is_some() {
        return Ok(put_off);
    }
    let (asked, news) = by_ear::next(session, streams.sound.as_mut(), clock.now());
    if let Some(news) = news {
        streams.stdout.flush()?;
        writeln!(streams.stderr, "note: {news}")?;
    }
    Ok(asked)
}

/// Plays the answer of a question by ear, until a player at the terminal has heard enough; false when the player ends the
/// session there.
fn sound_answer(session: &Session, asked: &Asked, streams: &mut Streams) -> io::Result<bool> {
    by_ear::play_answer(session, asked, streams.sound.as_mut());
    while streams.stdin_is_terminal {
        match input(streams, "Enter goes on, r plays it again, q ends > ")? {
            Input::Text(text) => match text.trim() {
                "r" => by_ear::play_answer(session, asked, streams.sound.as_mut()),
                "q" | "quit" => return Ok(false),
                _ => break,
            },
            Input::End => return Ok(false),
        }
    }
    Ok(true)
}

/// Ends a session and sums it up; it is a failure when an answer could not be kept.
pub fn close(mut session: Session, clock: &Clock, streams: &mut Streams) -> Result<(), Failure> {
    let lost = session.end();
    tell_news(&mut session, streams)?;
    if session.tally().all.asked == 0 {
        writeln!(streams.stdout, "no answers")?;
    } else {
        for line in session.summary(clock.now()).lines {
            writeln!(streams.stdout, "{line}")?;
        }
    }
    match lost {
        None => Ok(()),
        Some((answers, reason)) => {
            streams.stdout.flush()?;
            Err(Failure::could_not(
                format!(
                    "{} could not be kept: {}",
                    count(answers, "answer"),
                    reason.problem
                ),
                reason.hint,
            ))
        }
    }
}

fn introduce(session: &Session, clock: &Clock, streams: &mut Streams) -> io::Result<()> {
    for tune in session.tunes() {
        let material = &tune.material;
        let title = title_or_untitled(&tune.entry.title);
        let phrases = count(material.phrases().len(), "phrase");
        let key = material.key_at(0);
        let places = material.placements().iter().map(|it| it.in_words());
        let places = match places.collect::<Vec<_>>().as_slice() {
            places @ [_, _, _, _, ..] => format!("{} positions and octaves", places.len()),
            places => places.join("; "),
        };
        writeln!(streams.stdout, "{title}, {key} · {phrases} · {places}")?;
    }
    match session.ahead(clock.now()) {
        Some((0, 0)) => writeln!(streams.stdout, "nothing fades today")?,
        Some((fading, untouched)) => writeln!(
            streams.stdout,
            "{fading} to play again today, {untouched} untouched"
        )?,
        None => {}
    }
    let again = match session.asks_by_ear() {
        true => "r plays a question again, ",
        false => "",
    };
    writeln!(
        streams.stdout,
        "{again}? shows the answer, u takes the last one back, q ends\n"
    )
}

/// Shows a phrase of a lesson, stage by stage; false when the player ends the session there.
///
/// Without a terminal it does not wait: the whole phrase is shown once.
fn teach(
    session: &Session,
    asked: &Asked,
    look: SessionLook,
    streams: &mut Streams,
) -> io::Result<bool> {
    let Some(lesson) = &asked.lesson else {
        return Ok(true);
    };
    let material = &session.tune(asked).material;
    let stages = match streams.stdin_is_terminal {
        true => lesson.stages(),
        false => &lesson.stages()[..1],
    };
    for (index, stage) in stages.iter().enumerate() {
        let page = PhrasePage {
            material,
            lesson,
            stage: *stage,
            ascii: streams.ascii,
            width: streams.width,
        };
        if index == 0 {
            writeln!(streams.stdout, "{}", page.heading())?;
        }
        colour::write(streams, &page.strip())?;
        if let (0, Some(tablature)) = (index, page.tablature()) {
            colour::write(streams, &tablature)?;
            let marks = page.marks();
            let diagram = NeckDiagram {
                instrument: material.instrument(),
                marks: &marks,
                position: page.position(),
                left_handed: look.left_handed,
                ascii: streams.ascii,
                width: streams.width,
            };
            colour::write(streams, &diagram.draw())?;
        }
        writeln!(streams.stdout, "{}", stage.instruction())?;
        if streams.stdin_is_terminal {
            match input(streams, "Enter goes on, s skips the rest, q ends > ")? {
                Input::Text(text) => match text.trim() {
                    "q" | "quit" => return Ok(false),
                    "s" => break,
                    _ => {}
                },
                Input::End => return Ok(false),
            }
        }
    }
    writeln!(streams.stdout)?;
    Ok(true)
}

fn put(session: &Session, asked: &Asked, is_played: bool, streams: &mut Streams) -> io::Result<()> {
    let material = &session.tune(asked).material;
    let wording = asked.question.wording(material);
    let number = session.tally().all.asked + 1;
    let why = match asked.reason {
        Some(Reason::Untouched) => " · untouched",
        Some(Reason::Missed) => " · once more",
        Some(Reason::Fading | Reason::Weak) | None => "",
    };
    writeln!(streams.stdout, "{number}. {}{why}", wording.whereabouts)?;
    let strip = PhraseStrip::of_question(&asked.question, material);
    let strip = strip.draw(streams.width.saturating_sub(3), streams.ascii);
    colour::write(streams, &strip.indented(3))?;
    ask(session, asked, is_played, streams)?;
    by_ear::play(session, asked, streams.sound.as_mut());
    Ok(())
}

/// Writes the question itself, and what there is to choose from.
fn ask(session: &Session, asked: &Asked, is_played: bool, streams: &mut Streams) -> io::Result<()> {
    let material = &session.tune(asked).material;
    let wording = asked.question.wording(material);
    let form = match is_played {
        true => how_to_play(&asked.question),
        false => wording.form,
    };
    writeln!(streams.stdout, "   {} ({form})", wording.question)?;
    let room = streams.width.saturating_sub(3);
    for choice in asked.question.choices(material, room) {
        writeln!(streams.stdout, "   {choice}")?;
    }
    Ok(())
}

/// One line of input, with a prompt on a terminal.
fn input(streams: &mut Streams, prompt: &str) -> io::Result<Input> {
    // Longer lines are not answers; the following reads discard the rest.
    const LONGEST: u64 = 1000;
    if streams.stdin_is_terminal {
        write!(streams.stdout, "{prompt}")?;
    }
    streams.stdout.flush()?;
    let mut line = Vec::new();
    let read = io::Read::take(&mut streams.stdin, LONGEST).read_until(b'\n', &mut line)?;
    if read == 0 {
        return Ok(Input::End);
    }
    Ok(Input::Text(String::from_utf8_lossy(&line).into_owned()))
}

/// Prints the verdict on an answer, which has been recorded.
fn acknowledge(
    session: &Session,
    asked: &Asked,
    given_up: bool,
    verdict: Verdict,
    look: SessionLook,
    streams: &mut Streams,
) -> io::Result<()> {
    let question = &asked.question;
    let told = question.verdict_in_words((!given_up).then_some(verdict));
    writeln!(streams.stdout, "   {told}")?;
    if let Some(remark) = question.remark(verdict).filter(|_| !given_up) {
        writeln!(streams.stdout, "   {remark}")?;
    }
    let material = &session.tune(asked).material;
    if question.is_heard() {
        let strip = PhraseStrip::of_answer(question, material);
        let strip = strip.draw(streams.width.saturating_sub(3), streams.ascii);
        colour::write(streams, &strip.indented(3))?;
    }
    writeln!(streams.stdout)?;
    if verdict.is_right() {
        return Ok(());
    }
    let (marks, position) = answer_on_the_neck(question, material);
    let diagram = NeckDiagram {
        instrument: material.instrument(),
        marks: &marks,
        position,
        left_handed: look.left_handed,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &diagram.draw())?;
    writeln!(streams.stdout)
}

/// Reports when answers are not recorded, and when they are again.
fn tell_news(session: &mut Session, streams: &mut Streams) -> io::Result<()> {
    let Some(news) = session.news() else {
        return Ok(());
    };
    streams.stdout.flush()?;
    match news {
        RecorderNews::KeptNow | RecorderNews::Fitted { .. } | RecorderNews::FitCutShort => {
            writeln!(streams.stderr, "note: {news}")
        }
        RecorderNews::NotKeptYet { .. } | RecorderNews::Trouble(_) => {
            writeln!(streams.stderr, "warning: {news}")
        }
    }
}
