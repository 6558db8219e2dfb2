//! Listening with lines of text, without the full screen.

use std::io::Write;
use std::time::Duration;

use super::live_session::{LiveNews, LiveSession};
use crate::audio::cannot_listen;
use crate::failure::Failure;
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;
use crate::terminal::Streams;

/// How long a look for more sound lasts.
const LOOK: Duration = Duration::from_millis(50);

/// Listens until everything asked for was played, the sound ends or the player ends the program.
pub fn run(session: &mut LiveSession, streams: &mut Streams) -> Result<(), Failure> {
    writeln!(
        streams.stdout,
        "{}, {}: the microphone is open, Ctrl-C closes it",
        title_or_untitled(&session.control.tune.title),
        session.aim_in_words()
    )?;
    streams.stdout.flush()?;
    let mut column = 0;
    while !session.is_over() {
        let heard = streams.microphone.next(LOOK);
        let news = match heard.map_err(|reason| cannot_listen(&reason))? {
            Some(samples) => session.hear(&samples)?,
            None => {
                let news = session.finish()?;
                tell(news, &mut column, streams)?;
                break;
            }
        };
        tell(news, &mut column, streams)?;
    }
    Ok(())
}

/// Prints the names of what was struck in one line, and a pass in lines of its own.
fn tell(news: Vec<LiveNews>, column: &mut usize, streams: &mut Streams) -> Result<(), Failure> {
    let width = streams.width;
    let out = &mut streams.stdout;
    for news in news {
        match news {
            LiveNews::Struck | LiveNews::Dropped => continue,
            LiveNews::Named(pitch, _) => {
                let name = pitch.to_string();
                if *column + name.len() + 1 > width {
                    writeln!(out)?;
                    *column = 0;
                }
                if *column > 0 {
                    write!(out, " ")?;
                }
                write!(out, "{name}")?;
                *column += name.len() + 1;
            }
            LiveNews::Passed(report) => {
                end_line(column, out)?;
                writeln!(out, "pass {}, {}", report.number, report.heading)?;
                for sentence in &report.sentences {
                    for line in wrap(sentence, width.saturating_sub(2).min(90)) {
                        writeln!(out, "  {line}")?;
                    }
                }
            }
            LiveNews::Notice(notice) => {
                end_line(column, out)?;
                writeln!(out, "{notice}")?;
            }
            LiveNews::Kept(file) => {
                end_line(column, out)?;
                writeln!(out, "wrote {}", file.display())?;
            }
        }
        out.flush()?;
    }
    Ok(())
}

fn end_line(column: &mut usize, out: &mut impl Write) -> std::io::Result<()> {
    if std::mem::take(column) > 0 {
        writeln!(out)?;
    }
    Ok(())
}
