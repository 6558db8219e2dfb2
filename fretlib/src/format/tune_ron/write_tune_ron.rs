//! Writing a tune.

use std::fmt::Write;

use super::chords::chord_offsets;
use super::value;
use crate::format::bar_line::write_bar_line;
use crate::format::lyric_line::{SungNote, write_under};
use crate::melody::{Bar, FormSign, Melody, Meter, NoteValue, Quarters, Syllable, Tempo};
use crate::theory::Chord;

/// Bars to a line, as on lead sheets.
const BARS_A_LINE: usize = 4;

/// Writes a melody so that [`super::read`] gives the same one again.
///
/// Square brackets in the name of a section become round ones, since they delimit words. Changes after the end of the
/// tune are left out. Bars of an excerpt are counted from 1 again.
///
/// ```
/// use fretlib::format::tune_ron;
///
/// let text = r#"(
///     title: "Jetty at Dusk",
///     key: "E minor",
///     meter: "3/4",
///     lines: [
///         (
///             chords: "Em       | B7",
///             notes:  "B4 h G4 q | F#4 h.",
///         ),
///     ],
/// )
/// "#;
/// let melody = tune_ron::read(text.as_bytes())?.melody;
/// let written = tune_ron::write(&melody);
/// assert!(written.contains(r#"notes:  "B4 h G4 q | F#4 h.","#));
/// assert_eq!(tune_ron::read(written.as_bytes())?.melody, melody);
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
pub fn write(melody: &Melody) -> String {
    let mut out = String::from("(\n");
    field(&mut out, "title", &quoted(melody.title()));
    let credits = [
        ("composer", melody.composer()),
        ("source", melody.source()),
        ("transcriber", melody.transcriber()),
    ];
    for (name, credit) in credits {
        if let Some(credit) = credit {
            field(&mut out, name, &quoted(credit));
        }
    }
    let start = Quarters::from(0);
    if let Some(key) = melody.keys().at(start) {
        field(&mut out, "key", &quoted(&key.to_string()));
    }
    if let Some(meter) = melody.meters().at(start) {
        field(&mut out, "meter", &quoted(&value::write_meter(*meter)));
    }
    if let Some(tempo) = melody.tempos().at(start) {
        let text = write_tempo(*tempo);
        let text = if is_number(*tempo) {
            text
        } else {
            quoted(&text)
        };
        field(&mut out, "tempo", &text);
    }
    if let Some(feel) = melody.feel() {
        field(&mut out, "feel", &quoted(&feel.to_string()));
    }
    if let Some(order) = melody.form().part_order() {
        field(&mut out, "parts", &quoted(&order.to_string()));
    }
    out.push_str("    lines: [\n");
    for line in lines(bars(melody), melody) {
        write_line(&mut out, &line, melody);
    }
    out.push_str("    ],\n");
    if !melody.words().is_empty() {
        out.push_str("    words: [\n");
        for line in melody.words() {
            let _ = writeln!(out, "        {},", quoted(line));
        }
        out.push_str("    ],\n");
    }
    out.push_str(")\n");
    out
}

/// Whether a number says it: whole quarter notes a minute.
fn is_number(tempo: Tempo) -> bool {
    tempo.unit() == Quarters::ONE && tempo.count().is_integer()
}

fn write_tempo(tempo: Tempo) -> String {
    match is_number(tempo) {
        true => tempo.count().to_string(),
        false => tempo.to_string(),
    }
}

fn field(out: &mut String, name: &str, value: &str) {
    // Writing to a string cannot fail.
    let _ = writeln!(out, "    {name}: {value},");
}

/// Text between quotes; names hold no control characters.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// Music between quotes, which is read without backslashes.
fn quoted_as_it_is(text: &str) -> String {
    if !text.contains(['"', '\\']) {
        return format!("\"{text}\"");
    }
    let mut fence = "#".to_owned();
    while text.contains(&format!("\"{fence}")) {
        fence.push('#');
    }
    format!("r{fence}\"{text}\"{fence}")
}

/// A written bar.
struct BarText {
    chords: String,
    notes: BarWords,
    /// The notes that begin in it.
    sung: Vec<SungNote>,
    /// Whether a line of the sheet begins with it, if the tune tells.
    begins_line: bool,
    /// The bar line that ends it.
    bar_line: String,
}

/// The bars by the lines of the source; else four to a line, with a new line for each section and the pickup before the
/// first four.
fn lines(bars: Vec<BarText>, melody: &Melody) -> Vec<Vec<BarText>> {
    let is_free = melody.line_breaks().is_empty();
    let mut lines: Vec<Vec<BarText>> = Vec::new();
    let mut room = 0;
    for bar in bars {
        let is_full = is_free && room == 0;
        let breaks =
            bar.begins_line && (!is_free || lines.last().is_some_and(|line| line.len() > 1));
        if lines.is_empty() || is_full || breaks {
            lines.push(Vec::new());
            room = BARS_A_LINE;
        }
        room -= usize::from(is_free && !bar.notes.is_pickup);
        if let Some(line) = lines.last_mut() {
            line.push(bar);
        }
    }
    lines
}

fn write_line(out: &mut String, line: &[BarText], melody: &Melody) {
    let mut chords = String::new();
    let mut notes = String::new();
    let has_chords = line.iter().any(|bar| bar.chords != "-");
    let mut carried = None;
    for (index, bar) in line.iter().enumerate() {
        let bar_notes = bar.notes.text(&mut carried);
        let is_last = index + 1 == line.len();
        let width = match has_chords && !is_last {
            true => bar_notes.chars().count().max(bar.chords.chars().count()),
            false => 0,
        };
        let line_end = match (is_last, bar.bar_line.as_str()) {
            (true, "|") => String::new(),
            (true, sign) => format!(" {sign}"),
            (false, sign) => format!(" {sign} "),
        };
        let _ = write!(chords, "{:width$}{line_end}", bar.chords);
        let _ = write!(notes, "{bar_notes:width$}{line_end}");
    }
    out.push_str("        (\n");
    if has_chords {
        let _ = writeln!(out, "            chords: {},", quoted_as_it_is(&chords));
    }
    let _ = writeln!(out, "            notes:  {},", quoted_as_it_is(&notes));
    write_lyrics(out, line, melody);
    out.push_str("        ),\n");
}

/// The verses under the notes of a line.
fn write_lyrics(out: &mut String, line: &[BarText], melody: &Melody) {
    let notes: Vec<SungNote> = line
        .iter()
        .flat_map(|bar| bar.sung.iter().copied())
        .collect();
    let verses: Vec<Option<String>> = (1..=Syllable::MOST_VERSES)
        .map(|verse| write_under(&notes, verse, melody.lyrics()))
        .collect();
    let Some(last) = verses.iter().rposition(Option::is_some) else {
        return;
    };
    out.push_str("            lyrics: [\n");
    for verse in verses.into_iter().take(last + 1) {
        let verse = quoted_as_it_is(&verse.unwrap_or_default());
        let _ = writeln!(out, "                {verse},");
    }
    out.push_str("            ],\n");
}

/// The words of a bar of notes.
#[derive(Default)]
struct BarWords {
    words: Vec<Word>,
    is_pickup: bool,
}

enum Word {
    Breath,
    /// A word without a value: `[section A]`, `[1`, `|:`.
    Sign(String),
    /// A note, a rest or a tie, and how long it lasts.
    Sound(String, Quarters),
}

impl BarWords {
    /// The text, with each value that differs from the one carried on.
    fn text(&self, carried: &mut Option<Quarters>) -> String {
        let mut text = String::new();
        for word in &self.words {
            if !text.is_empty() && !matches!(word, Word::Breath) {
                text.push(' ');
            }
            let _ = match word {
                Word::Breath => write!(text, ","),
                Word::Sign(sign) => write!(text, "{sign}"),
                Word::Sound(sound, length) if *carried == Some(*length) => write!(text, "{sound}"),
                Word::Sound(sound, length) => {
                    *carried = Some(*length);
                    write!(text, "{sound} {}", NoteValue::write_duration(*length))
                }
            };
        }
        text
    }
}

/// A word between the notes.
enum BetweenNotes {
    Breath,
    Mark(String),
}

/// The signs before what begins at their time, in order.
fn signs(melody: &Melody) -> Vec<(Quarters, BetweenNotes)> {
    let mark = |kind: &str, text: String| BetweenNotes::Mark(format!("[{kind} {text}]"));
    let is_later = |onset: &Quarters| onset.is_positive();
    let mut signs: Vec<(Quarters, BetweenNotes)> = melody
        .phrase_starts()
        .iter()
        .map(|onset| (*onset, BetweenNotes::Breath))
        .collect();
    let begins = melody
        .form()
        .signs()
        .iter()
        .filter(|(_, sign)| !sign.ends());
    signs.extend(
        begins.filter_map(|(onset, sign)| Some((*onset, BetweenNotes::Mark(mark_of_form(*sign)?)))),
    );
    let sections = melody.sections().iter();
    signs.extend(sections.map(|(onset, name)| {
        (
            onset,
            mark("section", name.replace('[', "(").replace(']', ")")),
        )
    }));
    let keys = melody.keys().iter().filter(|it| is_later(&it.0));
    signs.extend(keys.map(|(onset, key)| (onset, mark("key", key.to_string()))));
    let meters = melody.meters().iter().filter(|it| is_later(&it.0));
    signs.extend(meters.map(|(onset, meter)| (onset, mark("meter", value::write_meter(*meter)))));
    let tempos = melody.tempos().iter().filter(|it| is_later(&it.0));
    signs.extend(tempos.map(|(onset, tempo)| (onset, mark("tempo", write_tempo(*tempo)))));
    signs.sort_by_key(|(onset, _)| *onset);
    signs
}

/// How a sign of the form is written among the notes; `None` for those drawn by the bar line.
fn mark_of_form(sign: FormSign) -> Option<String> {
    Some(match sign {
        FormSign::Ending(numbers) => format!("[{numbers}"),
        FormSign::Segno => "[segno]".to_owned(),
        FormSign::Coda => "[coda]".to_owned(),
        FormSign::ToCoda => "[to coda]".to_owned(),
        FormSign::Fine => "[fine]".to_owned(),
        FormSign::Jump(jump) => format!("[{jump}]"),
        _ => return None,
    })
}

/// The bars that need a mark: pickups, and those whose length differs from the meter.
///
/// These are the rules of the reader: a bar at a sign of the form may be short if the next bar or a pickup completes
/// it.
fn bar_marks(melody: &Melody) -> Vec<Option<&'static str>> {
    let bars = melody.bars();
    let mut marks = vec![None; bars.len()];
    let mut pickups: Vec<Quarters> = Vec::new();
    let follows_sign = |bar: &Bar| {
        write_bar_line(melody.form().at(bar.onset)) != "|" || has_ending(melody, bar.onset)
    };
    let mut is_completed = false;
    for (index, bar) in bars.iter().enumerate() {
        let Some(full) = melody
            .meters()
            .at(bar.onset)
            .copied()
            .flatten()
            .map(Meter::bar_length)
        else {
            is_completed = false;
            continue;
        };
        let length = bar.length();
        let next = bars.get(index + 1);
        if std::mem::take(&mut is_completed) || length == full {
            continue;
        }
        if length < full && (index == 0 && next.is_some() || bar.is_extra) {
            pickups.push(length);
            marks[index] = Some("pickup");
        } else if length < full
            && next.is_some_and(|next| {
                follows_sign(next) && !next.is_extra && length + next.length() == full
            })
        {
            is_completed = true;
        } else if length < full
            && pickups.contains(&(full - length))
            && next.is_none_or(|next| write_bar_line(melody.form().at(next.onset)) != "|")
        {
            // The pickup completes it.
        } else {
            marks[index] = Some("irregular");
        }
    }
    marks
}

fn has_ending(melody: &Melody, at: Quarters) -> bool {
    melody
        .form()
        .at(at)
        .iter()
        .any(|(_, sign)| matches!(sign, FormSign::Ending(_)))
}

fn bars(melody: &Melody) -> Vec<BarText> {
    let signs = signs(melody);
    let symbol =
        |chord: &Option<Chord>| chord.map_or_else(|| "N.C.".to_owned(), |chord| chord.to_string());
    let chords: Vec<(Quarters, String)> = melody
        .chords()
        .iter()
        .map(|(onset, chord)| (onset, symbol(chord)))
        .collect();
    let cuts: Vec<Quarters> = signs.iter().map(|(onset, _)| *onset).collect();
    let measures = melody.measures(&cuts);
    let (mut next_sign, mut next_chord) = (0, 0);
    let mut written = Vec::with_capacity(measures.len());
    for (index, (measure, mark)) in measures.iter().zip(bar_marks(melody)).enumerate() {
        let Bar {
            onset: start, end, ..
        } = measure.bar;
        let mut notes = BarWords {
            words: Vec::new(),
            is_pickup: mark == Some("pickup"),
        };
        let mut begins_section = false;
        if index == 0
            && melody
                .form()
                .at(start)
                .iter()
                .any(|it| it.1 == FormSign::RepeatStart)
        {
            notes.words.push(Word::Sign("|:".to_owned()));
        }
        notes
            .words
            .extend(mark.map(|mark| Word::Sign(format!("[{mark}]"))));
        let mut write_signs = |now: Quarters, words: &mut Vec<Word>| {
            // A breath is written before a bar line, all other signs after it.
            while let Some((onset, sign)) = signs.get(next_sign) {
                let is_breath = matches!(sign, BetweenNotes::Breath);
                if *onset > now || (now == end && !is_breath) || *onset >= melody.length() {
                    break;
                }
                next_sign += 1;
                begins_section |= now == start && melody.sections().on(now).is_some();
                words.push(match sign {
                    BetweenNotes::Breath => Word::Breath,
                    BetweenNotes::Mark(mark) => Word::Sign(mark.clone()),
                });
            }
        };
        let begun = measure
            .parts
            .iter()
            .filter(|part| part.note.is_some() && !part.tied_back);
        let sung = begun
            .map(|part| SungNote {
                onset: part.onset,
                is_tied: false,
            })
            .collect();
        for part in &measure.parts {
            write_signs(part.onset, &mut notes.words);
            let word = match part.note {
                Some(_) if part.tied_back => "~".to_owned(),
                Some(note) => melody.notes()[note].pitch.to_string(),
                None => "r".to_owned(),
            };
            notes.words.push(Word::Sound(word, part.duration()));
        }
        let ends = melody.form().at(end).iter().filter(|(_, sign)| sign.ends());
        let ends = ends
            .filter_map(|(_, sign)| mark_of_form(*sign))
            .map(Word::Sign);
        notes.words.extend(ends);
        write_signs(end, &mut notes.words);
        let first_chord = next_chord;
        while chords
            .get(next_chord)
            .is_some_and(|(onset, _)| *onset < end)
        {
            next_chord += 1;
        }
        let begins_line = match melody.line_breaks() {
            [] => begins_section,
            breaks => breaks.binary_search(&start).is_ok(),
        };
        written.push(BarText {
            chords: chord_bar(
                &chords[first_chord..next_chord],
                start,
                end - start,
                measure.meter,
            ),
            notes,
            sung,
            begins_line,
            bar_line: write_bar_line(melody.form().at(end)),
        });
    }
    written
}

fn chord_bar(
    chords: &[(Quarters, String)],
    onset: Quarters,
    length: Quarters,
    meter: Option<Meter>,
) -> String {
    let mut begun: Vec<(Quarters, &str)> = chords
        .iter()
        .map(|(at, symbol)| (*at - onset, symbol.as_str()))
        .collect();
    if begun
        .first()
        .is_none_or(|(offset, _)| *offset > Quarters::from(0))
    {
        begun.insert(0, (Quarters::from(0), "-"));
    }
    let offsets: Vec<Quarters> = begun.iter().map(|(offset, _)| *offset).collect();
    let shares_equally = chord_offsets(&vec![None; begun.len()], length, meter) == Ok(offsets);
    let mut text = String::new();
    for (index, (offset, symbol)) in begun.iter().enumerate() {
        if index > 0 {
            text.push(' ');
        }
        text.push_str(symbol);
        if let (false, Some((next, _))) = (shares_equally, begun.get(index + 1)) {
            text.push(' ');
            text.push_str(&NoteValue::write_duration(*next - *offset));
        }
    }
    text
}

#[cfg(test)]
mod tests;
