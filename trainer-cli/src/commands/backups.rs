//! `neckline history`: copies of the practice history.

use std::io::{self, BufRead, Write};
use std::path::{Path, PathBuf};

use fretlib::practice::TuneId;
use serde::Serialize;

use crate::failure::Failure;
use crate::history::{History, HistoryError, ReviewLine};
use crate::output::Existing;
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::json::write_json;
use crate::request::{HistoryFolder, TuneRequest};
use crate::terminal::{Clock, Streams};

/// What to do with a copy.
#[derive(Debug)]
pub enum HistoryRequest {
    /// Write a whole, checked copy of the history.
    BackUp {
        /// The file to write.
        file: PathBuf,
        /// What is done about a file that is there.
        existing: Existing,
        /// Where the history is.
        folder: HistoryFolder,
    },
    /// Replace the history by a backup.
    Restore {
        /// The backup.
        file: PathBuf,
        /// Where the history is.
        folder: HistoryFolder,
    },
    /// Remove everything about one tune, after a backup.
    Wipe {
        /// The tune: its title, built-in or a file.
        tune: String,
        /// Do not ask.
        force: bool,
        /// Where the history is.
        folder: HistoryFolder,
    },
    /// Print every answer as JSON.
    Export {
        /// Where the history is.
        folder: HistoryFolder,
    },
}

/// Removes a tune from the history, after the player has confirmed and a backup was written.
fn wipe(tune: &str, force: bool, folder: &Path, streams: &mut Streams) -> Result<(), Failure> {
    let nothing = || {
        Failure::could_not(
            format!("there is nothing of `{tune}` in the history"),
            "`neckline progress` shows what there is",
        )
    };
    let history = History::open_to_read(folder)?.ok_or_else(nothing)?;
    let entries = history.tunes()?;
    let titled = entries.iter().find(|(_, entry)| entry.title == tune);
    let id = match titled {
        Some((_, entry)) => entry.id,
        None => {
            let request = TuneRequest {
                source: Some(tune.to_string()),
                ..TuneRequest::default()
            };
            TuneId::of(&request.open(streams)?.melody)
        }
    };
    let known = entries.iter().find(|(_, entry)| entry.id == id);
    let (_, entry) = known.ok_or_else(nothing)?;
    let title = title_or_untitled(&entry.title);
    if !force && !streams.stdin_is_terminal {
        return Err(Failure::could_not(
            format!("nobody is there to be asked whether {title} is to be wiped"),
            "with `--force` it is wiped without a question",
        ));
    }
    if !force {
        write!(streams.stdout, "Wipe all answers about {title}? Type yes: ")?;
        streams.stdout.flush()?;
        let mut answer = String::new();
        io::Read::take(&mut streams.stdin, 100).read_line(&mut answer)?;
        if answer.trim() != "yes" {
            writeln!(streams.stdout, "nothing is changed")?;
            return Ok(());
        }
    }
    let backup = (1..u32::MAX)
        .map(|number| folder.join(format!("before-wipe-{number}.sqlite")))
        .find(|path| !path.exists())
        .ok_or_else(nothing)?;
    history.back_up(&backup, Existing::Keep)?;
    drop(history);
    let answers = History::open(folder)?.wipe(id)?;
    writeln!(
        streams.stdout,
        "{} about {title} wiped; the history before is kept as {}",
        count(answers, "answer"),
        backup.display()
    )?;
    Ok(())
}

#[derive(Serialize)]
struct ExportedHistory {
    schema: u8,
    answers: Vec<ExportedAnswer>,
    passes: Vec<ExportedPass>,
}

#[derive(Serialize)]
struct ExportedPass {
    time: String,
    tune: String,
    phrase: u32,
    percent: u16,
    right: bool,
    judged_by: String,
}

#[derive(Serialize)]
struct ExportedAnswer {
    time: String,
    tune: String,
    note: u32,
    phrase: u32,
    kind: &'static str,
    position: Option<u8>,
    octave: Option<i8>,
    question: String,
    answer: String,
    right: bool,
    seconds: f64,
}

/// Prints every answer and every pass, for a teacher.
fn export(folder: &Path, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(None)?;
    let (mut answers, mut passes) = (Vec::new(), Vec::new());
    if let Some(history) = History::open_to_read(folder)? {
        history.each_review(|line: &ReviewLine| -> Result<(), Failure> {
            answers.push(ExportedAnswer {
                time: clock.written(line.at),
                tune: line.tune.to_string(),
                note: line.note + 1,
                phrase: line.item.phrase + 1,
                kind: line.item.kind.name(),
                position: line.item.placement.map(|it| it.position.get()),
                octave: line.item.placement.map(|it| it.octave.get()),
                question: line.question.to_string(),
                answer: line.answer.to_string(),
                right: line.is_right,
                seconds: line.milliseconds as f64 / 1000.0,
            });
            Ok(())
        })?;
        passes = history
            .passes()?
            .into_iter()
            .map(|line| ExportedPass {
                time: clock.written(line.at),
                tune: line.tune,
                phrase: line.phrase + 1,
                percent: line.percent,
                right: line.is_right,
                judged_by: line.judged_by,
            })
            .collect();
    }
    let history = ExportedHistory {
        schema: 1,
        answers,
        passes,
    };
    write_json(streams, &history)
}

/// Writes a backup, restores one, wipes a tune or prints every answer.
pub fn run(request: &HistoryRequest, streams: &mut Streams) -> Result<(), Failure> {
    match request {
        HistoryRequest::Wipe {
            tune,
            force,
            folder,
        } => wipe(tune, *force, &folder.path()?, streams)?,
        HistoryRequest::Export { folder } => export(&folder.path()?, streams)?,
        HistoryRequest::BackUp {
            file,
            existing,
            folder,
        } => {
            let folder = folder.path()?;
            let Some(history) = History::open_to_read(&folder)? else {
                return Err(Failure::could_not(
                    format!("there is no history in {}", folder.display()),
                    "`neckline drill` begins one",
                ));
            };
            history
                .back_up(file, *existing)
                .map_err(|error| match error {
                    HistoryError::Exists(_) => Failure::could_not(
                        error.to_string(),
                        "choose another name, or replace it with `--replace`",
                    ),
                    _ => Failure::could_not(error.to_string(), "choose another place for the copy"),
                })?;
            writeln!(
                streams.stdout,
                "{} answers copied to {}",
                history.count()?,
                file.display()
            )?;
        }
        HistoryRequest::Restore { file, folder } => {
            let folder = folder.path()?;
            let before = History::restore(&folder, file).map_err(|error| {
                let hint = if error.is_about_writing() {
                    "the folder of the history cannot be written; the history is as it was"
                } else {
                    "name a file that `neckline history backup` wrote; the history is as it was"
                };
                Failure::could_not(
                    format!("{} cannot be restored: {error}", file.display()),
                    hint,
                )
            })?;
            let count = History::open(&folder)?.count()?;
            writeln!(
                streams.stdout,
                "{count} answers restored from {}",
                file.display()
            )?;
            if let Some(before) = before {
                writeln!(
                    streams.stdout,
                    "the history before is kept as {}",
                    before.display()
                )?;
            }
        }
    }
    Ok(())
}
