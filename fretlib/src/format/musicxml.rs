//! MusicXML 4.0: scores by parts or by measures, plain or compressed.
//!
//! Notes, ties, bars, keys, meters, tempos, chord symbols, rehearsal marks and titles are read strictly; everything
//! else is skipped. Repeats stay as written; grace notes and cue notes are dropped.
//!
//! Limits: a compressed score of at most 64 MB when unpacked, 1000 parts, 256 voices in a part. Memory is a small
//! multiple of the score's own size.
//!
//! Source: MusicXML Version 4.0, W3C Music Notation Community Group, June 2021.

mod container;
mod elements;
mod form_signs;
mod harmony;
mod part;
mod part_line;
mod score;
mod write_musicxml;
mod xml;

use super::{Diagnostic, ReadError, Reading};
pub use container::compress;
use part_line::{choose_part, draft};
pub use write_musicxml::{ChordUnder, Fingered, NoteUnder, write, write_in_pieces, write_over};

#[cfg(test)]
mod tests;

/// Which part and voice of a score to read.
#[derive(Clone, Debug, Default)]
pub struct MusicXmlOptions {
    /// The part: its name, its id or its number, counted from 1. By default the one most like a lead line.
    pub part: Option<String>,
    /// The voice in that part. By default the highest of those that are busy.
    pub voice: Option<String>,
}

/// Reads a score, compressed or not.
///
/// ```
/// use fretlib::format::musicxml::{MusicXmlOptions, read};
///
/// let score = "<score-partwise><part-list/><part id='P1'><measure number='1'>
///     <attributes><divisions>2</divisions><key><fifths>1</fifths><mode>minor</mode></key></attributes>
///     <note><pitch><step>D</step><alter>1</alter><octave>4</octave></pitch><duration>3</duration></note>
///     </measure></part></score-partwise>";
/// let reading = read(score.as_bytes(), &MusicXmlOptions::default())?;
/// assert_eq!(reading.melody.notes()[0].pitch, "D#4".parse()?);
/// assert_eq!(reading.melody.notes()[0].duration, fretlib::melody::Quarters::new(3, 2));
/// assert_eq!(reading.melody.keys().first(), Some(&"E minor".parse()?));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
///
/// When the file is not MusicXML or is broken, a number in it makes no sense, the part or voice does not exist, or
/// there is no note to play.
pub fn read(bytes: &[u8], options: &MusicXmlOptions) -> Result<Reading, ReadError> {
    read_score(bytes, options).map_err(ReadError::new)
}

fn read_score(bytes: &[u8], options: &MusicXmlOptions) -> Result<Reading, Diagnostic> {
    let unpacked;
    let bytes = if bytes.starts_with(b"PK") {
        unpacked = container::unpack(bytes)?;
        &unpacked
    } else {
        bytes
    };
    let text = xml::decode(bytes)?;
    let score = score::scan(&text)?;
    let mut warnings = Vec::new();
    let part = choose_part(&score, options, &mut warnings)?;
    let melody = draft(&score, part, options, &mut warnings)?;
    Ok(Reading { melody, warnings })
}
