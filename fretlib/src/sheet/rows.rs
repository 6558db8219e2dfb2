//! What stands above and below a staff: chord symbols, sections, degrees, intervals, tablature.

use super::canvas::{Canvas, draw_chord};
use super::drawing::{Anchor, Ink, Mark, Stroke, Subject};
use super::font::{Face, defaults};
use super::measure::x_at;
use super::notation::{CHORD_SIZE, DEGREE_SIZE, INTERVAL_SIZE, System};
use super::stems::Head;
use super::words;
use crate::notation::rhythm::Symbol;
use crate::theory::Membership;

const FRET_SIZE: f64 = 1.7;
/// Between the strings of the tablature staff.
const STRING_GAP: f64 = 1.5;

impl System<'_> {
    /// Chord symbols and section letters; gives the top edge of the system.
    pub fn above(&self, canvas: &mut Canvas, lefts: &[f64], top: f64) -> f64 {
        let has_chords = self.line.iter().any(|bar| !bar.chords.is_empty());
        let has_sections = self.line.iter().any(|bar| bar.section.is_some());
        let base = top - 1.0;
        let mut edge = if self.is_first { top } else { top.min(-3.2) };
        for (bar, left) in self.line.iter().zip(lefts) {
            let positions = bar.positions(self.stretch);
            for (time, name) in &bar.chords {
                let x = left + x_at(bar, &positions, *time);
                draw_chord(canvas, x, base, name);
            }
        }
        if has_chords {
            edge = base - CHORD_SIZE;
        }
        if has_sections {
            let base = if has_chords { base - 3.4 } else { base - 0.6 };
            for (bar, left) in self.line.iter().zip(lefts) {
                let Some(name) = &bar.section else { continue };
                let is_first_of_line = std::ptr::eq(bar, &self.line[0]);
                let x = if is_first_of_line { 0.9 } else { *left + 0.6 };
                let width = Face::Bold.width(name, 2.2);
                let stroke = Stroke::solid(0.16 * canvas.space, Ink::Black);
                let from = canvas.point(x - 0.5, base - 2.0);
                let to = canvas.point(x + width + 0.5, base + 0.6);
                canvas
                    .marks
                    .push(Mark::rectangle(from, to, None, Some(stroke)));
                canvas.text(name, x, base, 2.2, Face::Bold, Anchor::Start);
            }
            edge = base - 2.4;
        }
        edge
    }

    /// Degrees, intervals and tablature; gives the bottom edge of the system.
    pub fn below(
        &self,
        canvas: &mut Canvas,
        heads: &[Vec<Head>],
        lefts: &[f64],
        right: f64,
        bottom: f64,
    ) -> f64 {
        let rows = self.notation.rows;
        let mut y = bottom + 0.4;
        let firsts = self.first_heads(heads);
        if rows.degrees {
            y += DEGREE_SIZE;
            for (index, x) in &firsts {
                self.degree(canvas, *index, *x, y);
            }
            y += 0.4;
        }
        if rows.intervals {
            y += INTERVAL_SIZE;
            let ends = firsts.iter().skip(1).map(|(_, x)| *x).chain([right]);
            for ((index, x), end) in firsts.iter().zip(ends) {
                let next = self.notation.notes.get(index + 1);
                if let Some(interval) = next.and_then(|next| next.interval) {
                    let middle = (x + end) / 2.0;
                    let size = INTERVAL_SIZE;
                    let text = words::minus(&interval.to_string());
                    canvas.text(&text, middle, y, size, Face::Label, Anchor::Middle);
                }
            }
            y += 0.3;
        }
        if rows.tablature {
            y += 1.5;
            y = self.tablature(canvas, &firsts, lefts, right, y);
            y += 0.8;
        }
        y
    }

    /// Each note of the line where it begins, with the middle of its head.
    fn first_heads(&self, heads: &[Vec<Head>]) -> Vec<(usize, f64)> {
        let mut out = Vec::new();
        for (bar, heads) in self.line.iter().zip(heads) {
            for (column, head) in bar.columns.iter().zip(heads) {
                if let Symbol::Note {
                    index,
                    tied_back: false,
                    ..
                } = column.written.symbol
                {
                    out.push((index, head.x + column.sign().advance() / 2.0));
                }
            }
        }
        out
    }

    /// A degree; one from outside the scale stands in a frame, which a copy keeps.
    fn degree(&self, canvas: &mut Canvas, index: usize, x: f64, y: f64) {
        let Some(note) = self.notation.notes.get(index) else {
            return;
        };
        let text = words::signs(&note.degree.to_string());
        let subject = Subject::Note(index + 1, self.in_words(index));
        canvas.group(subject, |canvas| {
            if note.membership == Membership::Scale {
                canvas.text(&text, x, y, DEGREE_SIZE, Face::Text, Anchor::Middle);
                return;
            }
            let half = Face::Bold.width(&text, DEGREE_SIZE) / 2.0 + 0.25;
            let stroke = Stroke::solid(0.13 * canvas.space, Ink::Accent);
            let from = canvas.point(x - half, y - 1.42);
            let to = canvas.point(x + half, y + 0.35);
            canvas
                .marks
                .push(Mark::rectangle(from, to, None, Some(stroke)));
            canvas.text(&text, x, y, DEGREE_SIZE, Face::Bold, Anchor::Middle);
        });
    }

    fn tablature(
        &self,
        canvas: &mut Canvas,
        firsts: &[(usize, f64)],
        lefts: &[f64],
        right: f64,
        top: f64,
    ) -> f64 {
        let strings = self.notation.instrument.strings().len();
        let bottom = top + STRING_GAP * (strings.saturating_sub(1)) as f64;
        for string in 0..strings {
            let y = top + STRING_GAP * string as f64;
            canvas.line((0.0, y), (right, y), defaults::STAFF_LINE * 0.8);
        }
        // The three letters share the height of the staff.
        let size = ((bottom - top) * 0.36).clamp(1.0, 2.6);
        for (row, letter) in ["T", "A", "B"].iter().enumerate() {
            let middle = (top + bottom) / 2.0 + (row as f64 - 1.0) * size * 0.82;
            let base = middle + size * 0.32;
            canvas.text(letter, 1.6, base, size, Face::Bold, Anchor::Middle);
        }
        let ends = lefts.iter().skip(1).copied().chain([right]);
        for (at, x) in ends.enumerate() {
            let is_end = self.is_last && at + 1 == lefts.len();
            if is_end {
                let thick = x - defaults::THICK_BAR_LINE / 2.0;
                let thin = x - defaults::THICK_BAR_LINE - defaults::BAR_LINE_GAP - 0.08;
                canvas.line((thin, top), (thin, bottom), defaults::THIN_BAR_LINE);
                canvas.line((thick, top), (thick, bottom), defaults::THICK_BAR_LINE);
            } else {
                let x = x - defaults::THIN_BAR_LINE / 2.0;
                canvas.line((x, top), (x, bottom), defaults::THIN_BAR_LINE);
            }
        }
        // One line at the left edge joins notation and tablature into a system.
        canvas.line((0.0, 0.0), (0.0, bottom), defaults::THIN_BAR_LINE);
        for (index, x) in firsts {
            let Some(place) = self.notation.places.get(*index).copied().flatten() else {
                continue;
            };
            let y = top + STRING_GAP * place.string.index() as f64;
            let text = place.fret.to_string();
            let half = Face::Figure.width(&text, FRET_SIZE) / 2.0 + 0.15;
            let subject = Subject::Note(index + 1, self.in_words(*index));
            canvas.group(subject, |canvas| {
                let (from, to) = (
                    canvas.point(x - half, y - 0.6),
                    canvas.point(x + half, y + 0.6),
                );
                canvas
                    .marks
                    .push(Mark::rectangle(from, to, Some(Ink::White), None));
                let base = y + FRET_SIZE * 0.32;
                canvas.text(&text, *x, base, FRET_SIZE, Face::Figure, Anchor::Middle);
            });
        }
        bottom
    }
}
