//! Which notes of a melody get a voicing, and when it sounds.

use std::fmt;
use std::str::FromStr;

use super::style::Style;
use crate::error::ParseError;
use crate::melody::{Melody, Note, Quarters};
use crate::theory::Chord;

/// How many notes of the melody get a voicing.
///
/// A chord that begins under a held note always sounds there, whatever the density.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Density {
    /// The first note under every new chord.
    Sparse,
    /// Also the first note on a beat of every bar (or its first note, when none is on a beat), and every note of two
    /// beats or more.
    #[default]
    Medium,
    /// Also every note on a beat and every note of a beat or more.
    Full,
}

impl Density {
    /// All of them, the sparsest first.
    pub const ALL: [Density; 3] = [Density::Sparse, Density::Medium, Density::Full];

    /// Its name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Density::Sparse => "sparse",
            Density::Medium => "medium",
            Density::Full => "full",
        }
    }
}

impl fmt::Display for Density {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Density {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Density, ParseError> {
        let found = Density::ALL.into_iter().find(|it| it.name() == text);
        found.ok_or_else(|| ParseError::unreadable(text, "a density: sparse, medium or full"))
    }
}

/// Part of a melody note under which one voicing sounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChordMoment {
    /// The index of the melody note.
    pub note: usize,
    /// When the voicing begins, from the note's onset.
    pub at: Quarters,
    /// When it ends, from the note's onset.
    pub until: Quarters,
    /// The chord that sounds.
    pub chord: Chord,
    /// True when the next chord's root is a fifth or a semitone below.
    pub resolves: bool,
    /// True on the first beat of a bar, and in the middle of one that has four beats or another even number above.
    pub strong: bool,
}

/// The chords and the bars of a melody, by onset.
struct ChordChanges<'a> {
    melody: &'a Melody,
    /// Onsets at which another chord begins; `None` where there is none from there.
    changes: Vec<(Quarters, Option<Chord>)>,
}

/// Every moment that gets a voicing, in order.
///
/// Without chords there are none.
pub fn moments(melody: &Melody, density: Density, style: &Style) -> Vec<ChordMoment> {
    let chord_changes = ChordChanges::new(melody);
    let mut asked = chord_changes.asked(density);
    if style.on_strong_beats {
        for (asked, note) in asked.iter_mut().zip(melody.notes()) {
            *asked |= chord_changes.is_strong(note.onset);
        }
    }
    let notes = melody.notes().iter().zip(asked).enumerate();
    notes
        .flat_map(|(index, (note, asked))| chord_changes.under(index, note, asked, style))
        .collect()
}

/// The beat at a time; a quarter note where there is no meter.
pub(super) fn beat_at(melody: &Melody, onset: Quarters) -> Quarters {
    let meter = melody.meters().at(onset).copied().flatten();
    meter.map_or(Quarters::ONE, |meter| meter.beat())
}

impl<'a> ChordChanges<'a> {
    fn new(melody: &'a Melody) -> ChordChanges<'a> {
        let mut changes: Vec<(Quarters, Option<Chord>)> = Vec::new();
        for (onset, chord) in melody.chords().iter() {
            if changes.last().is_none_or(|(_, before)| before != chord) {
                changes.push((onset, *chord));
            }
        }
        ChordChanges { melody, changes }
    }

    fn chord_at(&self, onset: Quarters) -> Option<Chord> {
        let after = self.changes.partition_point(|(at, _)| *at <= onset);
        self.changes[..after].last().and_then(|(_, chord)| *chord)
    }

    /// The current bar and its end.
    fn bar(&self, onset: Quarters) -> (Quarters, Quarters) {
        let bars = self.melody.bars();
        let after = bars.partition_point(|bar| bar.onset <= onset);
        let start = bars[after.saturating_sub(1)].onset;
        (
            start,
            bars.get(after)
                .map_or(self.melody.length(), |bar| bar.onset),
        )
    }

    fn beat(&self, onset: Quarters) -> Quarters {
        beat_at(self.melody, onset)
    }

    /// Counted from the bar line, from its end in a pickup.
    fn place_in_bar(&self, onset: Quarters) -> Quarters {
        let (start, end) = self.bar(onset);
        let meter = self.melody.meters().at(onset).copied().flatten();
        match meter {
            Some(meter) if start == Quarters::ZERO && end - start < meter.bar_length() => {
                meter.bar_length() - (end - onset)
            }
            _ => onset - start,
        }
    }

    fn is_on_beat(&self, onset: Quarters) -> bool {
        (self.place_in_bar(onset) / self.beat(onset)).is_integer()
    }

    fn is_strong(&self, onset: Quarters) -> bool {
        let place = self.place_in_bar(onset);
        let meter = self.melody.meters().at(onset).copied().flatten();
        let middle = meter.and_then(|meter| {
            let beats = meter.bar_length() / meter.beat();
            let even = (beats / Quarters::from(2)).is_integer() && beats >= Quarters::from(4);
            even.then(|| meter.bar_length() / Quarters::from(2))
        });
        place.is_zero() || Some(place) == middle
    }

    /// Whether each note gets a voicing from its onset.
    fn asked(&self, density: Density) -> Vec<bool> {
        let notes = self.melody.notes();
        let mut asked = vec![false; notes.len()];
        for (index, (onset, chord)) in self.changes.iter().enumerate() {
            let end = self.changes.get(index + 1).map(|(onset, _)| *onset);
            let first = notes.partition_point(|note| note.onset < *onset);
            let is_held = first > 0 && notes[first - 1].end() > *onset;
            let in_time = |note: &Note| end.is_none_or(|end| note.onset < end);
            if chord.is_some() && !is_held && notes.get(first).is_some_and(in_time) {
                asked[first] = true;
            }
        }
        if density == Density::Sparse {
            return asked;
        }
        let mut first = 0;
        while first < notes.len() {
            let bar = self.bar(notes[first].onset);
            let after = notes
                .partition_point(|note| note.onset < bar.1)
                .max(first + 1);
            let on_beat = (first..after).find(|index| self.is_on_beat(notes[*index].onset));
            asked[on_beat.unwrap_or(first)] = true;
            first = after;
        }
        for (asked, note) in asked.iter_mut().zip(notes) {
            let beats = note.duration / self.beat(note.onset);
            *asked |= match density {
                Density::Full => beats >= Quarters::ONE || self.is_on_beat(note.onset),
                _ => beats >= Quarters::from(2),
            };
        }
        asked
    }

    /// The moments under one note.
    fn under(&self, index: usize, note: &Note, asked: bool, style: &Style) -> Vec<ChordMoment> {
        let mut starts = Vec::new();
        if asked {
            starts.push(note.onset);
        }
        let first = self.changes.partition_point(|(at, _)| *at <= note.onset);
        let after = self.changes.partition_point(|(at, _)| *at < note.end());
        starts.extend(
            self.changes[first..after.max(first)]
                .iter()
                .map(|(at, _)| *at),
        );
        if style.on_strong_beats {
            starts.extend(self.strong_beats_under(note));
        }
        starts.sort_unstable();
        starts.dedup();
        let ends = starts
            .iter()
            .skip(1)
            .copied()
            .chain([note.end()])
            .collect::<Vec<_>>();
        starts
            .into_iter()
            .zip(ends)
            .filter_map(|(start, end)| {
                let chord = self.chord_at(start)?;
                Some(ChordMoment {
                    note: index,
                    at: start - note.onset,
                    until: end - note.onset,
                    chord,
                    resolves: self.resolves(start, chord),
                    strong: self.is_strong(start),
                })
            })
            .collect()
    }

    /// Strong beats inside a note that leave it at least a beat.
    fn strong_beats_under(&self, note: &Note) -> Vec<Quarters> {
        let beat = self.beat(note.onset);
        let into = self.place_in_bar(note.onset) / beat;
        let mut onset = note.onset + (into.floor() + Quarters::ONE - into) * beat;
        let mut found = Vec::new();
        while onset + beat <= note.end() && found.len() < 1000 {
            if self.is_strong(onset) {
                found.push(onset);
            }
            onset += beat;
        }
        found
    }

    fn resolves(&self, onset: Quarters, chord: Chord) -> bool {
        let after = self.changes.partition_point(|(at, _)| *at <= onset);
        let next = self.changes[after..].iter().find_map(|(_, chord)| *chord);
        next.is_some_and(|next| {
            let falls = (chord.root().chroma() + 12 - next.root().chroma()) % 12;
            matches!(falls, 1 | 7)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arranging::few_bars::tune;

    /// Moments as note numbers, with `+` and the time where one begins later.
    fn check(density: Density, style: Style, lines: &str, expected: &str) {
        let melody = tune("C major", lines);
        let found: Vec<String> = moments(&melody, density, &style)
            .iter()
            .map(|it| {
                if it.at.is_zero() {
                    format!("{}", it.note + 1)
                } else {
                    format!("{}+{}", it.note + 1, it.at)
                }
            })
            .collect();
        assert_eq!(found.join(" "), expected, "{lines}");
    }

    #[test]
    fn density_says_which_notes_are_voiced() {
        let tune = "(chords: \"C | F G7 | C\", notes: \"C5 q D E F | A4 h G q F | E4 w\")";
        check(Density::Sparse, Style::PLUCKED, tune, "1 5 6 8");
        check(Density::Medium, Style::PLUCKED, tune, "1 5 6 8");
        check(Density::Full, Style::PLUCKED, tune, "1 2 3 4 5 6 7 8");
        // Repeating a chord is not a change, but the bar's first note is still voiced.
        let again = "(chords: \"C | C\", notes: \"C5 q D E F | r e A4 e G h F q\")";
        check(Density::Sparse, Style::PLUCKED, again, "1");
        check(Density::Medium, Style::PLUCKED, again, "1 6");
    }

    #[test]
    fn a_chord_that_comes_under_a_held_note_sounds_there() {
        check(
            Density::Sparse,
            Style::PLUCKED,
            "(chords: \"Dm7 G7\", notes: \"C5 w\")",
            "1 1+2",
        );
        check(
            Density::Medium,
            Style::BASS,
            "(chords: \"C\", notes: \"C5 w\")",
            "1 1+2",
        );
        check(
            Density::Medium,
            Style::PLUCKED,
            "(chords: \"-\", notes: \"C5 w\")",
            "",
        );
    }

    #[test]
    fn strong_beats_and_resolutions_are_known() {
        let melody = tune(
            "C major",
            "(chords: \"G7 | C\", notes: \"B4 q C5 D E | E h C\")",
        );
        let found = moments(&melody, Density::Full, &Style::PLUCKED);
        let strong: Vec<bool> = found.iter().map(|it| it.strong).collect();
        assert_eq!(strong, [true, false, true, false, true, true]);
        assert!(found[0].resolves && !found[4].resolves);
    }
}
