//! A tune with an order of parts as it is played.

use super::{ChordUnder, Fingered};
use crate::melody::{Melody, Pass};

/// A melody, the places of its notes and the chords under it, pass by pass.
pub(super) struct PlayedOut {
    pub(super) melody: Melody,
    pub(super) places: Vec<Option<Fingered>>,
    pub(super) under: Vec<ChordUnder>,
}

impl PlayedOut {
    /// `None` for a melody without an order of parts.
    pub(super) fn new(
        melody: &Melody,
        places: &[Option<Fingered>],
        under: &[ChordUnder],
    ) -> Option<PlayedOut> {
        melody.form().part_order()?;
        let order = melody.playing_order();
        let place = |index: usize| places.get(index).copied().flatten();
        let notes = order.notes(melody).into_iter();
        let in_pass = |pass: &Pass| {
            let pass = *pass;
            let chords = under.iter().filter_map(move |chord| {
                let start = chord.onset.max(pass.start);
                let end = (chord.onset + chord.duration).min(pass.end);
                (start < end).then(|| ChordUnder {
                    onset: pass.sounds_at + (start - pass.start),
                    duration: end - start,
                    notes: chord.notes.clone(),
                })
            });
            chords.collect::<Vec<_>>()
        };
        Some(PlayedOut {
            places: match places.is_empty() {
                true => Vec::new(),
                false => notes.map(|note| place(note.index)).collect(),
            },
            under: order.passes().iter().flat_map(in_pass).collect(),
            melody: melody.played_out(),
        })
    }
}
