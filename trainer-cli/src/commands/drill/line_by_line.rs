//! The drill line by line, for any terminal, pipe or screen reader.

use std::io::{self, BufRead, Write};
use std::time::Instant;

use fretlib::practice::{Reason, Verdict};
use fretlib::text::NeckDiagram;

use super::Look;
use crate::failure::Failure;
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::session::{Asked, Count, RecorderNews, Session, answer_on_the_neck};
use crate::terminal::{Clock, Streams, colour};

/// What came in for an answer.
enum Input {
    Text(String),
    End,
}

/// Asks until the player or the input ends it, then sums up.
pub fn run(
    mut session: Session,
    clock: &Clock,
    look: Look,
    streams: &mut Streams,
) -> Result<(), Failure> {
    tell_news(&mut session, streams)?;
    introduce(&session, clock, streams)?;
    // Questions put off while an answer before them is given again.
    let mut put_off: Vec<Asked> = Vec::new();
    'questions: while look
        .most
        .is_none_or(|most| session.tally().all.asked < most)
    {
        let Some(mut asked) = put_off.pop().or_else(|| session.next(clock.now())) else {
            break;
        };
        put(&session, &asked, streams)?;
        let mut since = Instant::now();
        loop {
            let Input::Text(text) = input(streams)? else {
                break 'questions;
            };
            let text = text.trim();
            let answer = match text {
                "" => continue,
                "q" | "quit" => break 'questions,
                "u" => {
                    match session.take_back() {
                        Some(before) => {
                            put_off.push(std::mem::replace(&mut asked, before));
                            writeln!(streams.stdout, "   taken back\n")?;
                            put(&session, &asked, streams)?;
                            since = Instant::now();
                        }
                        None => writeln!(streams.stdout, "   there is no answer to take back")?,
                    }
                    continue;
                }
                "?" => None,
                _ => match session.read(&asked, text) {
                    Ok(answer) => Some(answer),
                    Err(unclear) => {
                        writeln!(streams.stdout, "   {unclear}")?;
                        continue;
                    }
                },
            };
            let seconds = since.elapsed().as_secs_f64();
            let verdict = session.answer(&asked, text, answer, seconds, clock.now());
            tell_news(&mut session, streams)?;
            acknowledge(&session, &asked, answer.is_none(), verdict, look, streams)?;
            break;
        }
    }
    close(session, clock, streams)
}

/// Ends a session and sums it up; it is a failure when an answer could not be kept.
pub fn close(mut session: Session, clock: &Clock, streams: &mut Streams) -> Result<(), Failure> {
    let lost = session.end(clock.now());
    tell_news(&mut session, streams)?;
    sum_up(&session, streams)?;
    match lost {
        None => Ok(()),
        Some((answers, reason)) => {
            streams.stdout.flush()?;
            Err(Failure::could_not(
                format!("{} could not be kept: {reason}", count(answers, "answer")),
                "the history is in the folder of `--data-dir`, or the usual one: see that it can be written",
            ))
        }
    }
}

fn introduce(session: &Session, clock: &Clock, streams: &mut Streams) -> io::Result<()> {
    for tune in session.tunes() {
        let material = &tune.material;
        let title = title_or_untitled(&tune.entry.title);
        let phrases = count(material.phrases().len(), "phrase");
        let spots = count(material.spots().len(), "spot");
        let key = material.key_at(0);
        writeln!(streams.stdout, "{title}, {key} · {phrases} at {spots}")?;
    }
    if let Some((due, new)) = session.ahead(clock.now()) {
        writeln!(streams.stdout, "{due} due, up to {new} new")?;
    }
    writeln!(
        streams.stdout,
        "? shows the answer, u takes the last one back, q ends\n"
    )
}

fn put(session: &Session, asked: &Asked, streams: &mut Streams) -> io::Result<()> {
    let wording = asked.question.wording(&session.tune(asked).material);
    let number = session.tally().all.asked + 1;
    let why = match asked.reason {
        Some(Reason::New) => " · new",
        Some(Reason::Missed) => " · once more",
        Some(Reason::Due | Reason::Weak) | None => "",
    };
    writeln!(streams.stdout, "{number}. {}{why}", wording.whereabouts)?;
    writeln!(streams.stdout, "   {} ({})", wording.question, wording.form)
}

/// One line of input. On a terminal a prompt stands before it.
fn input(streams: &mut Streams) -> io::Result<Input> {
    // Longer lines are no answers; the rest of one is thrown away by the reads that follow.
    const LONGEST: u64 = 1000;
    if streams.stdin_is_terminal {
        write!(streams.stdout, "> ")?;
    }
    streams.stdout.flush()?;
    let mut line = Vec::new();
    let read = io::Read::take(&mut streams.stdin, LONGEST).read_until(b'\n', &mut line)?;
    if read == 0 {
        return Ok(Input::End);
    }
    Ok(Input::Text(String::from_utf8_lossy(&line).into_owned()))
}

/// Says how the answer was; by now it is kept.
fn acknowledge(
    session: &Session,
    asked: &Asked,
    given_up: bool,
    verdict: Verdict,
    look: Look,
    streams: &mut Streams,
) -> io::Result<()> {
    let question = &asked.question;
    let out = &mut streams.stdout;
    match (verdict, question.remark(verdict)) {
        (Verdict::Right, _) => return writeln!(out, "   right\n"),
        (Verdict::Respelled, remark) => {
            return writeln!(out, "   right; {}\n", remark.unwrap_or_default());
        }
        (Verdict::Wrong(_), _) if given_up => {
            writeln!(out, "   it is {}", question.answer_in_words())?;
        }
        (Verdict::Wrong(_), Some(remark)) => {
            writeln!(
                out,
                "   wrong: {remark}; it is {}",
                question.answer_in_words()
            )?;
        }
        (Verdict::Wrong(_), None) => {
            writeln!(out, "   wrong: it is {}", question.answer_in_words())?;
        }
    }
    let material = &session.tune(asked).material;
    let (marks, position) = answer_on_the_neck(question, material);
    let diagram = NeckDiagram {
        instrument: material.instrument(),
        marks: &marks,
        position,
        left_handed: look.left_handed,
        ascii: streams.ascii,
        width: streams.width,
    };
    writeln!(streams.stdout)?;
    colour::write(streams, &diagram.draw())?;
    writeln!(streams.stdout)
}

/// Says when answers are not kept, and when they are again.
fn tell_news(session: &mut Session, streams: &mut Streams) -> io::Result<()> {
    let Some(news) = session.news() else {
        return Ok(());
    };
    streams.stdout.flush()?;
    match news {
        RecorderNews::KeptNow => writeln!(streams.stderr, "note: {news}"),
        RecorderNews::NotKeptYet { .. } | RecorderNews::Trouble(_) => {
            writeln!(streams.stderr, "warning: {news}")
        }
    }
}

fn sum_up(session: &Session, streams: &mut Streams) -> io::Result<()> {
    let tally = session.tally();
    let out = &mut streams.stdout;
    if tally.all.asked == 0 {
        return writeln!(out, "no answers");
    }
    let Count { asked, right } = tally.all;
    writeln!(out, "{right} of {asked} right\n")?;
    let line = |out: &mut dyn Write, name: &str, Count { asked, right }: &Count| {
        let share = 100 * right / asked.max(&1);
        writeln!(out, "  {name:<10} {right:>3} of {asked:>3}  {share:>3} %")
    };
    writeln!(out, "by kind")?;
    for (kind, count) in &tally.kinds {
        line(out, kind.name(), count)?;
    }
    if !tally.positions.is_empty() {
        writeln!(out, "\nby position")?;
        for (position, count) in &tally.positions {
            line(out, &position.to_string(), count)?;
        }
    }
    Ok(())
}
