//! The bars of a melody in playing order.

use crate::melody::{Melody, PlayingOrder, Quarters};

/// A bar, or the part of one between two jumps, in playing order.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct SoundingBar {
    /// Its index in [`Melody::bars`].
    pub(super) index: usize,
    /// When it begins and ends, as written.
    pub(super) start: Quarters,
    pub(super) end: Quarters,
    /// How far into a full bar it begins.
    pub(super) phase: Quarters,
    /// When it begins, from the start of the performance.
    pub(super) sounds_at: Quarters,
    /// Which time it is played, from 1.
    pub(super) time: u32,
}

pub(super) fn sounding_bars(melody: &Melody, order: &PlayingOrder) -> Vec<SoundingBar> {
    let bars = melody.bars();
    let mut times = vec![0; bars.len()];
    let mut sounding = Vec::with_capacity(bars.len());
    for pass in order.passes() {
        let first = bars.partition_point(|bar| bar.end <= pass.start);
        for (index, bar) in bars.iter().enumerate().skip(first) {
            if bar.onset >= pass.end {
                break;
            }
            times[index] += 1;
            let start = bar.onset.max(pass.start);
            sounding.push(SoundingBar {
                index,
                start,
                end: bar.end.min(pass.end),
                phase: bar.offset + (start - bar.onset),
                sounds_at: pass.sounds_at + (start - pass.start),
                time: times[index],
            });
        }
    }
    sounding
}
