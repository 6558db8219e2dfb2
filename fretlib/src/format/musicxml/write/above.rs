//! Directions above a staff: chord symbols, names of sections and tempos.

use super::ScoreWriter;
use crate::format::musicxml::harmony::Harmony;
use crate::melody::{Quarters, Tempo};
use crate::theory::{Chord, PitchClass};

impl ScoreWriter<'_> {
    /// Directions at a time; those at the start of the tune are at the head of the staff.
    pub(super) fn write_changes(&mut self, onset: Quarters) {
        let melody = self.melody;
        let changes_attributes =
            melody.keys().on(onset).is_some() || melody.meters().on(onset).is_some();
        if onset > Quarters::from(0) && changes_attributes {
            self.xml.open("attributes", &[]);
            self.write_key(onset);
            self.write_meter(onset);
            self.xml.close("attributes");
        }
        if let Some(name) = melody.sections().on(onset) {
            self.xml.open("direction", &[("placement", "above")]);
            self.xml.open("direction-type", &[]);
            self.xml.text("rehearsal", name);
            self.xml.close("direction-type");
            self.xml.close("direction");
        }
        if let Some(tempo) = melody.tempos().on(onset) {
            self.write_tempo(*tempo);
        }
    }

    fn write_tempo(&mut self, tempo: Tempo) {
        let count = decimal(tempo.quarters_per_minute());
        self.xml.open("direction", &[("placement", "above")]);
        self.xml.open("direction-type", &[]);
        self.xml.open("metronome", &[]);
        self.xml.text("beat-unit", "quarter");
        self.xml.text("per-minute", &count);
        self.xml.close("metronome");
        self.xml.close("direction-type");
        self.xml.empty("sound", &[("tempo", &count)]);
        self.xml.close("direction");
    }

    /// The chords that begin during a note or rest, with their offset from its onset.
    pub(super) fn write_chords(&mut self, from: Quarters, to: Quarters) {
        for (onset, chord) in self.melody.chords().within(from, to) {
            self.write_chord(chord.as_ref(), self.ticks(*onset) - self.ticks(from));
        }
    }

    fn write_chord(&mut self, chord: Option<&Chord>, offset: i64) {
        self.xml.open("harmony", &[]);
        match chord {
            Some(chord) => {
                let harmony = Harmony::of(*chord);
                self.write_class("root", chord.root());
                let shown = harmony.shown.as_deref().unwrap_or_default();
                self.xml
                    .text_with("kind", &[("text", shown)], &harmony.kind);
                if chord.bass() != chord.root() {
                    self.write_class("bass", chord.bass());
                }
                for step in &harmony.degrees {
                    self.xml.open("degree", &[]);
                    self.xml.number("degree-value", step.number);
                    self.xml.number("degree-alter", step.alteration);
                    self.xml.text("degree-type", harmony.effect(step));
                    self.xml.close("degree");
                }
            }
            None => {
                // The standard requires a root even for "no chord"; an empty text hides it.
                self.xml.open("root", &[]);
                self.xml.text_with("root-step", &[("text", "")], "C");
                self.xml.close("root");
                self.xml.text_with("kind", &[("text", "N.C.")], "none");
            }
        }
        if offset > 0 {
            self.xml.number("offset", offset);
        }
        self.xml.close("harmony");
    }

    fn write_class(&mut self, name: &str, class: PitchClass) {
        self.xml.open(name, &[]);
        self.xml
            .text(&format!("{name}-step"), &class.letter().to_string());
        if class.alteration() != 0 {
            self.xml
                .number(&format!("{name}-alter"), class.alteration());
        }
        self.xml.close(name);
    }
}

/// A number with at most six decimals, as the schema's decimals are written.
fn decimal(value: Quarters) -> String {
    let millionths = (value * Quarters::from(1_000_000)).round().to_integer();
    let text = format!("{}.{:06}", millionths / 1_000_000, millionths % 1_000_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
