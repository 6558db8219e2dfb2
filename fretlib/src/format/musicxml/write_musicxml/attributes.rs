//! The head of a staff: clef, key, meter, tuning and transposition.

use super::{STAFF, ScoreWriter, TABLATURE};
use crate::melody::{Meter, Quarters};
use crate::theory::Interval;

impl ScoreWriter<'_> {
    pub(super) fn write_first_attributes(&mut self) {
        let melody = self.melody;
        let start = Quarters::from(0);
        self.xml.open("attributes", &[]);
        self.xml.number("divisions", self.divisions);
        self.write_key(start);
        self.write_meter(start);
        if self.has_tablature() {
            self.xml.number("staves", 2);
        }
        let staff: &[(&str, &str)] = if self.has_tablature() {
            &[("number", STAFF)]
        } else {
            &[]
        };
        // The clef that keeps the notes nearest to the staff; a bass gets the bass clef.
        let (low, high) = melody.range();
        let is_low = i16::from(low.midi().get()) + i16::from(high.midi().get()) < 2 * 57;
        self.xml.open("clef", staff);
        self.xml.text("sign", if is_low { "F" } else { "G" });
        self.xml.number("line", if is_low { 4 } else { 2 });
        self.xml.close("clef");
        if self.has_tablature() {
            self.xml.open("clef", &[("number", TABLATURE)]);
            self.xml.text("sign", "TAB");
            self.xml.number(
                "line",
                self.instrument.strings().len().saturating_sub(1).max(1),
            );
            self.xml.close("clef");
            self.write_tuning();
        }
        self.write_transposition();
        self.xml.close("attributes");
    }

    fn write_tuning(&mut self) {
        let instrument = self.instrument;
        self.xml.open("staff-details", &[("number", TABLATURE)]);
        self.xml.number("staff-lines", instrument.strings().len());
        // Lines are counted from the bottom, strings from the top; the tuning is at sounding pitch.
        for (line, open) in (1..).zip(instrument.strings().iter().rev()) {
            let sounding = open.transpose(instrument.sounding()).unwrap_or(*open);
            let line: usize = line;
            self.xml
                .open("staff-tuning", &[("line", &line.to_string())]);
            self.xml.text("tuning-step", &sounding.letter().to_string());
            if sounding.alteration() != 0 {
                self.xml.number("tuning-alter", sounding.alteration());
            }
            self.xml.number("tuning-octave", sounding.octave());
            self.xml.close("staff-tuning");
        }
        if instrument.capo() > 0 {
            self.xml.number("capo", instrument.capo());
        }
        self.xml.close("staff-details");
    }

    /// Says how many measures from here on are printed as one rest.
    ///
    /// Source: MusicXML Version 4.0, `<multiple-rest>`.
    pub(super) fn write_long_rest(&mut self, onset: Quarters) {
        let Ok(index) = self.long_rests.binary_search_by_key(&onset, |it| it.0) else {
            return;
        };
        self.xml.open("attributes", &[]);
        self.xml.open("measure-style", &[]);
        self.xml.number("multiple-rest", self.long_rests[index].1);
        self.xml.close("measure-style");
        self.xml.close("attributes");
    }

    fn write_transposition(&mut self) {
        let sounding = self.instrument.sounding();
        if sounding == Interval::UNISON {
            return;
        }
        let octaves = sounding.steps() / 7;
        self.xml.open("transpose", &[]);
        self.xml.number("diatonic", sounding.steps() - 7 * octaves);
        self.xml
            .number("chromatic", sounding.semitones() - 12 * octaves);
        if octaves != 0 {
            self.xml.number("octave-change", octaves);
        }
        self.xml.close("transpose");
    }

    pub(super) fn write_key(&mut self, onset: Quarters) {
        if let Some(key) = self.melody.keys().on(onset).copied() {
            self.xml.open("key", &[]);
            self.xml.number("fifths", key.signature());
            self.xml.text("mode", key.mode().name());
            self.xml.close("key");
        }
    }

    pub(super) fn write_meter(&mut self, onset: Quarters) {
        let Some(meter) = self.melody.meters().on(onset).copied() else {
            return;
        };
        self.xml.open("time", &[]);
        match meter {
            Some(meter) => self.write_beats(meter),
            None => self.xml.empty("senza-misura", &[]),
        }
        self.xml.close("time");
    }

    fn write_beats(&mut self, meter: Meter) {
        self.xml.number("beats", meter.count());
        self.xml.number("beat-type", meter.unit());
    }
}
