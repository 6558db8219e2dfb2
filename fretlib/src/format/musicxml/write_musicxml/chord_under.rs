//! The lower voice of an arrangement: chords with stems down, on both staves.

use super::note::{BarSymbols, accidental_name, has_value, type_name};
use super::{Fingered, STAFF, ScoreWriter, TABLATURE};
use crate::melody::{Melody, Note, Quarters};
use crate::notation::rhythm::{Symbol, WrittenBar, write_down_voice};
use crate::theory::Pitch;

/// A note under a melody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteUnder {
    /// Written pitch.
    pub pitch: Pitch,
    /// Where it is played.
    pub fingered: Fingered,
    /// It is tied from the chord before.
    pub tied_back: bool,
    /// It is tied to the next chord.
    pub tied_on: bool,
}

/// Notes under a melody that sound together.
#[derive(Clone, Debug, PartialEq)]
pub struct ChordUnder {
    /// When it begins, from the start of the tune.
    pub onset: Quarters,
    /// How long it lasts.
    pub duration: Quarters,
    /// Its notes; a chord without any is left out.
    pub notes: Vec<NoteUnder>,
}

/// Chords in bars, written down.
pub(super) struct LowerVoice {
    chords: Vec<Vec<NoteUnder>>,
    bars: Vec<WrittenBar>,
}

impl LowerVoice {
    /// Writes chords down in the bars of a melody; `None` when there are none, or they overlap.
    pub(super) fn new(
        melody: &Melody,
        under: &[ChordUnder],
        cuts: &[Quarters],
    ) -> Option<LowerVoice> {
        let under: Vec<&ChordUnder> = under
            .iter()
            .filter(|chord| !chord.notes.is_empty())
            .collect();
        // The rhythm of a chord is that of any of its notes.
        let rhythm = |chord: &&ChordUnder| Note {
            pitch: chord.notes[0].pitch,
            onset: chord.onset,
            duration: chord.duration,
        };
        Some(LowerVoice {
            bars: write_down_voice(melody, under.iter().map(rhythm).collect(), cuts)?,
            chords: under.iter().map(|chord| chord.notes.clone()).collect(),
        })
    }

    pub(super) fn bars(&self) -> &[WrittenBar] {
        &self.bars
    }

    /// The bar that begins at a time.
    pub(super) fn bar_at(&self, onset: Quarters) -> Option<&WrittenBar> {
        let index = self
            .bars
            .binary_search_by_key(&onset, |bar| bar.onset)
            .ok()?;
        Some(&self.bars[index])
    }
}

impl ScoreWriter<'_> {
    /// Writes a bar of the lower voice on one of the staves.
    pub(super) fn write_lower_bar(&mut self, bar: &WrittenBar, staff: &str) {
        let Some(lower) = self.lower else { return };
        let marked = BarSymbols::new(bar);
        // Each voice has its own accidentals.
        let signature = self.melody.keys().at(bar.onset);
        self.accidentals
            .bar(signature.map_or(0, |key| key.signature()));
        for (index, symbol) in bar.symbols.iter().enumerate() {
            let onset = bar.onset + symbol.onset;
            let duration = self.ticks(onset + symbol.duration) - self.ticks(onset);
            let Symbol::Note {
                index: chord,
                tied_back,
                tied_on,
            } = symbol.symbol
            else {
                // Rests in both voices would only be clutter.
                self.xml.open("forward", &[]);
                self.xml.number("duration", duration);
                self.xml.text("voice", voice(staff));
                if self.has_tablature() {
                    self.xml.text("staff", staff);
                }
                self.xml.close("forward");
                continue;
            };
            for (nth, note) in lower.chords[chord].iter().enumerate() {
                let is_first = nth == 0;
                self.xml.open("note", &[]);
                if !is_first {
                    self.xml.empty("chord", &[]);
                }
                self.write_pitch(note.pitch);
                self.xml.number("duration", duration);
                let stops = tied_back || note.tied_back;
                let starts = tied_on || note.tied_on;
                for (is_there, end) in [(stops, "stop"), (starts, "start")] {
                    if is_there {
                        self.xml.empty("tie", &[("type", end)]);
                    }
                }
                self.xml.text("voice", voice(staff));
                if has_value(symbol, bar) {
                    self.xml.text("type", type_name(symbol.value));
                    for _ in 0..symbol.value.dots() {
                        self.xml.empty("dot", &[]);
                    }
                }
                let accidental = (staff == STAFF)
                    .then(|| self.accidentals.before(note.pitch, stops))
                    .flatten();
                if let Some(name) = accidental.and_then(accidental_name) {
                    self.xml.text("accidental", name);
                }
                if has_value(symbol, bar) {
                    self.write_time_modification(symbol, bar);
                }
                self.xml
                    .text("stem", if staff == STAFF { "down" } else { "none" });
                if self.has_tablature() {
                    self.xml.text("staff", staff);
                }
                if staff == STAFF && is_first {
                    self.write_beams(&marked, index);
                }
                self.write_lower_notations(note, staff, stops, starts);
                self.xml.close("note");
            }
        }
    }

    fn write_lower_notations(&mut self, note: &NoteUnder, staff: &str, stops: bool, starts: bool) {
        if !stops && !starts && staff != TABLATURE {
            return;
        }
        self.xml.open("notations", &[]);
        for (is_there, end) in [(stops, "stop"), (starts, "start")] {
            if is_there {
                self.xml.empty("tied", &[("type", end)]);
            }
        }
        if staff == TABLATURE {
            self.write_technical(note.fingered, stops);
        }
        self.xml.close("notations");
    }
}

fn voice(staff: &str) -> &'static str {
    if staff == STAFF { "2" } else { "6" }
}
