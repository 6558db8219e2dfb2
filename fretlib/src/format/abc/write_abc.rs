//! Writing ABC.

use std::fmt::Write;

use crate::format::bar_line::write_bar_line;
use crate::format::lyric_line::{SungNote, write_under};
use crate::melody::{
    BackTo, FormSign, Jump, Measure, MeasurePart, Melody, Meter, NoteValue, Quarters, Tempo,
    Tuplet, Until,
};
use crate::neck::Finger;
use crate::notation::beam::beams;
use crate::notation::multi_bar_rest::multi_bar_rests;
use crate::notation::rhythm::write_down_cut_at;
use crate::theory::{Key, Letter, Mode, Pitch};

const BARS_A_LINE: usize = 4;
/// The most notes and rests of a tuplet, as many as are read.
const LONGEST_TUPLET: usize = 99;

/// Writes a melody as a tune in ABC 2.1, in eighth notes, in the lines of the source or four bars to a line.
///
/// A note during which a chord changes is written as tied notes, and so is one that crosses the edge of a tuplet; the
/// reader joins them again. Phrases are not written. Lengths that fit neither note values nor tuplets are written as
/// fractions.
///
/// ```
/// use fretlib::format::abc::{AbcOptions, read, write};
///
/// let tune = "X:1\nT:Jetty at Dusk\nL:1/8\nM:3/4\nK:Em\nB4 G2 | F6 |]\n";
/// let melody = read(tune.as_bytes(), &AbcOptions::default())?.melody;
/// assert_eq!(write(&melody), "X:1\nT:Jetty at Dusk\nM:3/4\nL:1/8\nK:Emin\nB4 G2 | F6 |]\n");
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
pub fn write(melody: &Melody) -> String {
    write_fingered(melody, &[])
}

/// Like [`write()`], with the fingers that stop the notes, one entry a note: `!1!` to `!4!`; open strings have none.
///
/// ABC has no place for strings and frets. Source: ABC 2.1, 4.14, "!0! - !5!" fingerings (from memory).
///
/// ```
/// use fretlib::format::abc::{AbcOptions, read, write_fingered};
/// use fretlib::neck::Finger;
///
/// let melody = read(b"X:1\nL:1/8\nM:3/4\nK:Em\nB4 G2 | F6 |]\n", &AbcOptions::default())?.melody;
/// let text = write_fingered(&melody, &[None, Some(Finger::First), Some(Finger::Second)]);
/// assert!(text.ends_with("B4 !1!G2 | !2!F6 |]\n"), "{text}");
/// assert_eq!(read(text.as_bytes(), &AbcOptions::default())?.melody, melody);
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
pub fn write_fingered(melody: &Melody, fingers: &[Option<Finger>]) -> String {
    let start = Quarters::from(0);
    let mut out = String::from("X:1\n");
    // An unescaped backslash or per cent sign would be misread.
    let text = |text: &str| text.replace('\\', "\\\\").replace('%', "\\%");
    field(&mut out, 'T', &text(melody.title()));
    let credits = [
        ('C', melody.composer()),
        ('S', melody.source()),
        ('Z', melody.transcriber()),
    ];
    for (name, credit) in credits {
        if let Some(credit) = credit {
            field(&mut out, name, &text(credit));
        }
    }
    if let Some(order) = melody.form().part_order() {
        field(&mut out, 'P', &order.to_string());
    }
    if let Some(meter) = melody.meters().at(start) {
        field(&mut out, 'M', &meter_field(*meter));
    }
    field(&mut out, 'L', "1/8");
    let tempo = melody.tempos().at(start).map(|tempo| tempo_field(*tempo));
    let feel = melody.feel().map(|feel| format!("\"{feel}\""));
    let beside: Vec<String> = feel.into_iter().chain(tempo).collect();
    if !beside.is_empty() {
        field(&mut out, 'Q', &beside.join(" "));
    }
    field(&mut out, 'K', &key_field(melody.keys().at(start).copied()));
    let mut writer = AbcBody {
        melody,
        fingers,
        key: melody.keys().at(start).copied(),
        altered: Vec::new(),
        tuplets: Vec::new(),
        beamed: Vec::new(),
        out,
    };
    let mut cuts = writer.cuts();
    cuts.sort_unstable();
    let mut symbols: Vec<Quarters> = Vec::new();
    let bars = write_down_cut_at(melody, &cuts);
    let rests = multi_bar_rests(melody, &bars, &[]);
    let long_rests: Vec<(Quarters, Quarters)> = rests
        .into_iter()
        .map(|run| (bars[run.start].onset, bars[run.end - 1].onset))
        .collect();
    for bar in &bars {
        symbols.extend(bar.symbols.iter().map(|symbol| bar.onset + symbol.onset));
        for run in beams(bar) {
            let after_first = &bar.symbols[run.start + 1..run.end];
            let onsets = after_first.iter().map(|symbol| bar.onset + symbol.onset);
            writer.beamed.extend(onsets);
        }
        let mut sizes = vec![0; bar.tuplets.len()];
        for tuplet in bar.symbols.iter().filter_map(|symbol| symbol.tuplet) {
            sizes[tuplet] += 1;
        }
        let readable = bar.tuplets.iter().zip(sizes);
        let readable = readable.filter(|(_, size)| *size <= LONGEST_TUPLET);
        writer.tuplets.extend(readable.map(|(tuplet, _)| Tuplet {
            start: bar.onset + tuplet.start,
            end: bar.onset + tuplet.end,
            ..*tuplet
        }));
    }
    let edges = writer.tuplets.iter().flat_map(|it| [it.start, it.end]);
    cuts.extend(edges);
    let values = cuts_into_values(melody, &cuts, &writer.tuplets, &symbols);
    cuts.extend(values);
    cuts.sort_unstable();
    let measures = melody.measures(&cuts);
    let mut sung: Vec<SungNote> = Vec::new();
    let mut in_line = 0;
    let is_one_rest = |ahead: &Measure, next: &Measure| {
        let after = long_rests.partition_point(|it| it.0 <= ahead.bar.onset);
        let rest = after.checked_sub(1).map(|index| long_rests[index]);
        rest.is_some_and(|(_, last)| next.bar.onset <= last)
    };
    for bars in measures.chunk_by(is_one_rest) {
        let [measure, ..] = bars else { continue };
        let end = bars.last().map_or(measure.bar.end, |last| last.bar.end);
        let is_last = end == melody.length();
        writer.write_bars(bars, end);
        in_line += 1;
        sung.extend(measure.parts.iter().filter_map(|part| {
            part.note.map(|_| SungNote {
                onset: part.onset,
                is_tied: part.tied_back,
            })
        }));
        let line_ends = match melody.line_breaks() {
            [] => in_line == BARS_A_LINE,
            breaks => breaks.binary_search(&end).is_ok(),
        };
        let line = write_bar_line(melody.form().at(end));
        let line = if is_last && line == "|" { "|]" } else { &line };
        let after = if is_last || line_ends { '\n' } else { ' ' };
        writer.out.push(' ');
        writer.out.push_str(line);
        writer.out.push(after);
        if after == '\n' {
            in_line = 0;
            let escaped = |line: String| line.replace('%', "\\%");
            for line in lines_under(melody, &std::mem::take(&mut sung)) {
                field(&mut writer.out, 'w', &escaped(line));
            }
        }
    }
    for line in melody.words() {
        field(&mut writer.out, 'W', &text(line));
    }
    writer.out
}

/// Where notes are cut that no single value shows, as five eighths: they are written as tied notes.
fn cuts_into_values(
    melody: &Melody,
    cuts: &[Quarters],
    tuplets: &[Tuplet],
    symbols: &[Quarters],
) -> Vec<Quarters> {
    let in_tuplet = |at: Quarters| {
        let next = tuplets.partition_point(|it| it.end <= at);
        tuplets.get(next).is_some_and(|it| it.start <= at)
    };
    let mut values = Vec::new();
    let measures = melody.measures(cuts);
    for part in measures.iter().flat_map(|measure| &measure.parts) {
        let has_value = NoteValue::of(part.duration()).is_some();
        if part.note.is_none() || has_value || in_tuplet(part.onset) {
            continue;
        }
        let end = part.onset + part.duration();
        let first = symbols.partition_point(|at| *at <= part.onset);
        let inside = symbols[first..].iter().take_while(|at| **at < end);
        values.extend(inside);
    }
    values
}

/// The words under a line of notes, one line a verse; where others have words, an empty one says that these have none.
fn lines_under(melody: &Melody, notes: &[SungNote]) -> Vec<String> {
    let lyrics = melody.lyrics();
    let most = lyrics.iter().map(|it| it.verse).max().unwrap_or(0);
    let verses: Vec<Option<String>> = (1..=most)
        .map(|verse| write_under(notes, verse, lyrics))
        .collect();
    let last = verses.iter().rposition(Option::is_some).unwrap_or(0);
    let verses = verses.into_iter().take(last + 1);
    verses.map(Option::unwrap_or_default).collect()
}

/// How a sign of the form is written among the notes. Source: ABC 2.1, 4.14 (from memory); signs without a name there
/// become annotations.
fn mark_of_form(sign: FormSign) -> Option<String> {
    Some(match sign {
        FormSign::Segno => "!segno!".to_owned(),
        FormSign::Coda => "!coda!".to_owned(),
        FormSign::ToCoda => "!dacoda!".to_owned(),
        FormSign::Fine => "!fine!".to_owned(),
        FormSign::Jump(
            jump @ Jump {
                with_repeats: true, ..
            },
        ) => format!("\"^{jump}\""),
        FormSign::Jump(jump) => {
            let start = match jump.back_to {
                BackTo::Start => "D.C.",
                BackTo::Segno => "D.S.",
            };
            let end = match jump.until {
                Until::Unsaid => "",
                Until::Fine => "alfine",
                Until::Coda => "alcoda",
            };
            format!("!{start}{end}!")
        }
        _ => return None,
    })
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
    let (unit, count) = (tempo.unit() / Quarters::from(4), tempo.count());
    // A count that has no end in decimals is one of smaller notes.
    let (unit, count) = match decimal(count) {
        Some(count) => (unit, count),
        None => (
            unit / Quarters::from(count.denom()),
            count.numer().to_string(),
        ),
    };
    format!("{}/{}={count}", unit.numer(), unit.denom())
}

/// A count in at most three decimals; `None` when it has more.
fn decimal(count: Quarters) -> Option<String> {
    if count.is_integer() {
        return Some(count.to_string());
    }
    let thousandths = count * Quarters::from(1000);
    let text = || format!("{:.3}", count.to_f64());
    thousandths
        .is_integer()
        .then(|| text().trim_end_matches('0').to_owned())
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

struct AbcBody<'m> {
    melody: &'m Melody,
    /// By note; none when there are no more.
    fingers: &'m [Option<Finger>],
    key: Option<Key>,
    /// Letters with an accidental earlier in this bar.
    altered: Vec<Letter>,
    /// From the start of the tune.
    tuplets: Vec<Tuplet>,
    /// Onsets of the notes that share a beam with the previous note.
    beamed: Vec<Quarters>,
    out: String,
}

impl AbcBody<'_> {
    /// Times at which something is written between notes.
    fn cuts(&self) -> Vec<Quarters> {
        let melody = self.melody;
        let mut cuts: Vec<Quarters> = melody.chords().iter().map(|(onset, _)| onset).collect();
        cuts.extend(melody.keys().iter().map(|(onset, _)| onset));
        cuts.extend(melody.meters().iter().map(|(onset, _)| onset));
        cuts.extend(melody.tempos().iter().map(|(onset, _)| onset));
        cuts.extend(melody.sections().iter().map(|(onset, _)| onset));
        cuts.extend(melody.form().signs().iter().map(|(onset, _)| *onset));
        cuts
    }

    /// A bar, or the bars of a long rest, which ends at `end`.
    fn write_bars(&mut self, bars: &[Measure], end: Quarters) {
        let [measure, ..] = bars else { return };
        self.altered.clear();
        let form = self.melody.form();
        let begins_repeat = |(_, sign): &(Quarters, FormSign)| *sign == FormSign::RepeatStart;
        if measure.bar.onset.is_zero() && form.at(measure.bar.onset).iter().any(begins_repeat) {
            self.out.push_str("|:");
        }
        for (index, piece) in measure.parts.iter().enumerate() {
            self.write_changes(piece.onset);
            // Notes without a space between them are beamed.
            let is_beamed = self.beamed.binary_search(&piece.onset).is_ok();
            if index > 0 && !self.out.ends_with([' ', '\n']) && !is_beamed {
                self.out.push(' ');
            }
            let begins = form.at(piece.onset).iter().filter(|(_, sign)| !sign.ends());
            for (_, sign) in begins.clone() {
                if let FormSign::Ending(numbers) = sign {
                    // Writing to a string does not fail.
                    let _ = write!(self.out, "[{numbers} ");
                }
            }
            let tuplet = self.tuplet_at(piece.onset);
            if let Some(Tuplet { count, time_of, .. }) = tuplet.filter(|it| it.start == piece.onset)
            {
                let rest = measure.parts[index..].iter();
                let inside = rest.take_while(|piece| tuplet.is_some_and(|it| piece.onset < it.end));
                // Writing to a string does not fail.
                let _ = match (count, time_of, inside.count()) {
                    (3, 2, 3) => write!(self.out, "(3"),
                    (count, time_of, pieces) => write!(self.out, "({count}:{time_of}:{pieces}"),
                };
            }
            if let Some(chord) = self.melody.chords().on(piece.onset) {
                let symbol = chord.map_or_else(|| "N.C.".into(), |chord| chord.to_string());
                let _ = write!(self.out, "\"{symbol}\"");
            }
            let is_last = index + 1 == measure.parts.len();
            let ends = form
                .at(end)
                .iter()
                .filter(|(_, sign)| is_last && sign.ends());
            for (_, sign) in begins.chain(ends) {
                self.out.push_str(&mark_of_form(*sign).unwrap_or_default());
            }
            let written = tuplet.map_or(piece.duration(), |it| {
                piece.duration() * it.count / it.time_of
            });
            match bars.len() {
                1 => self.write_piece(piece, written),
                bars => self.out.push_str(&format!("Z{bars}")),
            }
        }
        if measure.parts.is_empty() {
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

    fn tuplet_at(&self, onset: Quarters) -> Option<Tuplet> {
        let next = self.tuplets.partition_point(|it| it.end <= onset);
        let tuplet = self.tuplets.get(next).copied();
        tuplet.filter(|it| it.start <= onset)
    }

    /// A note or rest with its written length, which differs from its duration in a tuplet.
    fn write_piece(&mut self, piece: &MeasurePart, written: Quarters) {
        match piece.note {
            Some(note) => {
                let begins = self.melody.notes()[note].onset == piece.onset;
                if let Some(Some(finger)) = self.fingers.get(note).filter(|_| begins) {
                    let _ = write!(self.out, "!{finger}!");
                }
                self.write_pitch(self.melody.notes()[note].pitch);
            }
            None => self.out.push('z'),
        }
        let eighths = written * Quarters::from(2);
        if eighths.numer() != 1 {
            let _ = write!(self.out, "{}", eighths.numer());
        }
        if eighths.denom() != 1 {
            let _ = write!(self.out, "/{}", eighths.denom());
        }
        if piece.tied_on {
            self.out.push('-');
        }
    }

    /// An accidental is written when the note differs from the key, and again when its letter had one in this bar,
    /// since programs disagree on whether it holds in other octaves.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc::{AbcOptions, read};

    /// The music written for a bar; it must read back the same.
    fn check(fields: &str, music: &str, expected: &str) {
        let tune = format!("X:1\nT:t\nL:1/8\n{fields}\n{music}\n");
        let melody = read(tune.as_bytes(), &AbcOptions::default())
            .unwrap()
            .melody;
        let text = write(&melody);
        assert_eq!(text.lines().last().unwrap(), expected, "{music}");
        let again = read(text.as_bytes(), &AbcOptions::default())
            .unwrap()
            .melody;
        assert_eq!(again, melody, "{music}");
    }

    // Programs do not print lengths in thirds properly; tuplets are the standard way. Source: ABC 2.1, 4.13 (from
    // memory).
    #[test]
    fn tuplets_are_written_as_tuplets() {
        check("M:2/4\nK:C", "(3CDE F2|", "(3CDE F2 |]");
        check("M:2/4\nK:C", "(3:2:2C2D E2|", "(3:2:2C2 D E2 |]");
        check(
            "M:2/4\nK:C",
            "(5:4:5C/D/E/F/G/ A2|",
            "(5:4:5C/2D/2E/2F/2G/2 A2 |]",
        );
        check("M:4/4\nK:C", "C3 (3DEF G3|", "C3 (3DEF G3 |]");
        check(
            "M:2/4\nK:C",
            "\"Am\"(3C\"G\"zD E2|",
            "(3\"Am\"C \"G\"z D E2 |]",
        );
        // A note that crosses the end of its tuplet is written as two, tied.
        check("M:3/4\nK:C", "C2 (3DEF- F2|", "C2 (3DEF- F2 |]");
    }

    // Common practice: notes without a space are beamed, by the meter.
    #[test]
    fn spaces_separate_the_beams() {
        check("M:6/8\nK:C", "AB cdef|", "ABc def |]");
        check("M:4/4\nK:C", "AB cd e3 f|", "ABcd e3 f |]");
    }

    quickcheck::quickcheck! {
        fn any_rhythm_is_read_back_as_long(picks: Vec<u8>) -> bool {
            const PARTS: [(i64, i64); 12] = [
                (1, 2), (1, 3), (1, 4), (1, 6), (1, 5), (2, 3), (1, 1), (3, 4), (5, 2), (1, 12), (3, 2), (4, 3),
            ];
            let mut draft = crate::melody::Draft::default();
            const METERS: [&str; 5] = ["4/4", "6/8", "3/4", "2/2", "5/8"];
            draft.meters.set(Quarters::ZERO, METERS[picks.len() % METERS.len()].parse().ok());
            draft.note("E4".parse().unwrap(), Quarters::new(1, 3)).unwrap();
            for pick in picks {
                let (numer, denom) = PARTS[usize::from(pick) % PARTS.len()];
                let duration = Quarters::new(numer, denom);
                match pick / 12 % 5 {
                    0 => draft.rest(duration).unwrap(),
                    _ => draft.note("G4".parse().unwrap(), duration).unwrap(),
                }
            }
            let melody = Melody::new(draft).unwrap();
            let text = write(&melody);
            let again = read(text.as_bytes(), &AbcOptions::default()).unwrap().melody;
            assert_eq!(again.notes(), melody.notes(), "{text}");
            again.bars() == melody.bars()
        }
    }

    // No note lasts five eighths.
    #[test]
    fn notes_without_a_value_are_tied() {
        check("M:4/4\nK:C", "C5 D3|", "C4- C D3 |]");
        check("M:5/8\nK:C", "C5|", "C4- C |]");
    }

    #[test]
    fn lengths_off_every_grid_are_fractions() {
        check("M:none\nK:C", "C8/17D2|", "C8/17 D2 |]");
    }
}
