//! What pinned notes tell about the others.

use super::{Constraints, FingeredNote, Player, TimedMelody};
use crate::neck::{Fret, StringNumber};
use crate::theory::MidiNumber;

/// How many notes on either side of two notes are compared.
const COMPARED: usize = 6;

/// How many pins of a pitch are compared on either side of a note, so that the time stays proportional to the notes.
const NEAREST: usize = 16;

/// The most pins that count for or against open strings.
const MOST: i32 = 6;

/// What the pins tell: a player plays the same notes alike, and takes open strings where possible or avoids them.
///
/// Common practice, no source. Editors finger a repeated passage of five notes alike in 92 % of cases: see
/// `docs/fingering.md`.
#[derive(Default)]
pub(super) struct Pinned {
    /// By MIDI number, the pins of a pitch in order: the index of the note and its string. Empty without pins.
    by_pitch: Vec<Vec<(usize, StringNumber)>>,
    /// The pins that stop a note which an open string has, less those on open strings.
    stopped: i32,
}

impl Pinned {
    pub(super) fn new(player: &Player, constraints: &Constraints, line: &TimedMelody) -> Pinned {
        let mut pinned = Pinned::default();
        for (index, pin) in &constraints.pins {
            let Some(note) = line.notes().get(*index) else {
                continue;
            };
            let midi = note.pitch.midi();
            pinned.by_pitch.resize(128, Vec::new());
            pinned.by_pitch[usize::from(midi.get())].push((*index, pin.place.string));
            let mut places = player.instrument.places_for(midi);
            if pin.place.fret == Fret::OPEN {
                pinned.stopped -= 1;
            } else if places.any(|place| place.fret == Fret::OPEN) {
                pinned.stopped += 1;
            }
        }
        pinned.stopped = pinned.stopped.clamp(-MOST, MOST);
        pinned
    }

    /// What they tell about a note that is not pinned; `None` without pins.
    pub(super) fn about(&self, line: &TimedMelody, index: usize) -> Option<AboutNote> {
        let midi = |index: usize| line.notes()[index].pitch.midi();
        let pins = self.by_pitch.get(usize::from(midi(index).get()))?;
        let next = pins.partition_point(|(pin, _)| *pin < index);
        let nearest = next.saturating_sub(NEAREST)..pins.len().min(next + NEAREST);
        let mut about = AboutNote {
            stopped: self.stopped,
            ..AboutNote::default()
        };
        for (pin, string) in &pins[nearest] {
            if *pin == index {
                return None;
            }
            let common = &mut about.common[string.index()];
            *common = in_common(midi, line.notes().len(), index, *pin).max(*common);
        }
        Some(about)
    }
}

/// How many notes in a row two passages have in common: these two, which have the same pitch, and those around them.
fn in_common(midi: impl Fn(usize) -> MidiNumber, notes: usize, one: usize, other: usize) -> u8 {
    let (first, last) = (one.min(other), one.max(other));
    let before = (1..=COMPARED.min(first)).take_while(|by| midi(first - by) == midi(last - by));
    let after =
        (1..=COMPARED.min(notes - 1 - last)).take_while(|by| midi(first + by) == midi(last + by));
    1 + before.count() as u8 + after.count() as u8
}

/// What pins tell about one note.
#[derive(Default)]
pub(super) struct AboutNote {
    /// By string, how many notes in a row a passage with the same pitch pinned there has in common with this one.
    common: [u8; StringNumber::MOST as usize],
    stopped: i32,
}

impl AboutNote {
    /// How much a passage with another place for this pitch is like this one, in notes.
    pub(super) fn unlike(&self, note: &FingeredNote) -> u8 {
        let own = note.place.string.index();
        let strings = self.common.iter().enumerate();
        let others = strings.filter(|(string, _)| *string != own);
        others.map(|(_, common)| *common).max().unwrap_or(0)
    }

    /// The pins against open strings, negative when more are for them.
    pub(super) fn against_open(&self) -> i32 {
        self.stopped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many notes the passages around two notes of a melody have in common.
    fn check(melody: &str, one: usize, other: usize, common: u8) {
        let midi = |index: usize| MidiNumber::new(melody.as_bytes()[index]).unwrap();
        assert_eq!(
            in_common(midi, melody.len(), one, other),
            common,
            "{melody}: {one} and {other}"
        );
    }

    #[test]
    fn passages_are_alike_as_far_as_their_notes_are() {
        check("abcXabcY", 1, 5, 3); // From the beginning to the first difference.
        check("abcXabcY", 5, 1, 3);
        check("aXa", 0, 2, 1); // Only the note itself.
        check("XaYaZ", 1, 3, 1);
        check("aaaa", 1, 2, 3); // Neighbours: one note before and one after both.
        check("abcdefghijklmnopabcdefghijklmnop", 8, 24, 13); // At most six on either side.
    }
}
