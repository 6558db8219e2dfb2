//! `neckline history`: copies of the practice history.

use std::io::Write;
use std::path::PathBuf;

use crate::failure::Failure;
use crate::history::{History, HistoryError};
use crate::output::Existing;
use crate::request::HistoryFolder;
use crate::terminal::Streams;

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
    /// Put a backup in place of the history.
    Restore {
        /// The backup.
        file: PathBuf,
        /// Where the history is.
        folder: HistoryFolder,
    },
}

/// Writes the copy, or puts one in place.
pub fn run(request: &HistoryRequest, streams: &mut Streams) -> Result<(), Failure> {
    match request {
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
