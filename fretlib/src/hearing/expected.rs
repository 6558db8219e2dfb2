//! The expected notes of a melody, in playing order.

use crate::melody::Melody;

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
    /// True for the first note of its bar.
    pub opens_bar: bool,
}

/// The notes of `melody` in playing order.
pub fn expected(melody: &Melody) -> Vec<Expected> {
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
            let opens_bar = before.replace((bar, played.time)) != Some((bar, played.time));
            Expected {
                index: played.index,
                pitch: note.pitch.midi().get().into(),
                onset: played.onset.to_f64(),
                length: played.duration.to_f64(),
                bar,
                opens_bar,
            }
        })
        .collect()
}
