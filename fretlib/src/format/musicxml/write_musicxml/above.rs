//! Directions above a staff: chord symbols, names of sections and tempos.

use super::ScoreWriter;
use super::note::type_name;
use crate::format::musicxml::harmony::Harmony;
use crate::melody::{Feel, NoteValue, Quarters, Tempo};
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
        if let Some(feel) = melody.feel().filter(|_| onset.is_zero()) {
            self.write_feel(feel);
        }
    }

    /// A value with more than two dots is counted in quarter notes.
    fn write_tempo(&mut self, tempo: Tempo) {
        let unit = NoteValue::of(tempo.unit()).filter(|unit| unit.dots() <= 2);
        let unit = unit.unwrap_or(NoteValue::plain(2));
        let count = tempo.counted_in(unit.duration()).count();
        self.xml.open("direction", &[("placement", "above")]);
        self.xml.open("direction-type", &[]);
        self.xml.open("metronome", &[]);
        self.xml.text("beat-unit", type_name(unit));
        for _ in 0..unit.dots() {
            self.xml.empty("beat-unit-dot", &[]);
        }
        self.xml.text("per-minute", &decimal(count));
        self.xml.close("metronome");
        self.xml.close("direction-type");
        let sounding = decimal(tempo.quarters_per_minute());
        self.xml.empty("sound", &[("tempo", &sounding)]);
        self.xml.close("direction");
    }

    /// Source: MusicXML Version 4.0, `<swing>`: the ratio of the first note to the second, and which notes are meant.
    fn write_feel(&mut self, feel: Feel) {
        self.xml.open("direction", &[("placement", "above")]);
        self.xml.open("direction-type", &[]);
        self.xml.text("words", &feel.to_string());
        self.xml.close("direction-type");
        self.xml.open("sound", &[]);
        self.xml.open("swing", &[]);
        let kind = match feel {
            Feel::Straight => None,
            Feel::Swing => Some("eighth"),
            Feel::SwingSixteenths => Some("16th"),
        };
        match kind {
            None => self.xml.empty("straight", &[]),
            Some(kind) => {
                self.xml.number("first", 2);
                self.xml.number("second", 1);
                self.xml.text("swing-type", kind);
            }
        }
        self.xml.close("swing");
        self.xml.close("sound");
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
