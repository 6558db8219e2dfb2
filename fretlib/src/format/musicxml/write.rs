//! Writing MusicXML: a staff and, when the places are known, a tablature staff under it.

use num_integer::Integer;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};

use super::harmony::Harmony;
use crate::format::measures::{Measure, Piece, measures};
use crate::melody::{Melody, Meter, Quarters, Tempo};
use crate::neck::{Finger, Instrument, Place, StringNumber};
use crate::theory::{Chord, Interval, Pitch, PitchClass};

/// Where one note is played.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Fingered {
    /// The string and the fret.
    pub place: Place,
    /// The finger; none on an open string.
    pub finger: Option<Finger>,
}

/// Writes a melody as a score of one part for an instrument.
///
/// `places` has an entry for every note, empty where a note has no place; when it is empty altogether there is no
/// tablature. The notes stand at their written pitch, with `<transpose>` for an instrument that sounds elsewhere; the
/// tuning of the tablature is what the open strings sound. A score has no place for phrases.
///
/// Source: MusicXML Version 4.0, W3C Music Notation Community Group, June 2021.
pub fn write(melody: &Melody, instrument: &Instrument, places: &[Option<Fingered>]) -> String {
    let mut score = ScoreWriter {
        xml: Writer::new_with_indent(Vec::new(), b' ', 1),
        melody,
        instrument,
        places,
        divisions: 1,
    };
    let measures = measures(melody, &score.cuts());
    score.divisions = divisions(&measures, melody);
    score.write(&measures);
    // Everything that was written was text.
    String::from_utf8_lossy(&score.xml.into_inner()).into_owned()
}

/// Divisions of a quarter note that hold every time exactly.
fn divisions(measures: &[Measure], melody: &Melody) -> i64 {
    // Beyond this, which takes a grid no music has, times are rounded.
    const MOST: i64 = 1_000_000;
    let pieces = measures
        .iter()
        .flat_map(|measure| &measure.pieces)
        .flat_map(|piece| [piece.onset, piece.end()]);
    let chords = melody.chords().iter().map(|(onset, _)| onset);
    let bars = measures.iter().map(|measure| measure.onset);
    pieces
        .chain(chords)
        .chain(bars)
        .try_fold(1, |all: i64, time| {
            Some(all.lcm(time.denom())).filter(|all| *all <= MOST)
        })
        .unwrap_or(MOST)
}

struct ScoreWriter<'m> {
    xml: Writer<Vec<u8>>,
    melody: &'m Melody,
    instrument: &'m Instrument,
    places: &'m [Option<Fingered>],
    divisions: i64,
}

const STAFF: &str = "1";
const TABLATURE: &str = "2";

impl ScoreWriter<'_> {
    fn has_tablature(&self) -> bool {
        !self.places.is_empty()
    }

    /// Where something that cannot be moved along stands between notes; chord symbols can.
    fn cuts(&self) -> Vec<Quarters> {
        let melody = self.melody;
        let keys = melody.keys().iter().map(|(onset, _)| onset);
        let meters = melody.meters().iter().map(|(onset, _)| onset);
        let tempos = melody.tempos().iter().map(|(onset, _)| onset);
        let sections = melody.sections().iter().map(|(onset, _)| onset);
        keys.chain(meters).chain(tempos).chain(sections).collect()
    }

    // Writing to memory does not fail, so that the results say nothing.
    fn text(&mut self, name: &str, text: &str) {
        let _ = self
            .xml
            .create_element(name)
            .write_text_content(BytesText::new(text));
    }

    fn number(&mut self, name: &str, number: impl ToString) {
        self.text(name, &number.to_string());
    }

    fn empty(&mut self, name: &str, attributes: &[(&str, &str)]) {
        let _ = self
            .xml
            .create_element(name)
            .with_attributes(attributes.iter().copied())
            .write_empty();
    }

    fn open(&mut self, name: &str, attributes: &[(&str, &str)]) {
        let start = quick_xml::events::BytesStart::new(name.to_owned())
            .with_attributes(attributes.iter().copied());
        let _ = self.xml.write_event(Event::Start(start));
    }

    fn close(&mut self, name: &str) {
        let _ = self
            .xml
            .write_event(Event::End(quick_xml::events::BytesEnd::new(
                name.to_owned(),
            )));
    }

    fn write(&mut self, measures: &[Measure]) {
        let _ = self
            .xml
            .write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        self.open("score-partwise", &[("version", "4.0")]);
        self.open("work", &[]);
        self.text("work-title", self.melody.title());
        self.close("work");
        self.open("identification", &[]);
        if let Some(composer) = self.melody.composer() {
            let creator = self
                .xml
                .create_element("creator")
                .with_attribute(("type", "composer"));
            let _ = creator.write_text_content(BytesText::new(composer));
        }
        self.open("encoding", &[]);
        self.text("software", "neckline");
        self.close("encoding");
        self.close("identification");
        self.write_part_list();
        self.open("part", &[("id", "P1")]);
        for (index, measure) in measures.iter().enumerate() {
            self.write_measure(index, measure);
        }
        self.close("part");
        self.close("score-partwise");
    }

    fn write_part_list(&mut self) {
        self.open("part-list", &[]);
        self.open("score-part", &[("id", "P1")]);
        self.text("part-name", self.instrument.name());
        self.open("score-instrument", &[("id", "P1-I1")]);
        self.text("instrument-name", self.instrument.name());
        self.close("score-instrument");
        self.open("midi-instrument", &[("id", "P1-I1")]);
        self.number("midi-channel", 1);
        self.number(
            "midi-program",
            u16::from(self.instrument.build().program) + 1,
        );
        self.close("midi-instrument");
        self.close("score-part");
        self.close("part-list");
    }

    fn write_measure(&mut self, index: usize, measure: &Measure) {
        let number = self.melody.bars()[index].number.to_string();
        let is_pickup = number == "0";
        let implicit: &[(&str, &str)] = if is_pickup {
            &[("implicit", "yes")]
        } else {
            &[]
        };
        self.open(
            "measure",
            &[&[("number", number.as_str())], implicit].concat(),
        );
        if index == 0 {
            self.write_first_attributes();
        }
        for piece in &measure.pieces {
            self.write_changes(piece.onset);
            self.write_chords(piece);
            self.write_piece(piece, STAFF);
        }
        if self.has_tablature() && !measure.pieces.is_empty() {
            self.open("backup", &[]);
            self.number(
                "duration",
                self.ticks(measure.end) - self.ticks(measure.onset),
            );
            self.close("backup");
            for piece in &measure.pieces {
                self.write_piece(piece, TABLATURE);
            }
        }
        self.close("measure");
    }

    fn ticks(&self, time: Quarters) -> i64 {
        (time * Quarters::from(self.divisions)).round().to_integer()
    }

    fn write_first_attributes(&mut self) {
        let melody = self.melody;
        let start = Quarters::from(0);
        self.open("attributes", &[]);
        self.number("divisions", self.divisions);
        self.write_key(start);
        self.write_meter(start);
        if self.has_tablature() {
            self.number("staves", 2);
        }
        let staff: &[(&str, &str)] = if self.has_tablature() {
            &[("number", STAFF)]
        } else {
            &[]
        };
        // The clef that keeps the notes nearest to the staff: a bass is read in the bass clef.
        let (low, high) = melody.range();
        let is_low = i16::from(low.midi()) + i16::from(high.midi()) < 2 * 57;
        self.open("clef", staff);
        self.text("sign", if is_low { "F" } else { "G" });
        self.number("line", if is_low { 4 } else { 2 });
        self.close("clef");
        if self.has_tablature() {
            self.open("clef", &[("number", TABLATURE)]);
            self.text("sign", "TAB");
            self.number(
                "line",
                self.instrument.strings().len().saturating_sub(1).max(1),
            );
            self.close("clef");
            self.write_tuning();
        }
        self.write_transposition();
        self.close("attributes");
    }

    fn write_tuning(&mut self) {
        let instrument = self.instrument;
        self.open("staff-details", &[("number", TABLATURE)]);
        self.number("staff-lines", instrument.strings().len());
        // Lines are counted from the bottom, strings from the top; the tuning is told as it sounds.
        for (line, open) in (1..).zip(instrument.strings().iter().rev()) {
            let sounding = open.transpose(instrument.sounding()).unwrap_or(*open);
            let line: usize = line;
            self.open("staff-tuning", &[("line", &line.to_string())]);
            self.text("tuning-step", &sounding.letter().to_string());
            if sounding.alteration() != 0 {
                self.number("tuning-alter", sounding.alteration());
            }
            self.number("tuning-octave", sounding.octave());
            self.close("staff-tuning");
        }
        if instrument.capo() > 0 {
            self.number("capo", instrument.capo());
        }
        self.close("staff-details");
    }

    fn write_transposition(&mut self) {
        let sounding = self.instrument.sounding();
        if sounding == Interval::UNISON {
            return;
        }
        let octaves = sounding.steps() / 7;
        self.open("transpose", &[]);
        self.number("diatonic", sounding.steps() - 7 * octaves);
        self.number("chromatic", sounding.semitones() - 12 * octaves);
        if octaves != 0 {
            self.number("octave-change", octaves);
        }
        self.close("transpose");
    }

    fn write_key(&mut self, onset: Quarters) {
        if let Some(key) = self.melody.keys().on(onset).copied() {
            self.open("key", &[]);
            self.number("fifths", key.signature());
            self.text("mode", key.mode().name());
            self.close("key");
        }
    }

    fn write_meter(&mut self, onset: Quarters) {
        let Some(meter) = self.melody.meters().on(onset).copied() else {
            return;
        };
        self.open("time", &[]);
        match meter {
            Some(meter) => self.write_beats(meter),
            None => self.empty("senza-misura", &[]),
        }
        self.close("time");
    }

    fn write_beats(&mut self, meter: Meter) {
        self.number("beats", meter.count());
        self.number("beat-type", meter.unit());
    }

    fn write_changes(&mut self, onset: Quarters) {
        let melody = self.melody;
        let changes_attributes =
            melody.keys().on(onset).is_some() || melody.meters().on(onset).is_some();
        if onset > Quarters::from(0) && changes_attributes {
            self.open("attributes", &[]);
            self.write_key(onset);
            self.write_meter(onset);
            self.close("attributes");
        }
        if let Some(name) = melody.sections().on(onset) {
            self.open("direction", &[("placement", "above")]);
            self.open("direction-type", &[]);
            self.text("rehearsal", name);
            self.close("direction-type");
            self.close("direction");
        }
        if let Some(tempo) = melody.tempos().on(onset) {
            self.write_tempo(*tempo);
        }
    }

    fn write_tempo(&mut self, tempo: Tempo) {
        let count = decimal(tempo.quarters_per_minute());
        self.open("direction", &[("placement", "above")]);
        self.open("direction-type", &[]);
        self.open("metronome", &[]);
        self.text("beat-unit", "quarter");
        self.text("per-minute", &count);
        self.close("metronome");
        self.close("direction-type");
        self.empty("sound", &[("tempo", &count)]);
        self.close("direction");
    }

    /// The chords that begin while a piece sounds, those after its onset with their distance.
    fn write_chords(&mut self, piece: &Piece) {
        let melody = self.melody;
        let within = melody.chords().within(piece.onset, piece.end());
        for (onset, chord) in within {
            self.write_chord(chord.as_ref(), self.ticks(*onset) - self.ticks(piece.onset));
        }
    }

    fn write_chord(&mut self, chord: Option<&Chord>, offset: i64) {
        self.open("harmony", &[]);
        match chord {
            Some(chord) => {
                let harmony = Harmony::of(*chord);
                self.write_class("root", chord.root());
                let shown = harmony.shown.unwrap_or_default();
                let kind = self
                    .xml
                    .create_element("kind")
                    .with_attribute(("text", shown.as_str()));
                let _ = kind.write_text_content(BytesText::new(&harmony.kind));
                if chord.bass() != chord.root() {
                    self.write_class("bass", chord.bass());
                }
                for step in &harmony.degrees {
                    self.open("degree", &[]);
                    self.number("degree-value", step.number);
                    self.number("degree-alter", step.alteration);
                    self.text(
                        "degree-type",
                        if step.leaves_out { "subtract" } else { "add" },
                    );
                    self.close("degree");
                }
            }
            None => {
                // The standard wants a root even where there is no chord; an empty text keeps it off the page.
                self.open("root", &[]);
                let _ = self
                    .xml
                    .create_element("root-step")
                    .with_attribute(("text", ""))
                    .write_text_content(BytesText::new("C"));
                self.close("root");
                let kind = self
                    .xml
                    .create_element("kind")
                    .with_attribute(("text", "N.C."));
                let _ = kind.write_text_content(BytesText::new("none"));
            }
        }
        if offset > 0 {
            self.number("offset", offset);
        }
        self.close("harmony");
    }

    fn write_class(&mut self, name: &str, class: PitchClass) {
        self.open(name, &[]);
        self.text(&format!("{name}-step"), &class.letter().to_string());
        if class.alteration() != 0 {
            self.number(&format!("{name}-alter"), class.alteration());
        }
        self.close(name);
    }

    fn write_piece(&mut self, piece: &Piece, staff: &str) {
        self.open("note", &[]);
        match piece.note {
            Some(note) => self.write_pitch(self.melody.notes()[note].pitch),
            None => self.empty("rest", &[]),
        }
        self.number(
            "duration",
            self.ticks(piece.end()) - self.ticks(piece.onset),
        );
        if piece.is_tied {
            self.empty("tie", &[("type", "stop")]);
        }
        if piece.ties_on {
            self.empty("tie", &[("type", "start")]);
        }
        self.text("voice", if staff == STAFF { "1" } else { "5" });
        self.write_value(piece.duration);
        if self.has_tablature() {
            self.text("staff", staff);
        }
        self.write_notations(piece, staff);
        self.close("note");
    }

    fn write_pitch(&mut self, pitch: Pitch) {
        self.open("pitch", &[]);
        self.text("step", &pitch.letter().to_string());
        if pitch.alteration() != 0 {
            self.number("alter", pitch.alteration());
        }
        self.number("octave", pitch.octave().max(0));
        self.close("pitch");
    }

    /// The printed value, where one note can show it: dots and the tuplets of three, five and seven.
    fn write_value(&mut self, duration: Quarters) {
        let Some((name, dots, tuplet)) = value(duration) else {
            return;
        };
        self.text("type", name);
        for _ in 0..dots {
            self.empty("dot", &[]);
        }
        if let Some((actual, normal)) = tuplet {
            self.open("time-modification", &[]);
            self.number("actual-notes", actual);
            self.number("normal-notes", normal);
            self.close("time-modification");
        }
    }

    fn write_notations(&mut self, piece: &Piece, staff: &str) {
        let fingered = piece
            .note
            .filter(|_| staff == TABLATURE)
            .and_then(|note| *self.places.get(note)?);
        if !piece.is_tied && !piece.ties_on && fingered.is_none() {
            return;
        }
        self.open("notations", &[]);
        if piece.is_tied {
            self.empty("tied", &[("type", "stop")]);
        }
        if piece.ties_on {
            self.empty("tied", &[("type", "start")]);
        }
        if let Some(Fingered { place, finger }) = fingered {
            self.open("technical", &[]);
            if let Some(finger) = finger.filter(|_| !piece.is_tied) {
                self.number("fingering", finger);
            }
            self.number("string", StringNumber::get(place.string));
            self.number("fret", place.fret);
            self.close("technical");
        }
        self.close("notations");
    }
}

/// A number with at most six decimals, as the schema's decimals are written.
fn decimal(value: Quarters) -> String {
    let millionths = (value * Quarters::from(1_000_000)).round().to_integer();
    let text = format!("{}.{:06}", millionths / 1_000_000, millionths % 1_000_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A type, its dots, and how many notes stand in the time of how many.
type Value = (&'static str, u32, Option<(i64, i64)>);

fn value(duration: Quarters) -> Option<Value> {
    const NAMES: [&str; 9] = [
        "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th",
    ];
    [None, Some((3, 2)), Some((5, 4)), Some((7, 4))]
        .into_iter()
        .find_map(|tuplet| {
            let plain = duration
                * tuplet.map_or(Quarters::from(1), |(actual, normal)| {
                    Quarters::new(actual, normal)
                });
            (0..3u32).find_map(|dots| {
                let undotted = plain / Quarters::new((2 << dots) - 1, 1 << dots);
                let index =
                    (0..NAMES.len()).find(|power| undotted == Quarters::new(8, 1 << power))?;
                Some((NAMES[index], dots, tuplet))
            })
        })
}
