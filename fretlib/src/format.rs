//! Text or bytes in, a melody out, and back.
//!
//! A reader returns a [`Reading`], the melody with warnings for the player, or a [`ReadError`] with every fault it
//! found, each with its place. Nothing here opens a file or prints.

pub mod abc;
#[cfg(feature = "arranging")]
pub mod arrangement_ron;
mod bar_line;
mod diagnostic;
pub mod fingering_ron;
mod form_words;
pub mod instrument_ron;
mod lead_line;
mod limits;
mod lost_matter;
mod lyric_line;
pub mod midi;
pub mod musicxml;
mod ron_changes;
mod ron_source;
pub mod settings_ron;
pub mod tune_ron;

pub use diagnostic::{Diagnostic, Location, ReadError};
pub use limits::LARGEST_FILE;
pub use lost_matter::LostMatter;

use crate::melody::Melody;

/// A melody as it was read, with warnings for the player.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The melody.
    pub melody: Melody,
    /// What was chosen, dropped or mended, each warning once.
    pub warnings: Vec<String>,
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

impl Format {
    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            Format::TuneRon => "RON",
            Format::Abc => "ABC",
            Format::MusicXml | Format::CompressedMusicXml => "MusicXML",
            Format::Midi => "MIDI",
        }
    }
}

/// The format of a file, judged by how it begins; its name plays no part.
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
