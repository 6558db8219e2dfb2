//! Writing ABC.

use std::fmt::Write;

use super::measures::{Measure, Piece, measures};
use crate::melody::{Melody, Meter, Quarters, Tempo};
use crate::theory::{Key, Letter, Mode, Pitch};

const BARS_A_LINE: usize = 4;

/// Writes a melody as a tune in ABC 2.1, in eighth notes, four bars to a line.
///
/// A note over which a chord changes is written as tied notes, which are one note again when they are read. ABC as it is
/// written here has no place for phrases; lengths that are no multiple of a plain note are written as fractions.
///
/// ```
/// use fretlib::format::abc::{Options, read, write};
///
/// let tune = "X:1\nT:Jetty at Dusk\nL:1/8\nM:3/4\nK:Em\nB4 G2 | F6 |]\n";
/// let melody = read(tune.as_bytes(), &Options::default())?.melody;
/// assert_eq!(write(&melody), "X:1\nT:Jetty at Dusk\nM:3/4\nL:1/8\nK:Emin\nB4 G2 | F6 |]\n");
/// # Ok::<(), fretlib::format::Unreadable>(())
/// ```
pub fn write(melody: &Melody) -> String {
    let start = Quarters::from(0);
    let mut out = String::from("X:1\n");
    // A backslash or a per cent sign would be read as something else.
    let text = |text: &str| text.replace('\\', "\\\\").replace('%', "\\%");
    field(&mut out, 'T', &text(melody.title()));
    if let Some(composer) = melody.composer() {
        field(&mut out, 'C', &text(composer));
    }
    if let Some(meter) = melody.meters().at(start) {
        field(&mut out, 'M', &meter_field(*meter));
    }
    field(&mut out, 'L', "1/8");
    if let Some(tempo) = melody.tempos().at(start) {
        field(&mut out, 'Q', &tempo_field(*tempo));
    }
    field(&mut out, 'K', &key_field(melody.keys().at(start).copied()));
    let mut writer = Body {
        melody,
        key: melody.keys().at(start).copied(),
        altered: Vec::new(),
        out,
    };
    let measures = measures(melody, &writer.cuts());
    for (index, measure) in measures.iter().enumerate() {
        writer.write_measure(measure);
        let is_last = index + 1 == measures.len();
        writer
            .out
            .push_str(match (is_last, (index + 1) % BARS_A_LINE) {
                (true, _) => " |]\n",
                (false, 0) => " |\n",
                (false, _) => " | ",
            });
    }
    writer.out
}

fn field(out: &mut String, name: char, value: &str) {
    out.push(name);
    out.push(':');
    out.push_str(value);
    out.push('\n');
}

fn meter_field(meter: Option<Meter>) -> String {
    meter.map_or_else(|| "none".into(), |meter| meter.to_string())
}

fn tempo_field(tempo: Tempo) -> String {
    // A count of whole notes a minute: 2/3 of a quarter note a minute is a quarter of 1/6.
    let quarters = tempo.quarters_per_minute();
    format!("1/{}={}", 4 * quarters.denom(), quarters.numer())
}

fn key_field(key: Option<Key>) -> String {
    let Some(key) = key else { return "none".into() };
    let mode = match key.mode() {
        Mode::Major => "",
        Mode::Minor => "min",
        Mode::Dorian => "dor",
        Mode::Phrygian => "phr",
        Mode::Lydian => "lyd",
        Mode::Mixolydian => "mix",
        Mode::Locrian => "loc",
    };
    format!("{}{mode}", key.tonic())
}

struct Body<'m> {
    melody: &'m Melody,
    key: Option<Key>,
    /// Letters that have had an accidental in this bar.
    altered: Vec<Letter>,
    out: String,
}

impl Body<'_> {
    /// Where something stands between notes.
    fn cuts(&self) -> Vec<Quarters> {
        let melody = self.melody;
        let mut cuts: Vec<Quarters> = melody.chords().iter().map(|(onset, _)| onset).collect();
        cuts.extend(melody.keys().iter().map(|(onset, _)| onset));
        cuts.extend(melody.meters().iter().map(|(onset, _)| onset));
        cuts.extend(melody.tempos().iter().map(|(onset, _)| onset));
        cuts.extend(melody.sections().iter().map(|(onset, _)| onset));
        cuts
    }

    fn write_measure(&mut self, measure: &Measure) {
        self.altered.clear();
        for (index, piece) in measure.pieces.iter().enumerate() {
            self.write_changes(piece.onset);
            if index > 0
                && !self.out.ends_with([' ', '\n'])
                && (piece.onset - measure.onset).is_integer()
            {
                self.out.push(' ');
            }
            if let Some(chord) = self.melody.chords().on(piece.onset) {
                let symbol = chord.map_or_else(|| "N.C.".into(), |chord| chord.to_string());
                // Writing to a string does not fail.
                let _ = write!(self.out, "\"{symbol}\"");
            }
            self.write_piece(piece);
        }
        if measure.pieces.is_empty() {
            self.out.push('x');
        }
    }

    fn write_changes(&mut self, onset: Quarters) {
        let melody = self.melody;
        let mut inline = String::new();
        if onset > Quarters::from(0) {
            if let Some(meter) = melody.meters().on(onset) {
                inline += &format!("[M:{}]", meter_field(*meter));
            }
            if let Some(tempo) = melody.tempos().on(onset) {
                inline += &format!("[Q:{}]", tempo_field(*tempo));
            }
            if let Some(key) = melody.keys().on(onset) {
                self.key = Some(*key);
                inline += &format!("[K:{}]", key_field(self.key));
            }
        }
        if let Some(name) = melody.sections().on(onset) {
            inline += &format!("[P:{}]", name.replace(['[', ']'], ""));
        }
        self.out += &inline;
    }

    fn write_piece(&mut self, piece: &Piece) {
        match piece.note {
            Some(note) => self.write_pitch(self.melody.notes()[note].pitch),
            None => self.out.push('z'),
        }
        let eighths = piece.duration * Quarters::from(2);
        if *eighths.numer() != 1 {
            let _ = write!(self.out, "{}", eighths.numer());
        }
        if *eighths.denom() != 1 {
            let _ = write!(self.out, "/{}", eighths.denom());
        }
        if piece.ties_on {
            self.out.push('-');
        }
    }

    /// An accidental is written where the key has another, and again wherever its letter had one in this bar: programs
    /// do not agree on whether one holds for the other octaves.
    fn write_pitch(&mut self, pitch: Pitch) {
        let by_key = self.key.map_or(0, |key| {
            let of_letter = key
                .scale()
                .into_iter()
                .find(|class| class.letter() == pitch.letter());
            of_letter.map_or(0, |class| class.alteration())
        });
        if pitch.alteration() != by_key || self.altered.contains(&pitch.letter()) {
            self.out.push_str(match pitch.alteration() {
                ..=-2 => "__",
                -1 => "_",
                0 => "=",
                1 => "^",
                2.. => "^^",
            });
            self.altered.push(pitch.letter());
        }
        let letter = pitch.letter().to_string();
        let octave = pitch.octave();
        self.out.push_str(&if octave >= 5 {
            letter.to_lowercase()
        } else {
            letter
        });
        let mark = if octave >= 5 { "'" } else { "," };
        let marks = if octave >= 5 { octave - 5 } else { 4 - octave };
        self.out.push_str(&mark.repeat(marks.unsigned_abs().into()));
    }
}
