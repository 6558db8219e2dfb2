//! The rows above and below a staff: chord symbols, sections, the form; tablature, fingers, degrees, intervals.

use super::bar_line_marks::{
    Stave, bracket_height, draw_end, draw_form, draw_repeat_start, has_form,
};
use super::canvas::{Canvas, draw_chord};
use super::drawing::{Anchor, Ink, Mark, Stroke, Subject};
use super::font::{Face, defaults};
use super::measure::x_at;
use super::second_voice::StruckChord;
use super::skyline::Skyline;
use super::staff_block::{
    CHORD_SIZE, DEGREE_SIZE, FINGER_SIZE, FRET_SIZE, HEARD_SIZE, INTERVAL_SIZE, LYRIC_SIZE, System,
    chord_width,
};
use super::stems::Head;
use super::words;
use crate::neck::{Place, Position};
use crate::notation::rhythm::Symbol;
use crate::theory::Membership;

/// The distance of the strings in tablature: a little more than the height of a figure.
pub(super) const STRING_GAP: f64 = 1.07;
const SECTION_SIZE: f64 = 2.0;
const NUMBER_SIZE: f64 = 1.4;
pub(super) const POSITION_SIZE: f64 = 1.6;
/// The wedge left of a position, and the space between.
pub(super) const POSITION_WEDGE: f64 = 0.9;
/// Height of capitals and figures as a fraction of the type size, in all faces.
pub(super) const CAPITAL: f64 = 0.66;

impl System<'_> {
    /// Chord symbols, section letters, bar number, endings and the words of the form.
    pub fn above(&self, canvas: &mut Canvas, skyline: &Skyline, lefts: &[f64], right: f64) {
        let over_diagrams;
        let skyline = match self.notation.rows.diagrams {
            true => {
                self.diagrams(canvas, skyline, lefts);
                over_diagrams = Skyline::of(canvas);
                &over_diagrams
            }
            false => skyline,
        };
        let mut chords = Vec::new();
        for (bar, left) in self.line.iter().zip(lefts) {
            let positions = bar.positions(self.stretch);
            for (time, name) in &bar.chords {
                chords.push((left + x_at(bar, &positions, *time), name));
            }
        }
        // Chord symbols are on one line, as near to the staff as the notes under them allow.
        let clear = |(x, name): &(f64, &String)| skyline.top(*x, x + chord_width(name)) - 0.5;
        let base = chords.iter().map(clear).fold(-0.7, f64::min);
        for (x, name) in &chords {
            draw_chord(canvas, *x, base, name);
        }
        let chords_top = match chords.is_empty() {
            true => 0.0,
            false => base - CAPITAL * CHORD_SIZE,
        };
        self.line_head(canvas, skyline, base, chords_top);
        if self.line.iter().any(has_form) {
            let head = skyline.top(0.0, right).min(chords_top) - 0.5;
            let ends = lefts.iter().skip(1).copied().chain([right]);
            let bracket = bracket_height(self.line);
            for ((bar, left), right) in self.line.iter().zip(lefts).zip(ends) {
                draw_form(canvas, bar, (*left, right), head, bracket);
            }
        }
        // A section that begins inside the line, when the source breaks its lines elsewhere.
        for (bar, left) in self.line.iter().zip(lefts).skip(1) {
            if let Some(name) = &bar.section {
                let base = skyline.top(*left, left + 4.0).min(chords_top) - 0.9;
                draw_section(canvas, left + 0.6, base, name);
            }
        }
    }

    /// The number of the first bar and the section that begins with it, over the clef.
    fn line_head(&self, canvas: &mut Canvas, skyline: &Skyline, chords: f64, chords_top: f64) {
        let bar = &self.line[0];
        let section = bar.section.as_deref();
        let number = match self.is_first {
            true => None,
            false => Some(bar.written.number.to_string()),
        };
        let section_width = section.map_or(0.0, |name| Face::Bold.width(name, SECTION_SIZE) + 1.0);
        // Beside the chords if there is space between clef and first note, else over the clef.
        let after_clef = self.clef.sign().advance() + 0.9;
        let mut number_x = 0.0;
        if let Some(name) = section {
            let is_beside = after_clef + section_width < self.head;
            let x = if is_beside { after_clef } else { 0.0 };
            let clear = skyline.top(x, x + section_width) - 0.7;
            let base = match x + section_width < self.head {
                true => chords.min(clear),
                false => chords_top.min(clear) - 0.5,
            };
            draw_section(canvas, x + 0.5, base, name);
            if !is_beside {
                number_x = section_width + 0.4;
            }
        }
        if let Some(number) = number {
            let width = Face::Italic.width(&number, NUMBER_SIZE);
            let base = skyline.top(number_x, number_x + width) - 0.3;
            canvas.text(
                &number,
                number_x,
                base,
                NUMBER_SIZE,
                Face::Italic,
                Anchor::Start,
            );
        }
    }

    /// Tablature with positions over it and fingers under it, degrees, chord tones, intervals.
    pub fn below(
        &self,
        canvas: &mut Canvas,
        skyline: &Skyline,
        heads: &[Vec<Head>],
        lefts: &[f64],
        right: f64,
    ) {
        let rows = self.notation.rows;
        let firsts = self.first_heads(heads);
        let struck = self.struck(lefts);
        let mut y = skyline.bottom(self.head, right) + 0.3;
        let sung = self.lyrics(canvas, &firsts, y, right);
        let floor = sung.unwrap_or(0.0);
        y = y.max(floor);
        if rows.tablature {
            let positions = if rows.fingering {
                self.positions(&firsts)
            } else {
                Vec::new()
            };
            // The figures of the first string extend above its line.
            let figures = FRET_SIZE * CAPITAL / 2.0 + 0.12;
            let over = |(x, position, _): &(f64, Position, Option<bool>)| {
                let half =
                    Face::Bold.width(&position.to_string(), POSITION_SIZE) / 2.0 + POSITION_WEDGE;
                skyline.bottom(x - half, x + half).max(floor)
                    + 0.25
                    + POSITION_SIZE * CAPITAL
                    + 0.12
            };
            let top = positions.iter().map(over).fold(y, f64::max) + figures;
            // There are no figures at the clef.
            let top = top.max(skyline.bottom(0.0, self.head) + 0.3).max(5.6);
            for position in &positions {
                draw_position(canvas, position, top - figures - 0.12);
            }
            y = self.tablature(canvas, &firsts, &struck, lefts, right, top)
                + FRET_SIZE * CAPITAL / 2.0;
        }
        if rows.fingering && rows.tablature {
            y += 0.28 + FINGER_SIZE * CAPITAL;
            self.fingers(canvas, &firsts, &struck, y);
        }
        if firsts
            .iter()
            .any(|(index, _)| !self.notation.heard(*index).is_empty())
        {
            y += 0.45 + HEARD_SIZE * CAPITAL;
            for (index, x) in &firsts {
                self.heard(canvas, *index, *x, y);
            }
        }
        if rows.degrees {
            y += 0.45 + DEGREE_SIZE * CAPITAL;
            for (index, x) in &firsts {
                self.degree(canvas, *index, *x, y);
            }
            y += 0.35;
        }
        if rows.chord_tones {
            y += 0.35 + DEGREE_SIZE * CAPITAL;
            for (index, x) in &firsts {
                self.word(canvas, *index, *x, y, &self.notation.chord_tone(*index));
            }
        }
        if rows.intervals {
            y += 0.4 + INTERVAL_SIZE * CAPITAL;
            let ends = firsts.iter().skip(1).map(|(_, x)| *x).chain([right]);
            for ((index, x), end) in firsts.iter().zip(ends) {
                let next = self.notation.tune.notes.get(index + 1);
                let interval = next.and_then(|next| next.interval);
                if let Some(interval) = interval.filter(|_| !self.notation.is_blank) {
                    let middle = (x + end) / 2.0;
                    let text = words::minus(&interval.to_string());
                    canvas.text(&text, middle, y, INTERVAL_SIZE, Face::Label, Anchor::Middle);
                }
            }
        }
    }

    /// The verses under the staff from a height on, with hyphens inside words; gives where they end, if anything is sung.
    fn lyrics(
        &self,
        canvas: &mut Canvas,
        firsts: &[(usize, f64)],
        top: f64,
        right: f64,
    ) -> Option<f64> {
        let sung = |index: usize| self.notation.sung(index);
        let verses = firsts.iter().flat_map(|(index, _)| sung(*index));
        let most = verses.map(|it| it.verse).max()?;
        let base =
            |verse: u8| top + 0.2 + LYRIC_SIZE * CAPITAL + f64::from(verse - 1) * LYRIC_SIZE * 1.05;
        for verse in 1..=most {
            let of_verse = |index: usize| sung(index).iter().find(|it| it.verse == verse);
            let syllables: Vec<_> = firsts
                .iter()
                .filter_map(|(index, x)| Some((*index, *x, of_verse(*index)?)))
                .collect();
            for (at, (index, x, syllable)) in syllables.iter().enumerate() {
                let half = Face::Text.width(&syllable.text, LYRIC_SIZE) / 2.0;
                let subject = Subject::Note(index + 1, self.in_words(*index));
                canvas.group(subject, |canvas| {
                    let text = &syllable.text;
                    canvas.text(
                        text,
                        *x,
                        base(verse),
                        LYRIC_SIZE,
                        Face::Text,
                        Anchor::Middle,
                    );
                });
                if syllable.joins {
                    let next = syllables.get(at + 1);
                    let end = next.map_or(right, |(_, x, it)| {
                        x - Face::Text.width(&it.text, LYRIC_SIZE) / 2.0
                    });
                    let middle = (x + half + end) / 2.0;
                    canvas.text(
                        "-",
                        middle,
                        base(verse),
                        LYRIC_SIZE,
                        Face::Text,
                        Anchor::Middle,
                    );
                }
            }
        }
        Some(base(most) + 0.45)
    }

    /// Each note that begins in the line, with the middle of its head.
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

    /// Where the hand moves to a position, and whether it moves up or down the neck; nothing when it is already there.
    fn positions(&self, firsts: &[(usize, f64)]) -> Vec<(f64, Position, Option<bool>)> {
        let position = |index: usize| self.notation.shown_place(index).map(|it| it.position);
        let mut before = firsts
            .first()
            .and_then(|(first, _)| (0..*first).rev().find_map(position));
        let mut out = Vec::new();
        for (index, x) in firsts {
            let Some(here) = position(*index) else {
                continue;
            };
            if before != Some(here) {
                out.push((*x, here, before.map(|before| here > before)));
            }
            before = Some(here);
        }
        out
    }

    /// The fingers of each note, or of all that is struck with it, from the lowest note up.
    fn fingers(
        &self,
        canvas: &mut Canvas,
        firsts: &[(usize, f64)],
        struck: &[StruckChord<'_>],
        y: f64,
    ) {
        let joint = |index: usize| struck.iter().find(|it| it.is_joint && it.note == index);
        let of_notes = firsts.iter().map(|(index, x)| {
            let chord = joint(*index).map(|it| it.chord);
            (*x, self.notation.fingers(Some(*index), chord))
        });
        let alone = struck.iter().filter(|it| !it.is_joint);
        let alone = alone.map(|it| (it.x, self.notation.fingers(None, Some(it.chord))));
        for (x, fingers) in of_notes.chain(alone) {
            if !fingers.is_empty() {
                canvas.text(&fingers, x, y, FINGER_SIZE, Face::Label, Anchor::Middle);
            }
        }
    }

    /// A degree; one outside the scale has a frame, which is visible on a copy.
    fn degree(&self, canvas: &mut Canvas, index: usize, x: f64, y: f64) {
        let text = self.notation.degree(index);
        let notes = self.notation.tune.notes.get(index);
        let is_outside = notes.is_some_and(|note| note.membership != Membership::Scale);
        if self.notation.is_blank || !is_outside {
            return self.word(canvas, index, x, y, &text);
        }
        let subject = Subject::Note(index + 1, self.in_words(index));
        canvas.group(subject, |canvas| {
            let half = Face::Bold.width(&text, DEGREE_SIZE) / 2.0 + 0.2;
            let stroke = Stroke::solid(0.13 * canvas.space, Ink::Accent);
            let from = canvas.point(x - half, y - DEGREE_SIZE * 0.8);
            let to = canvas.point(x + half, y + 0.3);
            let frame = Mark::rectangle(from, to, None, Some(stroke));
            canvas.marks.push(frame);
            canvas.text(&text, x, y, DEGREE_SIZE, Face::Bold, Anchor::Middle);
        });
    }

    /// The sign of what was heard of a note; nothing where it was right.
    fn heard(&self, canvas: &mut Canvas, index: usize, x: f64, y: f64) {
        let sign = self.notation.heard(index);
        if !sign.is_empty() {
            let subject = Subject::Note(index + 1, self.in_words(index));
            canvas.group(subject, |canvas| {
                canvas.text(sign, x, y, HEARD_SIZE, Face::Bold, Anchor::Middle);
            });
        }
    }

    /// A label under a note, or a line for a student to write it on.
    fn word(&self, canvas: &mut Canvas, index: usize, x: f64, y: f64, text: &str) {
        let subject = Subject::Note(index + 1, self.in_words(index));
        canvas.group(subject, |canvas| {
            if self.notation.is_blank {
                canvas.line((x - 0.75, y), (x + 0.75, y), 0.1);
            } else if !text.is_empty() {
                canvas.text(text, x, y, DEGREE_SIZE, Face::Text, Anchor::Middle);
            }
        });
    }

    fn tablature(
        &self,
        canvas: &mut Canvas,
        firsts: &[(usize, f64)],
        struck: &[StruckChord<'_>],
        lefts: &[f64],
        right: f64,
        top: f64,
    ) -> f64 {
        let strings = self.notation.tune.instrument.strings().len();
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
        let stave = Stave::tablature(top, bottom);
        let ends = lefts.iter().skip(1).copied().chain([right]);
        for ((bar, left), end) in self.line.iter().zip(lefts).zip(ends) {
            if bar.begins_repeat() {
                draw_repeat_start(canvas, *left, stave);
            }
            draw_end(canvas, bar, self.next(bar), self.ends_line(bar), end, stave);
        }
        // One line at the left edge joins notation and tablature into a system.
        canvas.line((0.0, 0.0), (0.0, bottom), defaults::THIN_BAR_LINE);
        let mut figures: Vec<(usize, f64, Place)> = Vec::new();
        for (index, x) in firsts {
            let place = self.notation.shown_place(*index).map(|it| it.place);
            figures.extend(place.map(|place| (*index, *x, place)));
        }
        for it in struck {
            let own = firsts.iter().find(|(index, _)| *index == it.note);
            let x = own.filter(|_| it.is_joint).map_or(it.x, |(_, x)| *x);
            let notes = it.chord.notes.iter().filter(|note| !note.tied_back);
            figures.extend(notes.map(|note| (it.note, x, note.at.place)));
        }
        for (index, x, place) in figures {
            let y = top + STRING_GAP * place.string.index() as f64;
            let text = place.fret.to_string();
            let half = Face::Figure.width(&text, FRET_SIZE) / 2.0 + 0.15;
            let subject = Subject::Note(index + 1, self.in_words(index));
            canvas.group(subject, |canvas| {
                let (from, to) = (
                    canvas.point(x - half, y - 0.5),
                    canvas.point(x + half, y + 0.5),
                );
                let paper = Mark::rectangle(from, to, Some(Ink::White), None);
                canvas.marks.push(paper);
                let base = y + FRET_SIZE * CAPITAL / 2.0;
                canvas.text(&text, x, base, FRET_SIZE, Face::Figure, Anchor::Middle);
            });
        }
        bottom
    }
}

fn draw_section(canvas: &mut Canvas, x: f64, base: f64, name: &str) {
    let width = Face::Bold.width(name, SECTION_SIZE);
    let stroke = Stroke::solid(0.16 * canvas.space, Ink::Black);
    let from = canvas.point(x - 0.5, base - SECTION_SIZE * 0.8);
    let to = canvas.point(x + width + 0.5, base + 0.4);
    let frame = Mark::rectangle(from, to, None, Some(stroke));
    canvas.marks.push(frame);
    canvas.text(name, x, base, SECTION_SIZE, Face::Bold, Anchor::Start);
}

/// A position as a numeral over the note where the hand moves to it, with a wedge that points up or down the neck.
fn draw_position(canvas: &mut Canvas, position: &(f64, Position, Option<bool>), base: f64) {
    let (x, position, goes_up) = position;
    let text = position.to_string();
    canvas.text(&text, *x, base, POSITION_SIZE, Face::Bold, Anchor::Middle);
    if let Some(goes_up) = goes_up {
        let right = x - Face::Bold.width(&text, POSITION_SIZE) / 2.0 - 0.2;
        let (high, low) = (base - POSITION_SIZE * CAPITAL, base);
        let (tip, foot) = if *goes_up { (high, low) } else { (low, high) };
        let points = [
            canvas.point(right - 0.7, foot),
            canvas.point(right, foot),
            canvas.point(right - 0.35, tip),
        ];
        let wedge = Mark::polygon(&points, Some(Ink::Black), None);
        canvas.marks.push(wedge);
    }
}
