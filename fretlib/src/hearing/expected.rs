//! The expected notes of a melody, in playing order.

use crate::melody::{Melody, Quarters, Swing};

/// An expected note.
#[derive(Clone, Copy, Debug)]
pub struct Expected {
    /// Its index in the melody.
    pub index: usize,
    /// Written pitch: a MIDI note number.
    pub pitch: i32,
    /// When it sounds, in quarter notes from the start of the performance.
    pub onset: f64,
    /// How long it lasts, in quarter notes.
    pub length: f64,
    /// The index of the bar in which it begins.
    pub bar: usize,
    /// How far into its quarter note it is written; 0 outside simple meters.
    pub within_quarter: Quarters,
    /// True for the first note of its bar.
    pub opens_bar: bool,
}

/// The notes of `melody` in playing order, with pairs divided as `swing` says.
///
/// In compound meters nothing swings.
pub fn expected(melody: &Melody, swing: Option<Swing>) -> Vec<Expected> {
    let bars = melody.bars();
    let mut before = None;
    melody
        .playing_order()
        .notes(melody)
        .iter()
        .map(|played| {
            let note = melody.notes()[played.index];
            let after = bars.partition_point(|bar| bar.onset <= note.onset);
            let bar = after.saturating_sub(1);
            let swings = (melody.meters().at(note.onset).copied().flatten())
                .is_none_or(|meter| !meter.is_compound());
            let in_bar = bars
                .get(bar)
                .map_or(Quarters::ZERO, |bar| note.onset - bar.onset + bar.offset);
            let swung = match swing {
                Some(swing) if swings => swing.played(in_bar) - in_bar.to_f64(),
                _ => 0.0,
            };
            let opens_bar = before.replace((bar, played.time)) != Some((bar, played.time));
            Expected {
                index: played.index,
                pitch: note.pitch.midi().get().into(),
                onset: played.onset.to_f64() + swung,
                length: played.duration.to_f64(),
                bar,
                within_quarter: match swings {
                    true => in_bar.fract(),
                    false => Quarters::ZERO,
                },
                opens_bar,
            }
        })
        .collect()
}
