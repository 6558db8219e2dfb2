//! Writing a tune.

use std::fmt::Write;

use super::chords::chord_offsets;
use super::value;
use crate::melody::{Melody, Meter, Quarters};
use crate::theory::Pitch;

/// Bars to a line, as lead sheets have them.
const BARS_A_LINE: usize = 4;

/// Writes a melody so that [`super::read`] gives the same one again.
///
/// Square brackets in the name of a section become round ones, since they part the words; changes that begin after the
/// end of the tune are left out; bars of an excerpt are counted from 1 again.
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
    if let Some(composer) = melody.composer() {
        field(&mut out, "composer", &quoted(composer));
    }
    let start = Quarters::from(0);
    if let Some(key) = melody.keys().at(start) {
        field(&mut out, "key", &quoted(&key.to_string()));
    }
    if let Some(meter) = melody.meters().at(start) {
        field(&mut out, "meter", &quoted(&value::write_meter(*meter)));
    }
    if let Some(tempo) = melody.tempos().at(start) {
        let text = value::write_tempo(*tempo);
        let is_number = tempo.quarters_per_minute().is_integer();
        field(
            &mut out,
            "tempo",
            &if is_number { text } else { quoted(&text) },
        );
    }
    out.push_str("    lines: [\n");
    for line in lines(bars(melody)) {
        write_line(&mut out, &line);
    }
    out.push_str("    ],\n)\n");
    out
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

/// A bar as it is written.
struct WrittenBar {
    chords: String,
    notes: Words,
    begins_section: bool,
}

/// Bars as lines of the sheet have them: four to a line, a new line for a section, the pickup beside the first four.
fn lines(bars: Vec<WrittenBar>) -> Vec<Vec<WrittenBar>> {
    let mut lines: Vec<Vec<WrittenBar>> = Vec::new();
    let mut room = 0;
    for bar in bars {
        if room == 0 || (bar.begins_section && lines.last().is_some_and(|line| line.len() > 1)) {
            lines.push(Vec::new());
            room = BARS_A_LINE;
        }
        room -= usize::from(!bar.notes.is_pickup);
        if let Some(line) = lines.last_mut() {
            line.push(bar);
        }
    }
    lines
}

fn write_line(out: &mut String, line: &[WrittenBar]) {
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
        let line_end = if is_last { "" } else { " | " };
        let _ = write!(chords, "{:width$}{line_end}", bar.chords);
        let _ = write!(notes, "{bar_notes:width$}{line_end}");
    }
    out.push_str("        (\n");
    if has_chords {
        let _ = writeln!(out, "            chords: {},", quoted_as_it_is(&chords));
    }
    let _ = writeln!(out, "            notes:  {},", quoted_as_it_is(&notes));
    out.push_str("        ),\n");
}

/// The words of a bar of notes.
#[derive(Default)]
struct Words {
    words: Vec<Word>,
    is_pickup: bool,
}

enum Word {
    Breath,
    Mark(String),
    /// A note, a rest or a tie, and how long it lasts.
    Sound(String, Quarters),
}

impl Words {
    /// The text, with a value wherever it differs from the one carried from the word before.
    fn text(&self, carried: &mut Option<Quarters>) -> String {
        let mut text = String::new();
        for word in &self.words {
            if !text.is_empty() && !matches!(word, Word::Breath) {
                text.push(' ');
            }
            let _ = match word {
                Word::Breath => write!(text, ","),
                Word::Mark(mark) => write!(text, "[{mark}]"),
                Word::Sound(sound, length) if *carried == Some(*length) => write!(text, "{sound}"),
                Word::Sound(sound, length) => {
                    *carried = Some(*length);
                    write!(text, "{sound} {}", value::write(*length))
                }
            };
        }
        text
    }
}

/// Something other than a note that stands between the notes.
enum Sign {
    Breath,
    Section(String),
    Change(String),
}

fn signs(melody: &Melody) -> Vec<(Quarters, Sign)> {
    let start = Quarters::from(0);
    let change = |kind: &str, text: String| Sign::Change(format!("{kind} {text}"));
    let breaths = melody.phrase_starts().iter();
    let sections = melody.sections().iter();
    let keys = melody.keys().iter();
    let meters = melody.meters().iter();
    let tempos = melody.tempos().iter();
    let is_later = |onset: Quarters| onset > start;
    let mut signs: Vec<(Quarters, Sign)> = breaths
        .map(|onset| (*onset, Sign::Breath))
        .chain(sections.map(|(onset, name)| {
            (
                onset,
                Sign::Section(name.replace('[', "(").replace(']', ")")),
            )
        }))
        .chain(
            keys.filter(|it| is_later(it.0))
                .map(|(onset, key)| (onset, change("key", key.to_string()))),
        )
        .chain(
            meters
                .filter(|it| is_later(it.0))
                .map(|(onset, meter)| (onset, change("meter", value::write_meter(*meter)))),
        )
        .chain(
            tempos
                .filter(|it| is_later(it.0))
                .map(|(onset, tempo)| (onset, change("tempo", value::write_tempo(*tempo)))),
        )
        .collect();
    signs.sort_by_key(|(onset, _)| *onset);
    signs
}

fn bars(melody: &Melody) -> Vec<WrittenBar> {
    let signs = signs(melody);
    let chords: Vec<(Quarters, String)> = melody
        .chords()
        .iter()
        .map(|(onset, chord)| {
            (
                onset,
                chord.map_or_else(|| "N.C.".to_owned(), |chord| chord.to_string()),
            )
        })
        .collect();
    let sounds = sounds(melody);
    let (mut next_sign, mut next_chord, mut next_sound) = (0, 0, 0);
    let mut now = Quarters::from(0);
    let mut pickup = None;
    let mut written = Vec::with_capacity(melody.bars().len());
    for (index, bar) in melody.bars().iter().enumerate() {
        let following = melody.bars().get(index + 1);
        let end = following.map_or(melody.length(), |next| next.onset);
        let length = end - bar.onset;
        let meter = melody.meters().at(bar.onset).copied().flatten();
        let mut notes = Words::default();
        let mut begins_section = false;
        if let Some(meter) = meter {
            let full = meter.bar_length();
            if index == 0 && length < full && following.is_some() {
                pickup = Some(length);
                notes.is_pickup = true;
                notes.words.push(Word::Mark("pickup".to_owned()));
            } else if length != full && !(following.is_none() && pickup == Some(full - length)) {
                notes.words.push(Word::Mark("irregular".to_owned()));
            }
        }
        loop {
            // A breath at a bar line stands before it, all other signs after it.
            while let Some((onset, sign)) = signs.get(next_sign) {
                let is_breath = matches!(sign, Sign::Breath);
                if *onset > now || (now == end && !is_breath) || *onset >= melody.length() {
                    break;
                }
                next_sign += 1;
                notes.words.push(match sign {
                    Sign::Breath => Word::Breath,
                    Sign::Section(name) => {
                        begins_section |= now == bar.onset;
                        Word::Mark(format!("section {name}"))
                    }
                    Sign::Change(change) => Word::Mark(change.clone()),
                });
            }
            if now >= end {
                break;
            }
            let Some(sound) = sounds.get(next_sound) else {
                break;
            };
            let sign_onset = signs.get(next_sign).map_or(end, |(onset, _)| *onset);
            let until = sound.end.min(end).min(sign_onset);
            let word = match sound.pitch {
                Some(pitch) if now == sound.onset => pitch.to_string(),
                Some(_) => "~".to_owned(),
                None => "r".to_owned(),
            };
            notes.words.push(Word::Sound(word, until - now));
            now = until;
            next_sound += usize::from(now == sound.end);
        }
        let first_chord = next_chord;
        while chords
            .get(next_chord)
            .is_some_and(|(onset, _)| *onset < end)
        {
            next_chord += 1;
        }
        written.push(WrittenBar {
            chords: chord_bar(&chords[first_chord..next_chord], bar.onset, length, meter),
            notes,
            begins_section,
        });
    }
    written
}

/// A note, or the silence between two.
struct StretchOfSound {
    onset: Quarters,
    end: Quarters,
    pitch: Option<Pitch>,
}

fn sounds(melody: &Melody) -> Vec<StretchOfSound> {
    let mut sounds = Vec::with_capacity(melody.notes().len());
    let mut now = Quarters::from(0);
    let end = melody.length();
    let notes = melody
        .notes()
        .iter()
        .map(|note| (note.onset, note.end(), Some(note.pitch)));
    for (onset, note_end, pitch) in notes.chain([(end, end, None)]) {
        if now < onset {
            sounds.push(StretchOfSound {
                onset: now,
                end: onset,
                pitch: None,
            });
        }
        if pitch.is_some() {
            sounds.push(StretchOfSound {
                onset,
                end: note_end,
                pitch,
            });
        }
        now = note_end;
    }
    sounds
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
            text.push_str(&value::write(*next - *offset));
        }
    }
    text
}

#[cfg(test)]
mod tests;
