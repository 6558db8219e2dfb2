//! What a hand must know of a melody.

use crate::melody::{Melody, Quarters, Tempo, phrases};
use crate::theory::{MidiNumber, Octave};

/// How many notes ahead a note is still waited for when it comes again.
const WITHIN: usize = 6;

/// One note as the hand meets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineNote {
    /// MIDI number, written pitch.
    pub midi: MidiNumber,
    /// How long it sounds, in seconds.
    pub seconds: f64,
    /// The silence before it, in seconds.
    pub rest: f64,
    /// True when it begins on a beat.
    pub on_beat: bool,
    /// True when a phrase begins here, not the first.
    pub phrase: bool,
    /// The index at which the same pitch comes again within six notes.
    pub returns: Option<usize>,
}

/// A melody as a hand meets it: pitches in time.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    // Invariant: not empty.
    notes: Vec<LineNote>,
}

impl Line {
    /// The notes of a melody moved by whole octaves; `None` when a note leaves the MIDI range.
    ///
    /// The melody's own tempo counts unless `tempo` stands in for it.
    pub fn new(melody: &Melody, octave: Octave, tempo: Option<Tempo>) -> Option<Line> {
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
            notes.push(LineNote {
                midi: note.pitch.midi().transpose(octave.semitones()).ok()?,
                seconds: tempo.seconds(note.duration),
                rest: tempo.seconds(note.onset - end),
                on_beat: ((note.onset - melody.bar_at(note.onset).onset) / beat).is_integer(),
                phrase: false,
                returns: None,
            });
            end = note.end();
        }
        // Where there are no bars, phrases that nobody marked cannot be told well enough.
        let marked = !melody.phrase_starts().is_empty();
        if marked || matches!(melody.meters().first(), Some(Some(_))) {
            for phrase in phrases(melody) {
                notes[phrase.start].phrase = phrase.start > 0;
            }
        }
        for index in 0..notes.len() {
            let last = (index + WITHIN).min(notes.len() - 1);
            notes[index].returns =
                (index + 1..=last).find(|later| notes[*later].midi == notes[index].midi);
        }
        Some(Line { notes })
    }

    /// The notes, in order; never empty.
    pub fn notes(&self) -> &[LineNote] {
        &self.notes
    }
}
