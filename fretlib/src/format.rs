//! Text or bytes in, a melody out, and back.
//!
//! A reader returns a [`Reading`], the melody and whatever the player should be told about it, or an [`Unreadable`] with
//! every fault it found, each at its place. Nothing here opens a file or prints.

pub mod abc;
pub mod instrument_ron;
mod left_out;
pub mod midi;
pub mod musicxml;
mod ron_source;
pub mod settings_ron;
pub mod tune_ron;

use std::fmt;

use thiserror::Error;

use crate::melody::Melody;

/// A melody as it was read, with remarks for the player.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The melody.
    pub melody: Melody,
    /// What the player should be told, each thing once: what was chosen, dropped or mended.
    pub remarks: Vec<String>,
}

/// The formats that are read.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Format {
    /// The project's own: [`tune_ron`].
    TuneRon,
    /// [`abc`].
    Abc,
    /// [`musicxml`], as text.
    MusicXml,
    /// [`musicxml`] in an archive.
    CompressedMusicXml,
    /// [`midi`].
    Midi,
}

/// The format of a file, judged by how it begins; names of files are not asked.
///
/// ```
/// use fretlib::format::{Format, detect};
///
/// assert_eq!(detect(b"MThd\0\0\0\x06"), Some(Format::Midi));
/// assert_eq!(detect(b"<?xml version='1.0'?><score-partwise/>"), Some(Format::MusicXml));
/// assert_eq!(detect(b"X: 1\nT: Jetty at Dusk\nK: D\n"), Some(Format::Abc));
/// assert_eq!(detect(b"Dear all,"), None);
/// ```
pub fn detect(bytes: &[u8]) -> Option<Format> {
    let is_xml = [&b"<"[..], b"\xEF\xBB\xBF<", b"\xFE\xFF\0<", b"\xFF\xFE<\0"]
        .iter()
        .any(|start| bytes.trim_ascii_start().starts_with(start));
    match bytes {
        [b'M', b'T', b'h', b'd', ..] => Some(Format::Midi),
        [
            b'R',
            b'I',
            b'F',
            b'F',
            _,
            _,
            _,
            _,
            b'R',
            b'M',
            b'I',
            b'D',
            ..,
        ] => Some(Format::Midi),
        [b'P', b'K', ..] => Some(Format::CompressedMusicXml),
        _ if is_xml => Some(Format::MusicXml),
        _ if tune_ron::looks_like(bytes) => Some(Format::TuneRon),
        _ if abc::looks_like(bytes) => Some(Format::Abc),
        _ => None,
    }
}

/// Where in a file something stands.
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

/// One thing that is wrong with a file.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{at}: {problem}")]
pub struct Fault {
    /// Where it is.
    pub at: Location,
    /// What it is, with the value found.
    pub problem: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Fault {
    /// One of the file as a whole.
    pub fn of_file(problem: impl Into<String>, hint: impl Into<String>) -> Fault {
        Fault {
            at: Location::Whole,
            problem: problem.into(),
            hint: Some(hint.into()),
        }
    }
}

/// Why a file could not be read.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{}", faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct Unreadable {
    // Invariant: not empty, at most `MOST`.
    faults: Vec<Fault>,
}

impl Unreadable {
    /// The most faults reported of one file.
    pub const MOST: usize = 10;

    /// One fault.
    pub fn new(fault: Fault) -> Unreadable {
        Unreadable {
            faults: vec![fault],
        }
    }

    /// The first [`Unreadable::MOST`] of these faults; `None` when there are none.
    pub fn from_faults(mut faults: Vec<Fault>) -> Option<Unreadable> {
        faults.truncate(Unreadable::MOST);
        (!faults.is_empty()).then_some(Unreadable { faults })
    }

    /// The faults, in the order of the file; at least one.
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }
}
