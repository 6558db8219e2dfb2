//! The page that `neckline listen` prints.

use std::collections::BTreeSet;

use fretlib::hearing::{JudgedNote, NoteVerdict};
use fretlib::neck::{Instrument, Place};
use fretlib::text::{NoteMark, Role, StyledLine, StyledText, TabNote, Tablature};

use super::judged_take::{JudgedTake, LEGEND};
use crate::commands::transcribe::tuning_in_words;
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;

/// What is printed and how.
pub struct TakePage<'a> {
    pub judged: &'a JudgedTake,
    pub places: &'a [Option<Place>],
    pub instrument: &'a Instrument,
    pub ascii: bool,
    pub width: usize,
}

impl TakePage<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let mut page = self.head();
        page.push("");
        for pass in &self.judged.take.passes {
            let tempo = pass
                .tempo
                .map_or_else(String::new, |it| format!(", {it:.0} to the minute"));
            let mut line = StyledLine::default();
            line.push(
                &format!("Bars {}{tempo}: ", pass.bars_in_words()),
                Role::Plain,
            );
            match pass.is_right() {
                true => line.push("right", Role::Right),
                false => line.push("with faults", Role::Wrong),
            }
            page.push(line);
        }
        page.push("");
        page.append(self.tablature());
        let silent = self.bars_not_played();
        if !silent.is_empty() {
            for line in wrap(&format!("{silent} not played."), self.width.min(90)) {
                page.push(line.as_str());
            }
        }
        page.push(LEGEND);
        page.push("");
        for sentence in self.judged.sentences(self.places) {
            for line in wrap(&sentence, self.width.min(90)) {
                page.push(line.as_str());
            }
        }
        page
    }

    fn head(&self) -> StyledText {
        let mut text = StyledText::default();
        let mut title = StyledLine::default();
        title.push(title_or_untitled(self.judged.melody.title()), Role::Heading);
        text.push(title);
        let notes: Vec<&JudgedNote> = self.judged.take.notes().collect();
        let right = notes
            .iter()
            .filter(|it| it.verdict == NoteVerdict::Right)
            .count();
        let tempo = self.judged.take.tempo.map_or_else(String::new, |it| {
            format!(", {it:.0} quarter notes a minute")
        });
        text.push(
            format!(
                "{right} of {} right{tempo}, the strings {}",
                count(notes.len(), "note"),
                tuning_in_words(self.judged.tuning_cents)
            )
            .as_str(),
        );
        let octave = self.judged.take.shift - i32::from(self.instrument.sounding().semitones());
        if octave % 12 == 0 && octave != 0 {
            let word = if octave > 0 { "higher" } else { "lower" };
            text.push(
                format!(
                    "Played {} {word} than written.",
                    count((octave.abs() / 12) as usize, "octave")
                )
                .as_str(),
            );
        } else if octave != 0 {
            let word = if octave > 0 { "higher" } else { "lower" };
            let semitones = count(octave.unsigned_abs() as usize, "semitone");
            let words = format!(
                "Played in another key, {semitones} {word} than written, and judged in it; notes are named as written."
            );
            for line in wrap(&words, self.width.min(90)) {
                text.push(line.as_str());
            }
        }
        text
    }

    /// Whether a pass went through the bar.
    fn is_played(&self, bar: u32) -> bool {
        let passes = self.judged.take.passes.iter();
        let mut bars = passes.map(|pass| pass.bars);
        bars.any(|(first, last)| (first..=last).contains(&bar))
    }

    /// `Bars 1-4, 9-32`: those with notes that no pass went through; empty when all were played.
    fn bars_not_played(&self) -> String {
        let mut runs: Vec<(u32, u32)> = Vec::new();
        let melody = &self.judged.melody;
        let notes = melody.notes().iter();
        let begun: BTreeSet<u32> = notes.map(|it| melody.bar_at(it.onset).number).collect();
        // A pickup belongs to the bar after it; there is nothing to play in a rest or where a note is held.
        let bars = melody.bars().iter();
        for bar in bars.filter(|it| it.number > 0 && begun.contains(&it.number)) {
            match runs.last_mut() {
                _ if self.is_played(bar.number) => {}
                Some((_, last)) if bar.number - *last <= 1 => *last = bar.number,
                _ => runs.push((bar.number, bar.number)),
            }
        }
        let is_one = matches!(runs.as_slice(), [(first, last)] if first == last);
        let words: Vec<String> = runs
            .into_iter()
            .map(|(first, last)| match first == last {
                true => first.to_string(),
                false => format!("{first}-{last}"),
            })
            .collect();
        match words.is_empty() {
            true => String::new(),
            false => format!(
                "{} {}",
                if is_one { "Bar" } else { "Bars" },
                words.join(", ")
            ),
        }
    }

    /// The bars that were played, with the worst verdict under each note.
    fn tablature(&self) -> StyledText {
        let notes: Vec<TabNote> = self
            .places
            .iter()
            .zip(self.judged.signs())
            .map(|(place, (label, role))| TabNote {
                place: *place,
                label,
                mark: NoteMark {
                    role,
                    stretch: false,
                },
                ..TabNote::default()
            })
            .collect();
        Tablature {
            melody: &self.judged.melody,
            notes: &notes,
            instrument: self.instrument,
            ascii: self.ascii,
            width: self.width,
        }
        .draw_bars(|bar| self.is_played(bar))
    }
}
