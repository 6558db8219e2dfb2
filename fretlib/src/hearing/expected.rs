//! The notes of a melody in the order in which they are to be heard.

use crate::melody::Melody;

/// A note that is to be heard.
#[derive(Clone, Copy, Debug)]
pub struct Expected {
    /// Which note of the melody, from 0.
    pub index: usize,
    /// Written pitch: a MIDI note number.
    pub pitch: i32,
    /// When it sounds, in quarter notes from the start of the playing.
    pub onset: f64,
    /// How long it lasts, in quarter notes.
    pub length: f64,
    /// Which bar of the melody it begins in, from 0.
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
