//! Standard MIDI Files, formats 0, 1 and 2.
//!
//! A MIDI file holds what sounded and when. What a player reads, fractions of a beat and spelled pitches at their
//! written octave, is recovered as described at [`MidiOptions`]; the warnings say what was chosen.
//!
//! Source: Standard MIDI Files 1.0 (RP-001) and General MIDI System Level 1, MIDI Manufacturers Association.

mod quantise;
mod spelled;
mod system_bytes;
#[cfg(test)]
mod tests;
mod text_event;
mod track_line;
mod tracks;
mod write_midi;

use super::{ReadError, Reading};
use crate::melody::Quarters;

pub use write_midi::{write, write_over};

/// How to read a MIDI file.
#[derive(Clone, Debug, Default)]
pub struct MidiOptions {
    /// The line to read: the name of a track, or the number of a line among those that hold notes, counted from 1. Every
    /// channel of a track is a line of its own; drums are skipped. By default the most melodic.
    pub track: Option<String>,
    /// The grid that onsets and endings go to, as a fraction of a quarter note. By default the ticks are taken exactly
    /// if they are plain fractions; otherwise a grid is found.
    pub grid: Option<Quarters>,
    /// Octaves from the number in the file to the written pitch. By default what the instrument that is named needs;
    /// else 1 for a program that is a guitar or a bass (General MIDI 25 to 40), which sound an octave below what is
    /// written; else 0: any other line is read at its sounding pitch.
    pub octave_shift: Option<i8>,
}

/// Reads a MIDI file.
///
/// ```
/// use fretlib::format::midi::{MidiOptions, read};
///
/// let file = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\0\x0c\0\x90\x45\x40\x60\x80\x45\x40\0\xff\x2f\0";
/// let reading = read(file, &MidiOptions::default())?;
/// assert_eq!(reading.melody.notes()[0].pitch, "A4".parse()?);
/// assert_eq!(reading.melody.notes()[0].duration, 1.into());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
///
/// When the file is not a MIDI file or is broken, the track does not exist, the octave shift leaves the MIDI range, or
/// there is no note to play.
pub fn read(bytes: &[u8], options: &MidiOptions) -> Result<Reading, ReadError> {
    let bytes = system_bytes::without_system_bytes(bytes);
    let file = tracks::read_tracks(&bytes).map_err(ReadError::new)?;
    let mut warnings = Vec::new();
    let melody = track_line::melody(&file, options, &mut warnings).map_err(ReadError::new)?;
    Ok(Reading { melody, warnings })
}
