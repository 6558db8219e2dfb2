//! Spelled notes from MIDI numbers.

use super::quantise::Fractions;
use super::tracks::PlayedKey;
use crate::format::lead_line::Timed;
use crate::melody::{Note, Timeline};
use crate::theory::{Key, MidiNumber, Pitch};

/// The notes of a line, spelled by the keys in force; `None` when a note moved by this many octaves leaves the range of MIDI.
///
/// There must be at least one key; the first holds from the start.
pub(super) fn spelled_notes(
    spans: &[Timed<u64, PlayedKey>],
    fractions: &mut Fractions,
    octaves: i8,
    keys: &Timeline<Key>,
) -> Option<Vec<Note>> {
    let mut speller = Speller::new(*keys.first()?, octaves);
    let mut changes = keys.iter().skip(1).peekable();
    let mut notes = Vec::with_capacity(spans.len());
    for span in spans {
        let onset = fractions.get(span.onset);
        while let Some((_, key)) = changes.next_if(|(from, _)| *from <= onset) {
            speller = Speller::new(*key, octaves);
        }
        notes.push(Note {
            pitch: speller.spell(span.height)?,
            onset,
            duration: fractions.get(span.end - span.onset),
        });
    }
    Some(notes)
}

/// Spells numbers by a key, each only once.
struct Speller {
    key: Key,
    octaves: i8,
    pitches: [Option<Pitch>; 128],
}

impl Speller {
    fn new(key: Key, octaves: i8) -> Speller {
        Speller {
            key,
            octaves,
            pitches: [None; 128],
        }
    }

    /// The note this many octaves from this number; `None` when it leaves the range of MIDI.
    fn spell(&mut self, number: u8) -> Option<Pitch> {
        let known = self.pitches.get_mut(usize::from(number))?;
        if known.is_none() {
            let number = MidiNumber::new(number).ok()?;
            let moved = number.transpose(12 * i16::from(self.octaves)).ok()?;
            *known = Some(self.key.spell(moved));
        }
        *known
    }
}
