//! What is wrong with a file, in one form for every reader.

use std::fmt;

use thiserror::Error;

/// A place in a file.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Location {
    /// The file as a whole.
    Whole,
    /// A line and a column of characters, both counted from 1.
    Text {
        /// The line.
        line: usize,
        /// The column.
        column: usize,
    },
    /// A byte, counted from 0.
    Byte(usize),
}

impl fmt::Display for Location {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Location::Whole => f.write_str("in the file"),
            Location::Text { line, column } => write!(f, "line {line}, column {column}"),
            Location::Byte(offset) => write!(f, "byte {offset}"),
        }
    }
}

/// One thing that is wrong with a file: where, what, and what to do about it.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{at}: {problem}")]
pub struct Diagnostic {
    /// Where it is.
    pub at: Location,
    /// What it is, with the value found.
    pub problem: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Diagnostic {
    /// A diagnostic about the file as a whole.
    pub fn of_file(problem: impl Into<String>, hint: impl Into<String>) -> Diagnostic {
        Diagnostic {
            at: Location::Whole,
            problem: problem.into(),
            hint: Some(hint.into()),
        }
    }
}

/// Why a file could not be read.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{}", diagnostics.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct ReadError {
    // Invariant: not empty, at most `MOST`.
    diagnostics: Vec<Diagnostic>,
}

impl ReadError {
    /// The most diagnostics reported of one file.
    pub const MOST: usize = 10;

    /// One fault.
    pub fn new(fault: Diagnostic) -> ReadError {
        ReadError {
            diagnostics: vec![fault],
        }
    }

    /// The first [`ReadError::MOST`] of these diagnostics; `None` when there are none.
    pub fn from_diagnostics(mut diagnostics: Vec<Diagnostic>) -> Option<ReadError> {
        diagnostics.truncate(ReadError::MOST);
        (!diagnostics.is_empty()).then_some(ReadError { diagnostics })
    }

    /// The diagnostics, in the order of the file; at least one.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        &self.diagnostics
    }
}
