//! Notes that were struck.

use super::strike::{Sounded, Strike};
use crate::theory::MidiNumber;

/// A note heard in a recording.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StruckNote {
    /// When the string was struck, in seconds from the start of the recording.
    pub onset: f64,
    /// When it was damped or the next one struck, in seconds.
    pub end: f64,
    /// Sounding pitch: a guitar is written an octave higher.
    pub pitch: MidiNumber,
    /// How far it is from that pitch at the tuning of the take, in cents.
    pub cents: f32,
    /// The RMS level at its highest in the first 60 ms, in dB below full scale.
    pub level_db: f32,
}

/// The least chance at which a strike counts as a note.
pub(super) const HEARD: f32 = 0.5;

/// The notes struck, without a known melody: which strike it was, and what was heard.
pub(super) fn struck(strikes: &[Strike]) -> Vec<(usize, Sounded)> {
    strikes
        .iter()
        .map(Strike::sounded)
        .enumerate()
        .filter(|(_, sounded)| sounded.chance >= HEARD)
        .collect()
}

/// A strike as a note that ends when it is damped or at `next`, in seconds.
pub(super) fn as_note(strike: &Strike, pitch: u8, tuning: f32, next: f64) -> Option<StruckNote> {
    let onset = strike.at().max(0.0);
    let damped = strike.candidate.damped.unwrap_or(f64::INFINITY);
    Some(StruckNote {
        onset,
        end: damped.min(next).max(onset),
        pitch: MidiNumber::new(pitch).ok()?,
        cents: strike.cents(pitch, tuning),
        level_db: strike.candidate.level_db,
    })
}
