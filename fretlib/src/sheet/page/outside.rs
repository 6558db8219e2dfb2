//! The notes outside the scale, in one strip.

use super::Sheet;
use crate::sheet::drawing::{Anchor, Mark, Point};
use crate::sheet::font::Face;
use crate::sheet::staff_block::Block;
use crate::sheet::words;
use crate::theory::Membership;

const SIZE: f64 = 2.7;
const LINE: f64 = 3.7;
/// Between one note and the next.
const APART: f64 = 4.5;
/// The most lines of the strip; with more notes the staff is easier to read.
const MOST_LINES: usize = 3;

impl Sheet<'_> {
    /// The notes outside the scale: their places, degrees and chord tones.
    pub(super) fn outside(&self, width: f64, is_blank: bool) -> Block {
        let outside: Vec<usize> = (0..self.tune.notes.len())
            .filter(|&index| self.tune.notes[index].membership != Membership::Scale)
            .collect();
        let mut strip = Strip {
            width,
            x: 0.0,
            y: SIZE,
            marks: Vec::new(),
        };
        if is_blank {
            strip.put("Outside the scale:", Face::Bold);
            return strip.with_rule();
        }
        if outside.is_empty() {
            strip.put("Every note belongs to the scale.", Face::Text);
            return strip.block();
        }
        strip.put("Outside the scale", Face::Bold);
        let most = if self.has(super::Part::Notation) {
            MOST_LINES
        } else {
            usize::MAX
        };
        for (done, index) in outside.iter().enumerate() {
            let text = self.outside_note(*index);
            let is_last_line = strip.line_after(&text) > most;
            if is_last_line {
                strip.end(&format!("and {} more", outside.len() - done));
                break;
            }
            strip.put(&text, Face::Text);
        }
        strip.block()
    }

    fn outside_note(&self, index: usize) -> String {
        let note = &self.tune.notes[index];
        let beat = self.tune.melody.beat_at(note.note.onset);
        let over = match note.chord {
            Some(chord) => format!(", {} of {chord}", chord.degree(note.note.pitch.class())),
            None => String::new(),
        };
        format!(
            "bar {}, beat {beat}: {}, {}{}",
            beat.bar,
            words::signs(&note.note.pitch.to_string()),
            words::signs(&note.degree.to_string()),
            words::signs(&over)
        )
    }
}

/// Words one after another, in lines.
struct Strip {
    width: f64,
    x: f64,
    y: f64,
    marks: Vec<Mark>,
}

impl Strip {
    /// The line on which a text would be, counted from 1.
    fn line_after(&self, text: &str) -> usize {
        let line = (self.y / LINE).round() as usize;
        let fits = self.x + Face::Text.width(text, SIZE) <= self.width;
        line.max(1) + usize::from(!fits)
    }

    fn put(&mut self, text: &str, face: Face) {
        let wide = face.width(text, SIZE);
        if self.x > 0.0 && self.x + wide > self.width {
            self.x = 0.0;
            self.y += LINE;
        }
        let at = Point::new(self.x, self.y);
        self.marks
            .push(Mark::text(text, at, SIZE, face, Anchor::Start));
        self.x += wide + APART;
    }

    /// Ends the strip with these words, replacing others if the line is full.
    fn end(&mut self, text: &str) {
        while self.x + Face::Text.width(text, SIZE) > self.width {
            let Some(Mark::Text(last)) = self.marks.pop() else {
                break;
            };
            self.x = last.at.x;
        }
        self.put(text, Face::Text);
    }

    fn block(self) -> Block {
        Block {
            height: self.y + 0.8,
            marks: self.marks,
        }
    }

    /// A line to write on, up to the end of the strip.
    fn with_rule(mut self) -> Block {
        let stroke = crate::sheet::Stroke::solid(0.2, crate::sheet::Ink::Grey);
        let (from, to) = (Point::new(self.x, self.y), Point::new(self.width, self.y));
        self.marks.push(Mark::line(from, to, stroke));
        self.block()
    }
}
