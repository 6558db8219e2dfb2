//! The page that `neckline listen` prints.

use fretlib::hearing::{JudgedNote, NoteVerdict};
use fretlib::neck::{Instrument, Place};
use fretlib::text::{NoteMark, Role, StyledLine, StyledText, TabNote, Tablature};

use super::judged_take::{JudgedTake, LEGEND, RIGHT, WITH_FAULTS, pass_in_words};
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
            let mut line = StyledLine::default();
            line.push(&format!("{}: ", pass_in_words(pass)), Role::Plain);
            match pass.is_right() {
                true => line.push(RIGHT, Role::Right),
                false => line.push(WITH_FAULTS, Role::Wrong),
            }
            page.push(line);
        }
        page.push("");
        page.append(self.tablature());
        let silent = self.judged.bars_not_played();
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
        .draw_bars(|bar| self.judged.is_played(bar))
    }
}
