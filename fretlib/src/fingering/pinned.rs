//! What pinned notes tell about the others.

use std::ops::Range;

use super::{Constraints, TimedMelody, home};
use crate::neck::{Place, StringNumber};
use crate::theory::MidiNumber;

/// How many notes on either side of two notes are compared.
const COMPARED: usize = 6;

/// How many pins of a pitch are compared on either side of a note, so that the time stays proportional to the notes.
const NEAREST: usize = 16;

/// Pitches so many semitones apart are near each other: four fingers reach them on one string.
const NEAR: u8 = 3;

/// What the pins tell: a player plays the same notes alike, and notes of nearly the same pitch on the same string.
///
/// Common practice, no source. Editors finger a repeated passage of five notes alike in 92 % of cases: see
/// `docs/fingering.md`.
pub(super) struct Pinned {
    /// By MIDI number, the pins of a pitch in order. Empty without pins.
    by_pitch: Vec<Vec<PinnedNote>>,
}

struct PinnedNote {
    index: usize,
    place: Place,
    /// The notes for which its home holds.
    holds: Range<usize>,
}

impl Pinned {
    pub(super) fn new(
        constraints: &Constraints,
        line: &TimedMelody,
        sections: &[Range<usize>],
    ) -> Pinned {
        let notes = line.notes().len();
        let mut by_pitch = Vec::new();
        for (index, pin) in constraints.pins.range(..notes) {
            by_pitch.resize_with(128, Vec::new);
            by_pitch[usize::from(line.notes()[*index].pitch.midi().get())].push(PinnedNote {
                index: *index,
                place: pin.place,
                holds: home::held(sections, *index, notes),
            });
        }
        Pinned { by_pitch }
    }

    /// What they tell about a note that is not pinned; `None` when they tell nothing.
    pub(super) fn about(&self, line: &TimedMelody, index: usize) -> Option<AboutNote> {
        let midi = |index: usize| line.notes()[index].pitch.midi();
        let own = usize::from(midi(index).get());
        let mut about = AboutNote::default();
        for pin in nearest(self.by_pitch.get(own)?, index) {
            if pin.index == index {
                return None;
            }
            let common = &mut about.common[pin.place.string.index()];
            *common = in_common(midi, line.notes().len(), index, pin.index).max(*common);
        }
        let near = usize::from(NEAR);
        let pitches = own.saturating_sub(near)..=(own + near).min(self.by_pitch.len() - 1);
        for pitch in pitches.filter(|pitch| *pitch != own) {
            let tells = |pin: &&PinnedNote| {
                let has_this_note = usize::from(pin.place.fret.get()) + own > pitch;
                has_this_note && pin.holds.contains(&index)
            };
            for pin in nearest(&self.by_pitch[pitch], index).iter().filter(tells) {
                about.near[pin.place.string.index()] += 1;
            }
        }
        (about != AboutNote::default()).then_some(about)
    }
}

/// Those of these pins, in order, that are nearest to a note.
fn nearest(pins: &[PinnedNote], index: usize) -> &[PinnedNote] {
    let next = pins.partition_point(|pin| pin.index < index);
    &pins[next.saturating_sub(NEAREST)..pins.len().min(next + NEAREST)]
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
#[derive(Default, PartialEq)]
pub(super) struct AboutNote {
    /// By string, how many notes in a row a passage with the same pitch pinned there has in common with this one.
    common: [u8; StringNumber::MOST as usize],
    /// By string, the pins of nearly the same pitch, where the string has this note as well.
    near: [u8; StringNumber::MOST as usize],
}

impl AboutNote {
    /// How much a passage with this pitch on another string is like this one, in notes.
    pub(super) fn unlike(&self, string: StringNumber) -> u8 {
        let strings = self.common.iter().enumerate();
        let others = strings.filter(|(other, _)| *other != string.index());
        others.map(|(_, common)| *common).max().unwrap_or(0)
    }

    /// The share of the pins of nearly the same pitch that are on other strings than this; of a single one two thirds.
    pub(super) fn on_other_strings(&self, string: StringNumber) -> f64 {
        let all: f64 = self.near.iter().map(|pins| f64::from(*pins)).sum();
        (all - f64::from(self.near[string.index()])) / (all + 0.5)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Melody, Quarters};
    use crate::theory::{Octave, Pitch};

    /// How many notes the passages around two notes of a melody have in common.
    fn check(melody: &str, one: usize, other: usize, common: u8) {
        let midi = |index: usize| MidiNumber::new(melody.as_bytes()[index]).unwrap();
        assert_eq!(
            in_common(midi, melody.len(), one, other),
            common,
            "{melody}: {one} and {other}"
        );
    }

    /// The share of pins near the second note that are on other strings than this; the first is pinned.
    fn on_others(pinned: &str, place: &str, then: &str, string: u8) -> f64 {
        let mut draft = Draft::default();
        for name in [pinned, then] {
            draft
                .note(name.parse::<Pitch>().unwrap(), Quarters::from(1))
                .unwrap();
        }
        let melody = Melody::new(draft).unwrap();
        let line = TimedMelody::new(&melody, Octave::WRITTEN, None).unwrap();
        let constraints = Constraints {
            pins: [(0, place.parse::<Place>().unwrap().into())].into(),
            ..Constraints::default()
        };
        let about = Pinned::new(&constraints, &line, &line.sections()).about(&line, 1);
        about.map_or(0.0, |about| {
            about.on_other_strings(StringNumber::new(string).unwrap())
        })
    }

    #[test]
    fn notes_up_to_a_minor_third_from_a_pin_belong_on_its_string() {
        for then in ["F#4", "G4", "B4", "C5"] {
            assert_eq!(on_others("A4", "4:7", then, 4), 0.0, "{then}");
            assert_eq!(on_others("A4", "4:7", then, 3), 1.0 / 1.5, "{then}");
        }
        for then in ["F4", "C#5", "A5"] {
            assert_eq!(on_others("A4", "4:7", then, 3), 0.0, "{then}");
        }
        // The third string has no F sharp 4.
        assert_eq!(on_others("A4", "3:2", "F#4", 4), 0.0);
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
