//! Spelled notes from MIDI numbers.

use super::quantise::Fractions;
use super::tracks::Played;
use crate::format::lead_line::Timed;
use crate::melody::{Note, Timeline};
use crate::theory::{Key, Membership, MidiNumber, Pitch};

/// The notes of a line, spelled by the keys in force.
pub(super) struct Spelled {
    pub(super) notes: Vec<Note>,
    /// Whether nine tenths of the time belong to those keys.
    pub(super) fits: bool,
}

impl Spelled {
    /// `None` when a note moved by this many octaves leaves the range of MIDI. There must be at least one key; the
    /// first holds from the start.
    pub(super) fn new(
        spans: &[Timed<u64, Played>],
        fractions: &mut Fractions,
        octaves: i8,
        keys: &Timeline<Key>,
    ) -> Option<Spelled> {
        let mut speller = Speller::new(*keys.first()?, octaves);
        let mut changes = keys.iter().skip(1).peekable();
        let (mut time, mut time_in_key) = (0, 0);
        let mut notes = Vec::with_capacity(spans.len());
        for span in spans {
            let onset = fractions.get(span.onset);
            while let Some((_, key)) = changes.next_if(|(from, _)| *from <= onset) {
                speller = Speller::new(*key, octaves);
            }
            let (pitch, is_in_key) = speller.spell(span.height)?;
            let duration = span.end - span.onset;
            time += duration;
            time_in_key += duration * u64::from(is_in_key);
            notes.push(Note {
                pitch,
                onset,
                duration: fractions.get(duration),
            });
        }
        Some(Spelled {
            notes,
            fits: 10 * time_in_key >= 9 * time,
        })
    }
}

/// Spells numbers by a key, each only once.
struct Speller {
    key: Key,
    octaves: i8,
    /// Each with its membership in the key.
    pitches: [Option<(Pitch, bool)>; 128],
}

impl Speller {
    fn new(key: Key, octaves: i8) -> Speller {
        Speller {
            key,
            octaves,
            pitches: [None; 128],
        }
    }

    /// The note this many octaves from this number, and whether it belongs to the key; `None` when it leaves the range of MIDI.
    fn spell(&mut self, number: u8) -> Option<(Pitch, bool)> {
        let known = self.pitches.get_mut(usize::from(number))?;
        if known.is_none() {
            let number = MidiNumber::new(number).ok()?;
            let moved = number.transpose(12 * i16::from(self.octaves)).ok()?;
            let pitch = self.key.spell(moved);
            let is_in_key = self.key.membership(pitch.class()) != Membership::Chromatic;
            *known = Some((pitch, is_in_key));
        }
        *known
    }
}
