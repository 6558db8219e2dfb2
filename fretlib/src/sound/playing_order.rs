//! In which order the bars of a melody sound.

use crate::melody::{Melody, Quarters};

/// A bar as it sounds: which one it is, and which time round.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct OrderedBar {
    /// Where it stands in [`Melody::bars`].
    pub(super) index: usize,
    /// When it begins and ends, as written.
    pub(super) start: Quarters,
    pub(super) end: Quarters,
    /// Which time it sounds, from 1.
    pub(super) time: u32,
}

/// The bars in the order in which they sound: as they stand.
pub(super) fn playing_order(melody: &Melody) -> Vec<OrderedBar> {
    let bars = melody.bars();
    (0..bars.len())
        .map(|index| OrderedBar {
            index,
            start: bars[index].onset,
            end: bars
                .get(index + 1)
                .map_or(melody.length(), |next| next.onset),
            time: 1,
        })
        .collect()
}
