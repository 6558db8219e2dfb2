//! A single line of notes, with the bars, keys, meters and chords around it.

use std::ops::Range;

use num_traits::Signed;
use thiserror::Error;

use super::Quarters;
use super::draft::{Draft, check_time};
use super::meter::{Meter, Tempo};
use super::timeline::Timeline;
use crate::error::OutOfRange;
use crate::one_line::one_line;
use crate::theory::{Chord, Interval, Key, Pitch};

/// One note of a melody; tied notes are one note.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Note {
    /// Written pitch.
    pub pitch: Pitch,
    /// When it begins, from the start of the tune.
    pub onset: Quarters,
    /// How long it lasts.
    pub duration: Quarters,
}

impl Note {
    /// When it ends.
    pub fn end(&self) -> Quarters {
        self.onset + self.duration
    }
}

/// A stretch between two bar lines.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Bar {
    /// The number the player counts: a pickup is bar 0, the first full bar is bar 1.
    pub number: u32,
    /// When it begins.
    pub onset: Quarters,
}

/// Why some notes do not make a melody.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum MelodyError {
    /// There is nothing to play.
    #[error("there is no note in it")]
    NoNotes,
    /// A note does not begin where time has got to.
    #[error("note {note} begins before the note ahead of it has ended")]
    Overlap {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// A note lasts no time.
    #[error("note {note} has no length")]
    NoLength {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// A time that is not on any grid of music.
    #[error(
        "note {note} begins or ends on a grid finer than 1/{} of a quarter note",
        Melody::FINEST
    )]
    TooFine {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// The tune goes on for weeks.
    #[error(
        "note {note} lies beyond {} quarter notes from the start",
        Melody::LONGEST
    )]
    TooLong {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// More bars than anybody plays: a long silence in a short meter, mostly.
    #[error("there are more than {} bars in it", Melody::MOST_BARS)]
    TooManyBars,
    /// The bars do not rise from the start.
    #[error("bar {number} begins before the bar ahead of it")]
    BarOrder {
        /// The bar's number.
        number: u32,
    },
}

/// A melody: at least one note, in order, none overlapping; silence between them is rest.
///
/// All pitches are written pitch. Values are made by the readers in [`crate::format`] or from a [`Draft`].
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Melody {
    title: String,
    composer: Option<String>,
    keys: Timeline<Key>,
    meters: Timeline<Option<Meter>>,
    tempos: Timeline<Tempo>,
    chords: Timeline<Option<Chord>>,
    sections: Timeline<String>,
    phrase_starts: Vec<Quarters>,
    // Invariant: not empty; onsets rise; no note begins before the one ahead has ended.
    notes: Vec<Note>,
    // Invariant: not empty; onsets rise; the first bar begins no later than the first note.
    bars: Vec<Bar>,
    length: Quarters,
}

impl Melody {
    /// The longest tune, in quarter notes.
    pub const LONGEST: i64 = 4_000_000;
    /// The finest grid, in parts of a quarter note.
    pub const FINEST: i64 = 1_000_000;
    /// The most bars, whether they were written or are made by the meter.
    pub const MOST_BARS: usize = 100_000;

    /// Checks a draft.
    ///
    /// The first bar is a pickup, bar 0, when it is shorter than its meter asks for. A tune without bar lines gets bars
    /// by its meter, or a single bar. Control characters are taken out of the title and the names.
    ///
    /// # Errors
    ///
    /// When there is no note, notes overlap or have no length, or bars do not rise or are too many.
    pub fn new(draft: Draft) -> Result<Melody, MelodyError> {
        let Draft {
            title,
            composer,
            keys,
            meters,
            tempos,
            chords,
            sections,
            mut phrase_starts,
            notes,
            mut bars,
            now,
        } = draft;
        if notes.is_empty() {
            return Err(MelodyError::NoNotes);
        }
        let mut end = Quarters::from(0);
        for (index, note) in notes.iter().enumerate() {
            let number = index + 1;
            if !note.duration.is_positive() {
                return Err(MelodyError::NoLength { note: number });
            }
            if is_before(note.onset, end) {
                return Err(MelodyError::Overlap { note: number });
            }
            check_time(note.onset, number)?;
            check_time(note.duration, number)?;
            end = unreduced_end(note);
            check_time(end, number)?;
        }
        let length = end.reduced().max(now);
        if bars.is_empty() {
            bars = bars_by_meter(&meters, length)?;
        }
        if bars[0] > Quarters::from(0) {
            bars.insert(0, Quarters::from(0));
        }
        // A bar line at the very end opens no bar.
        while bars.len() > 1 && bars.last().is_some_and(|last| *last >= length) {
            bars.pop();
        }
        if bars.len() > Melody::MOST_BARS {
            return Err(MelodyError::TooManyBars);
        }
        let bars = number_bars(&bars, &meters, length)?;
        phrase_starts.sort_unstable();
        phrase_starts.dedup();
        let sections = sections.try_map(|name| Ok::<_, MelodyError>(one_line(name)))?;
        Ok(Melody {
            title: one_line(&title),
            composer: composer.as_deref().map(one_line),
            keys,
            meters,
            tempos,
            chords,
            sections,
            phrase_starts,
            notes,
            bars,
            length,
        })
    }

    /// Takes the melody apart again, to change it.
    pub fn into_draft(self) -> Draft {
        Draft {
            title: self.title,
            composer: self.composer,
            keys: self.keys,
            meters: self.meters,
            tempos: self.tempos,
            chords: self.chords,
            sections: self.sections,
            phrase_starts: self.phrase_starts,
            bars: self.bars.iter().map(|bar| bar.onset).collect(),
            notes: self.notes,
            now: self.length,
        }
    }

    /// The tune's name; may be empty.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Who made it, when known.
    pub fn composer(&self) -> Option<&str> {
        self.composer.as_deref()
    }

    /// The keys as declared; empty when the source does not say.
    pub fn keys(&self) -> &Timeline<Key> {
        &self.keys
    }

    /// The meters; `None` stands for free meter.
    pub fn meters(&self) -> &Timeline<Option<Meter>> {
        &self.meters
    }

    /// The tempos; empty when the source does not say.
    pub fn tempos(&self) -> &Timeline<Tempo> {
        &self.tempos
    }

    /// The chords; `None` stands for "no chord".
    pub fn chords(&self) -> &Timeline<Option<Chord>> {
        &self.chords
    }

    /// The names of the sections.
    pub fn sections(&self) -> &Timeline<String> {
        &self.sections
    }

    /// Onsets at which the source says a phrase begins, in order; empty when it does not say.
    pub fn phrase_starts(&self) -> &[Quarters] {
        &self.phrase_starts
    }

    /// The notes, in order; never empty.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The bars, in order; never empty.
    pub fn bars(&self) -> &[Bar] {
        &self.bars
    }

    /// When the last note or the rest after it ends.
    pub fn length(&self) -> Quarters {
        self.length
    }

    /// The bar that is running at `onset`.
    pub fn bar_at(&self, onset: Quarters) -> Bar {
        let after = self.bars.partition_point(|bar| bar.onset <= onset);
        self.bars[after.saturating_sub(1)]
    }

    /// The lowest and the highest note.
    pub fn range(&self) -> (Pitch, Pitch) {
        let first = self.notes[0].pitch;
        let pitches = || self.notes.iter().map(|note| note.pitch);
        let low = pitches().fold(
            first,
            |low, it| if it.midi() < low.midi() { it } else { low },
        );
        let high = pitches().fold(
            first,
            |high, it| if it.midi() > high.midi() { it } else { high },
        );
        (low, high)
    }

    /// The same tune with this key throughout, in place of those declared.
    #[must_use]
    pub fn with_key(mut self, key: Key) -> Melody {
        self.keys = Timeline::constant(key);
        self
    }

    /// The tune moved by an interval, keys and chords with it.
    ///
    /// # Errors
    ///
    /// When a note leaves the MIDI range, or a key would need more than seven sharps or flats.
    pub fn transposed(&self, interval: Interval) -> Result<Melody, OutOfRange> {
        let mut moved = self.clone();
        for note in &mut moved.notes {
            note.pitch = note.pitch.transpose(interval)?;
        }
        moved.keys = self.keys.try_map(|key| key.transpose(interval))?;
        moved.chords = self.chords.try_map(|chord| {
            chord
                .as_ref()
                .map(|chord| chord.transpose(interval))
                .transpose()
        })?;
        Ok(moved)
    }

    /// Only the bars whose numbers lie in `numbers`, beginning at time zero; `None` when no note begins in them.
    ///
    /// Notes are kept whole, even when one sounds on past the last bar. Bars are numbered as before.
    pub fn excerpt(&self, numbers: Range<u32>) -> Option<Melody> {
        let first = self
            .bars
            .iter()
            .position(|bar| numbers.contains(&bar.number))?;
        let after = self
            .bars
            .iter()
            .rposition(|bar| numbers.contains(&bar.number))?
            + 1;
        let start = self.bars[first].onset;
        let end = self.bars.get(after).map_or(self.length, |bar| bar.onset);
        let notes: Vec<Note> = self
            .notes
            .iter()
            .filter(|note| note.onset >= start && note.onset < end)
            .map(|note| Note {
                onset: note.onset - start,
                ..*note
            })
            .collect();
        let last_end = notes.last()?.end();
        Some(Melody {
            title: self.title.clone(),
            composer: self.composer.clone(),
            keys: self.keys.excerpt(start, end),
            meters: self.meters.excerpt(start, end),
            tempos: self.tempos.excerpt(start, end),
            chords: self.chords.excerpt(start, end),
            sections: self.sections.excerpt(start, end),
            phrase_starts: self
                .phrase_starts
                .iter()
                .filter(|at| (start..end).contains(at))
                .map(|at| at - start)
                .collect(),
            bars: self.bars[first..after]
                .iter()
                .map(|bar| Bar {
                    number: bar.number,
                    onset: bar.onset - start,
                })
                .collect(),
            length: last_end.max(end - start),
            notes,
        })
    }
}

/// Whether one time is ahead of another, in lowest terms or not.
fn is_before(one: Quarters, other: Quarters) -> bool {
    let product = |numer: &i64, denom: &i64| i128::from(*numer) * i128::from(*denom);
    product(one.numer(), other.denom()) < product(other.numer(), one.denom())
}

/// When a note ends whose onset and duration are within the limits; in lowest terms only where it takes them to stay so.
///
/// Every note of a melody is compared with the end of the one ahead, and lowest terms would cost more than all else.
fn unreduced_end(note: &Note) -> Quarters {
    let (onset, onset_denom) = note.onset.into_raw();
    let (duration, denom) = note.duration.into_raw();
    let end = if onset_denom == denom {
        Quarters::new_raw(onset + duration, denom)
    } else {
        Quarters::new_raw(onset * denom + duration * onset_denom, onset_denom * denom)
    };
    if *end.denom() > Melody::FINEST {
        end.reduced()
    } else {
        end
    }
}

fn bars_by_meter(
    meters: &Timeline<Option<Meter>>,
    length: Quarters,
) -> Result<Vec<Quarters>, MelodyError> {
    let mut bars = Vec::new();
    let mut onset = Quarters::from(0);
    while onset < length {
        // Two notes with weeks between them are a few bytes in a file.
        if bars.len() == Melody::MOST_BARS {
            return Err(MelodyError::TooManyBars);
        }
        bars.push(onset);
        match meters.at(onset) {
            Some(Some(meter)) => onset += meter.bar_length(),
            _ => break,
        }
    }
    Ok(bars)
}

fn number_bars(
    onsets: &[Quarters],
    meters: &Timeline<Option<Meter>>,
    length: Quarters,
) -> Result<Vec<Bar>, MelodyError> {
    let first_end = onsets.get(1).copied().unwrap_or(length);
    let is_pickup = onsets.len() > 1
        && meters
            .at(onsets[0])
            .copied()
            .flatten()
            .is_some_and(|meter| first_end - onsets[0] < meter.bar_length());
    let first_number = if is_pickup { 0 } else { 1 };
    let mut bars: Vec<Bar> = Vec::with_capacity(onsets.len());
    for (number, &onset) in (first_number..).zip(onsets) {
        if bars.last().is_some_and(|ahead| ahead.onset >= onset) {
            return Err(MelodyError::BarOrder { number });
        }
        bars.push(Bar { number, onset });
    }
    Ok(bars)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quarters(numer: i64, denom: i64) -> Quarters {
        Quarters::new(numer, denom)
    }

    fn pitch(name: &str) -> Pitch {
        name.parse().unwrap()
    }

    fn waltz_with_pickup() -> Melody {
        let mut draft = Draft::default();
        draft
            .meters
            .set(quarters(0, 1), Some("3/4".parse().unwrap()));
        draft.bar_line();
        draft.note(pitch("D4"), quarters(1, 1)).unwrap();
        for _ in 0..3 {
            draft.bar_line();
            draft.note(pitch("G4"), quarters(2, 1)).unwrap();
            draft.note(pitch("B4"), quarters(1, 1)).unwrap();
        }
        draft.bar_line();
        Melody::new(draft).unwrap()
    }

    #[test]
    fn a_short_first_bar_is_bar_zero() {
        let melody = waltz_with_pickup();
        let numbers: Vec<u32> = melody.bars().iter().map(|bar| bar.number).collect();
        assert_eq!(numbers, [0, 1, 2, 3]);
        assert_eq!(melody.bar_at(quarters(0, 1)).number, 0);
        assert_eq!(melody.bar_at(quarters(7, 2)).number, 1);
        assert_eq!(melody.bar_at(quarters(99, 1)).number, 3);
    }

    #[test]
    fn a_tune_without_bar_lines_gets_them_by_meter() {
        let mut draft = Draft::default();
        draft.meters.set(quarters(0, 1), Some(Meter::COMMON));
        for _ in 0..9 {
            draft.note(pitch("A4"), quarters(1, 1)).unwrap();
        }
        let melody = Melody::new(draft).unwrap();
        assert_eq!(melody.bars().len(), 3);
        assert_eq!(melody.bars()[0].number, 1);
    }

    #[test]
    fn a_bar_line_at_the_end_opens_no_bar() {
        let mut draft = Draft::default();
        draft.note(pitch("A4"), quarters(2, 1)).unwrap();
        draft.bar_line();
        assert_eq!(Melody::new(draft).unwrap().bars().len(), 1);
        assert_eq!(waltz_with_pickup().bars().len(), 4);
    }

    #[test]
    fn an_excerpt_keeps_bar_numbers_and_begins_at_zero() {
        let part = waltz_with_pickup().excerpt(2..4).unwrap();
        assert_eq!(part.notes().len(), 4);
        assert_eq!(part.notes()[0].onset, quarters(0, 1));
        assert_eq!(part.bars()[0].number, 2);
        assert_eq!(
            part.meters().at(quarters(0, 1)),
            Some(&Some("3/4".parse().unwrap()))
        );
        assert!(waltz_with_pickup().excerpt(9..12).is_none());
    }

    #[test]
    fn transposing_moves_notes_and_keys() {
        let melody = waltz_with_pickup().with_key("G major".parse().unwrap());
        let moved = melody.transposed("+m3".parse().unwrap()).unwrap();
        assert_eq!(moved.notes()[0].pitch, pitch("F4"));
        assert_eq!(moved.keys().first().unwrap().to_string(), "Bb major");
        assert_eq!(moved.transposed("-m3".parse().unwrap()), Ok(melody));
    }

    #[test]
    fn impossible_drafts_are_refused() {
        assert_eq!(Melody::new(Draft::default()), Err(MelodyError::NoNotes));

        let note = |onset, duration| Note {
            pitch: pitch("C4"),
            onset,
            duration,
        };
        let cases = [
            (
                vec![
                    note(quarters(0, 1), quarters(2, 1)),
                    note(quarters(1, 1), quarters(1, 1)),
                ],
                MelodyError::Overlap { note: 2 },
            ),
            (
                vec![note(quarters(0, 1), quarters(0, 1))],
                MelodyError::NoLength { note: 1 },
            ),
            (
                vec![note(quarters(1, 1_000_003), quarters(1, 1))],
                MelodyError::TooFine { note: 1 },
            ),
            (
                vec![note(quarters(0, 1), quarters(5_000_000, 1))],
                MelodyError::TooLong { note: 1 },
            ),
        ];
        for (notes, error) in cases {
            let draft = Draft {
                notes,
                ..Draft::default()
            };
            assert_eq!(Melody::new(draft), Err(error));
        }
    }

    #[test]
    fn a_silence_of_weeks_makes_no_millions_of_bars() {
        let with_rest = |bars: usize| {
            let mut draft = Draft::default();
            draft
                .meters
                .set(quarters(0, 1), Some("1/64".parse().unwrap()));
            draft.note(pitch("C4"), quarters(1, 16)).unwrap();
            draft.rest(quarters(bars as i64 - 1, 16)).unwrap();
            Melody::new(draft).map(|melody| melody.bars().len())
        };
        let most = Melody::MOST_BARS;
        assert_eq!(with_rest(most), Ok(most));
        assert_eq!(with_rest(most + 1), Err(MelodyError::TooManyBars));
        assert_eq!(with_rest(60_000_000), Err(MelodyError::TooManyBars));
    }

    #[test]
    fn the_range_is_by_sound() {
        let (low, high) = waltz_with_pickup().range();
        assert_eq!((low, high), (pitch("D4"), pitch("B4")));
    }
}
