//! A melody with what matters to the fretting hand.

use std::ops::Range;

use crate::melody::{Melody, Quarters, Tempo};
use crate::theory::{Octave, Pitch};

/// For how many notes the return of a pitch matters.
const WITHIN: usize = 6;
/// A note longer than this, in seconds, is long: it gives time to move the hand and tires the fourth finger. Chosen by
/// ear.
const LONG: f64 = 0.5;

/// One note with what matters to the hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedNote {
    /// Written pitch.
    pub pitch: Pitch,
    /// Its duration in seconds.
    pub seconds: f64,
    /// The rest before it, in seconds.
    pub rest: f64,
    /// True when it begins on a beat.
    pub on_beat: bool,
    /// True when a phrase other than the first begins here.
    pub starts_phrase: bool,
    /// True when a section begins here.
    pub starts_section: bool,
    /// The index of the next note with the same pitch, if within six notes.
    pub returns: Option<usize>,
}

impl TimedNote {
    /// True for more than half a second.
    pub fn is_long(&self) -> bool {
        self.seconds > LONG
    }
}

/// A melody with its times in seconds.
#[derive(Clone, Debug, PartialEq)]
pub struct TimedMelody {
    // Invariant: not empty.
    notes: Vec<TimedNote>,
}

impl TimedMelody {
    /// The notes of a melody moved by whole octaves; `None` when a note leaves the MIDI range.
    ///
    /// The melody's own tempo counts unless `tempo` replaces it.
    pub fn new(melody: &Melody, octave: Octave, tempo: Option<Tempo>) -> Option<TimedMelody> {
        let mut end = Quarters::from(0);
        let mut notes = Vec::with_capacity(melody.notes().len());
        for note in melody.notes() {
            let tempo = tempo
                .or_else(|| melody.tempos().at(note.onset).copied())
                .unwrap_or(Tempo::DEFAULT);
            let beat = match melody.meters().at(note.onset) {
                Some(Some(meter)) => meter.beat(),
                _ => Quarters::from(1),
            };
            notes.push(TimedNote {
                pitch: note.pitch.transpose(octave.interval()).ok()?,
                seconds: tempo.seconds(note.duration),
                rest: tempo.seconds(note.onset - end),
                on_beat: ((note.onset - melody.bar_at(note.onset).onset) / beat).is_integer(),
                starts_phrase: false,
                starts_section: !melody.sections().within(end, note.end()).is_empty(),
                returns: None,
            });
            end = note.end();
        }
        // Without bars, only marked phrases are reliable.
        let marked = !melody.phrase_starts().is_empty();
        if marked || matches!(melody.meters().first(), Some(Some(_))) {
            for phrase in melody.phrases() {
                notes[phrase.start].starts_phrase = phrase.start > 0;
            }
        }
        for index in 0..notes.len() {
            let last = (index + WITHIN).min(notes.len() - 1);
            let midi = notes[index].pitch.midi();
            notes[index].returns =
                (index + 1..=last).find(|later| notes[*later].pitch.midi() == midi);
        }
        Some(TimedMelody { notes })
    }

    /// The notes of each section, in order; all of them where no sections are marked.
    pub(super) fn sections(&self) -> Vec<Range<usize>> {
        let inner = 1..self.notes.len();
        let starts = inner.filter(|index| self.notes[*index].starts_section);
        let starts: Vec<usize> = std::iter::once(0).chain(starts).collect();
        let ends = starts.iter().skip(1).copied().chain([self.notes.len()]);
        starts
            .iter()
            .zip(ends)
            .map(|(start, end)| *start..end)
            .collect()
    }

    /// The notes, in order; never empty.
    pub fn notes(&self) -> &[TimedNote] {
        &self.notes
    }
}
