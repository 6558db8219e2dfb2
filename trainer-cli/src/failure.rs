//! Why a command failed, and how the player is told.

use std::io::{self, Write};

use fretlib::format::{Location, ReadError};
use fretlib::is_visible;
use thiserror::Error;

use crate::history::HistoryError;
use crate::terminal::Streams;

/// Why a command failed.
#[derive(Debug, Error)]
pub enum Failure {
    /// The request is valid, but cannot be carried out.
    #[error("{problem}")]
    CouldNot {
        /// What is wrong.
        problem: String,
        /// What would help.
        hint: Option<String>,
    },
    /// The request is not valid.
    #[error("{problem}")]
    Usage {
        /// What is wrong.
        problem: String,
        /// What to type instead.
        hint: Option<String>,
    },
    /// A file cannot be understood.
    #[error("{name}: {unreadable}")]
    Unreadable {
        /// The file, as the player named it.
        name: String,
        /// Its bytes, to quote the line from.
        source_bytes: Vec<u8>,
        /// What is wrong with it.
        unreadable: ReadError,
    },
    /// Reading or writing a stream failed.
    #[error("{0}")]
    Io(#[from] io::Error),
}

impl Failure {
    /// A [`Failure::CouldNot`] with a hint.
    pub fn could_not(problem: impl Into<String>, hint: impl Into<String>) -> Failure {
        Failure::CouldNot {
            problem: problem.into(),
            hint: Some(hint.into()),
        }
    }

    /// A [`Failure::Usage`] with a hint.
    pub fn usage(problem: impl Into<String>, hint: impl Into<String>) -> Failure {
        Failure::Usage {
            problem: problem.into(),
            hint: Some(hint.into()),
        }
    }

    /// 1 for what could not be done, 2 for wrong usage and unreadable input.
    pub const fn exit_code(&self) -> u8 {
        match self {
            Failure::CouldNot { .. } | Failure::Io(_) => 1,
            Failure::Usage { .. } | Failure::Unreadable { .. } => 2,
        }
    }

    /// True when the reader of the output has stopped.
    pub fn is_closed_pipe(&self) -> bool {
        matches!(self, Failure::Io(error) if error.kind() == io::ErrorKind::BrokenPipe)
    }

    /// Prints on standard error what happened, where, and what to do.
    pub(crate) fn report(&self, streams: &mut Streams) -> io::Result<()> {
        let out = &mut streams.stderr;
        match self {
            Failure::CouldNot { problem, hint } | Failure::Usage { problem, hint } => {
                writeln!(out, "error: {problem}")?;
                if let Some(hint) = hint {
                    writeln!(out, "\nhint: {hint}")?;
                }
            }
            Failure::Unreadable {
                name,
                source_bytes,
                unreadable,
            } => {
                for fault in unreadable.diagnostics() {
                    match fault.at {
                        Location::Whole => writeln!(out, "error: {name}: {}", fault.problem)?,
                        Location::Byte(byte) => {
                            writeln!(out, "error: {name}, byte {byte}: {}", fault.problem)?;
                        }
                        Location::Text { line, column } => {
                            writeln!(out, "error: {name}:{line}:{column}: {}", fault.problem)?;
                            quote(out, source_bytes, line, column)?;
                        }
                    }
                    if let Some(hint) = &fault.hint {
                        writeln!(out, "\nhint: {hint}")?;
                    }
                }
            }
            Failure::Io(error) => writeln!(out, "error: {error}")?,
        }
        Ok(())
    }
}

impl From<HistoryError> for Failure {
    fn from(error: HistoryError) -> Self {
        Failure::could_not(error.to_string(), error.what_to_do())
    }
}

/// The line itself with a caret under the column; long lines are cut around it.
fn quote(out: &mut dyn Write, source: &[u8], line: usize, column: usize) -> io::Result<()> {
    const BEFORE: usize = 50;
    const SHOWN: usize = 72;
    let text = String::from_utf8_lossy(source);
    let Some(line_text) = text.lines().nth(line.saturating_sub(1)) else {
        return Ok(());
    };
    let skipped = column.saturating_sub(1).saturating_sub(BEFORE);
    let shown: String = line_text
        .chars()
        .skip(skipped)
        .take(SHOWN)
        .map(|c| if is_visible(c) { c } else { ' ' })
        .collect();
    let margin = line.to_string();
    let indent = " ".repeat(column.saturating_sub(1).saturating_sub(skipped));
    writeln!(out, "  {margin} | {shown}")?;
    writeln!(out, "  {} | {indent}^", " ".repeat(margin.len()))
}
