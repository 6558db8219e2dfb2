//! The melody on staves: standard notation with tablature under it, system by system.

use super::drawing::{Anchor, Ink, Mark, Point, Stroke, Subject};
use super::font::{Face, Sign, defaults};
use super::measure::{
    self, Bar, break_into_systems, digits, measure, meter_width, number_width, signature_signs,
    signature_width, stretch_to_fill, x_at,
};
use super::stems::{self, Head};
use super::words;
use crate::melody::{AnalysedNote, Melody, Meter, Quarters};
use crate::neck::{Instrument, Place};
use crate::theory::{Key, Membership};

/// What stands around the staff.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Rows {
    /// Chord symbols above.
    pub chords: bool,
    /// The degree under each note.
    pub degrees: bool,
    /// The interval to the next note.
    pub intervals: bool,
    /// The tablature staff; empty when the places are left to be filled in.
    pub tablature: bool,
}

/// A melody and what is known about its notes.
#[derive(Clone, Copy, Debug)]
pub struct Notation<'a> {
    /// The melody.
    pub melody: &'a Melody,
    /// Its notes, one for one.
    pub notes: &'a [AnalysedNote],
    /// The key where the melody declares none.
    pub key: Key,
    /// What it is played on.
    pub instrument: &'a Instrument,
    /// The place of each note, where it has one.
    pub places: &'a [Option<Place>],
    /// What stands around the staff.
    pub rows: Rows,
    /// The staff space in millimetres; a staff is four of them high.
    pub space: f64,
}

/// A drawing to be put on a page, its origin at its top left.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// How high it is in millimetres.
    pub height: f64,
    /// The marks.
    pub marks: Vec<Mark>,
}

/// Type sizes in staff spaces.
pub(super) const DEGREE_SIZE: f64 = 1.75;
pub(super) const INTERVAL_SIZE: f64 = 1.3;
const CHORD_SIZE: f64 = 2.3;
const FRET_SIZE: f64 = 1.7;
/// Between the strings of the tablature staff.
const STRING_GAP: f64 = 1.5;

/// A time as a number for drawing.
pub(super) fn float(time: Quarters) -> f64 {
    *time.numer() as f64 / *time.denom() as f64
}

pub(super) fn chord_width(name: &str) -> f64 {
    let (root, kind) = words::split_chord(name);
    Face::Bold.width(&root, CHORD_SIZE) + Face::Bold.width(&kind, CHORD_SIZE * 0.78)
}

/// The chord symbols that are printed, each where it begins.
pub(super) fn chord_spans(melody: &Melody) -> Vec<(Quarters, String)> {
    let mut before = None;
    melody
        .chords()
        .iter()
        .filter(|(_, chord)| before.replace(**chord) != Some(**chord))
        .map(|(at, chord)| {
            let name = chord.map_or_else(|| "N.C.".to_string(), |chord| chord.to_string());
            (at, words::signs(&name))
        })
        .collect()
}

/// Draws the melody in systems of this width, each broken at a bar line and all but a short last one filled.
pub fn systems(notation: &Notation<'_>, width: f64) -> Vec<Block> {
    let bars = measure(notation);
    let width = width / notation.space;
    let clef = Clef::of(notation.instrument);
    let first_meter = bars.first().and_then(|bar| bar.written.meter);
    let head = |signature: i8, meter: Option<Meter>| {
        HEAD_START
            + clef.sign().advance()
            + 0.8
            + if signature == 0 {
                0.0
            } else {
                signature_width(signature, None) + 0.6
            }
            + meter.map_or(0.0, |meter| meter_width(meter) + 0.6)
    };
    let widest = bars
        .iter()
        .map(|bar| head(bar.signature, None))
        .fold(0.0, f64::max);
    let first_head = bars
        .first()
        .map_or(0.0, |bar| head(bar.signature, first_meter));
    let counts = break_into_systems(&bars, width - first_head, width - widest);
    let mut out = Vec::with_capacity(counts.len());
    let mut start = 0;
    for count in counts {
        let line = &bars[start..start + count];
        let meter = first_meter.filter(|_| start == 0);
        let is_last = start + count == bars.len();
        let room = width - head(line[0].signature, meter);
        let mut stretch = stretch_to_fill(line, room);
        if is_last && room > 1.35 * line.iter().map(|bar| bar.width(1.0)).sum::<f64>() {
            stretch = 1.1;
        }
        let system = System {
            notation,
            clef,
            line,
            meter,
            head: head(line[0].signature, meter),
            stretch,
            is_first: start == 0,
            is_last,
            changes_next: bars.get(start + count),
        };
        out.push(system.draw());
        start += count;
    }
    out
}

const HEAD_START: f64 = 0.6;

#[derive(Clone, Copy)]
struct Clef {
    is_bass: bool,
    is_octave_down: bool,
}

impl Clef {
    /// The bass clef for instruments whose highest string is written below middle C; a small 8 under either when the
    /// instrument sounds an octave lower than written.
    ///
    /// Common practice for guitar and bass guitar, no source.
    fn of(instrument: &Instrument) -> Clef {
        let highest = instrument.strings().iter().map(|open| open.midi()).max();
        Clef {
            is_bass: highest.is_some_and(|midi| midi < 60),
            is_octave_down: instrument.sounding().semitones() == -12,
        }
    }

    fn sign(self) -> Sign {
        match (self.is_bass, self.is_octave_down) {
            (false, false) => Sign::TrebleClef,
            (false, true) => Sign::TrebleClefOctaveDown,
            (true, false) => Sign::BassClef,
            (true, true) => Sign::BassClefOctaveDown,
        }
    }

    /// The diatonic step of the top line: F5, or A3.
    fn top_step(self) -> i8 {
        if self.is_bass { 26 } else { 38 }
    }

    /// The line it stands on.
    fn line(self) -> f64 {
        if self.is_bass { 1.0 } else { 3.0 }
    }

    /// How far below the top line each accidental of a signature stands, treble clef.
    ///
    /// Source: the usual zigzag of key signatures, Gould, *Behind Bars* (2011), "Key signatures", from memory.
    fn signature_heights(self, sign: Sign) -> [f64; 7] {
        let heights = match sign {
            Sign::Sharp => [0.0, 1.5, -0.5, 1.0, 2.5, 0.5, 2.0],
            _ => [2.0, 0.5, 2.5, 1.0, 3.0, 1.5, 3.5],
        };
        heights.map(|height| if self.is_bass { height + 1.0 } else { height })
    }
}

struct System<'a> {
    notation: &'a Notation<'a>,
    clef: Clef,
    line: &'a [Bar],
    meter: Option<Meter>,
    head: f64,
    stretch: f64,
    is_first: bool,
    is_last: bool,
    changes_next: Option<&'a Bar>,
}

/// Marks in staff spaces, x from the left margin and y down from the top line.
pub(super) struct Canvas {
    space: f64,
    pub marks: Vec<Mark>,
}

impl Canvas {
    pub fn point(&self, x: f64, y: f64) -> Point {
        Point::new(x * self.space, y * self.space)
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64) {
        let stroke = Stroke::solid(width * self.space, Ink::Black);
        let mark = Mark::line(self.point(from.0, from.1), self.point(to.0, to.1), stroke);
        self.marks.push(mark);
    }

    pub fn sign(&mut self, sign: Sign, x: f64, y: f64) {
        let at = self.point(x, y);
        self.marks.push(Mark::Sign {
            sign,
            at,
            space: self.space,
            ink: Ink::Black,
        });
    }

    pub fn text(&mut self, text: &str, x: f64, y: f64, size: f64, face: Face, anchor: Anchor) {
        let mark = Mark::text(text, self.point(x, y), size * self.space, face, anchor);
        self.marks.push(mark);
    }

    /// The marks made by `draw`, as one group.
    fn group(&mut self, subject: Subject, draw: impl FnOnce(&mut Canvas)) {
        let before = std::mem::take(&mut self.marks);
        draw(self);
        let marks = std::mem::replace(&mut self.marks, before);
        if !marks.is_empty() {
            self.marks.push(Mark::Group { subject, marks });
        }
    }
}

impl System<'_> {
    fn draw(&self) -> Block {
        let mut canvas = Canvas {
            space: self.notation.space,
            marks: Vec::new(),
        };
        let mut left = self.head;
        let mut lefts = Vec::with_capacity(self.line.len());
        let mut heads: Vec<Vec<Head>> = Vec::with_capacity(self.line.len());
        for bar in self.line {
            let positions = bar.positions(self.stretch);
            heads.push(self.heads(bar, left, &positions));
            lefts.push(left);
            left += bar.width(self.stretch);
        }
        let right = left;
        self.staff(&mut canvas, right);
        self.head_signs(&mut canvas);
        let (mut top, mut bottom) = (-1.0f64, 5.0f64);
        for ((bar, heads), left) in self.line.iter().zip(&mut heads).zip(&lefts) {
            self.bar_signs(&mut canvas, bar, *left);
            let (high, low) = stems::draw(&mut canvas, bar, heads);
            top = top.min(high);
            bottom = bottom.max(low);
        }
        self.ties(&mut canvas, &heads, right);
        for (bar, heads) in self.line.iter().zip(&heads) {
            self.symbols(&mut canvas, bar, heads);
        }
        let top = self.above(&mut canvas, &lefts, top);
        let bottom = self.below(&mut canvas, &heads, &lefts, right, bottom);
        let space = self.notation.space;
        let marks = canvas.marks.into_iter();
        Block {
            height: (bottom - top) * space,
            marks: marks.map(|mark| mark.moved(0.0, -top * space)).collect(),
        }
    }

    fn heads(&self, bar: &Bar, left: f64, positions: &[f64]) -> Vec<Head> {
        let columns = bar.columns.iter().zip(positions);
        columns
            .map(|(column, x)| Head {
                x: left + x,
                y: column.pitch.map_or(2.0, |pitch| {
                    f64::from(self.clef.top_step() - pitch.steps()) / 2.0
                }),
                stem: None,
            })
            .collect()
    }

    fn staff(&self, canvas: &mut Canvas, right: f64) {
        for line in 0..5 {
            let y = f64::from(line);
            canvas.line((0.0, y), (right, y), defaults::STAFF_LINE);
        }
    }

    fn head_signs(&self, canvas: &mut Canvas) {
        let mut x = HEAD_START;
        canvas.sign(self.clef.sign(), x, self.clef.line());
        x += self.clef.sign().advance() + 0.8;
        let signature = self.line[0].signature;
        if signature != 0 {
            self.signature(canvas, x, signature, None);
            x += signature_width(signature, None) + 0.6;
        }
        if let Some(meter) = self.meter {
            draw_meter(canvas, x, meter);
        }
        if !self.is_first {
            let number = self.line[0].written.number.to_string();
            canvas.text(&number, 0.0, -2.0, 1.4, Face::Italic, Anchor::Start);
        }
    }

    fn signature(&self, canvas: &mut Canvas, x: f64, signature: i8, before: Option<i8>) {
        let (sign, count) = signature_signs(signature, before);
        let shape = match (sign, before) {
            (Sign::Natural, Some(1..)) => Sign::Sharp,
            _ => sign,
        };
        let heights = self.clef.signature_heights(shape);
        for (place, height) in heights.iter().take(count.into()).enumerate() {
            canvas.sign(sign, x + place as f64 * sign.advance(), *height);
        }
    }

    /// What stands at the beginning of a bar, and the bar line at its end.
    fn bar_signs(&self, canvas: &mut Canvas, bar: &Bar, left: f64) {
        let right = left + bar.width(self.stretch);
        let is_first_of_line = std::ptr::eq(bar, &self.line[0]);
        let mut x = left + measure::AFTER_BAR_LINE;
        if let Some(before) = bar.signature_before.filter(|_| !is_first_of_line) {
            self.signature(canvas, x, bar.signature, Some(before));
            x += signature_width(bar.signature, Some(before)) + 1.0;
        }
        if let Some(meter) = bar.new_meter {
            draw_meter(canvas, x, meter);
        }
        let is_last_of_line = self.line.last().is_some_and(|last| std::ptr::eq(bar, last));
        let next = if is_last_of_line {
            self.changes_next
        } else {
            let at = self.line.iter().position(|it| std::ptr::eq(it, bar));
            at.and_then(|at| self.line.get(at + 1))
        };
        let staves = self.staves();
        for (top, bottom) in staves {
            if is_last_of_line && self.is_last {
                let thick = right - defaults::THICK_BAR_LINE / 2.0;
                let thin = right
                    - defaults::THICK_BAR_LINE
                    - defaults::BAR_LINE_GAP
                    - defaults::THIN_BAR_LINE / 2.0;
                canvas.line((thin, top), (thin, bottom), defaults::THIN_BAR_LINE);
                canvas.line((thick, top), (thick, bottom), defaults::THICK_BAR_LINE);
                continue;
            }
            let x = right - defaults::THIN_BAR_LINE / 2.0;
            canvas.line((x, top), (x, bottom), defaults::THIN_BAR_LINE);
            let is_double =
                next.is_some_and(|next| next.section.is_some() || next.signature_before.is_some());
            if is_double {
                let x = x - defaults::BAR_LINE_GAP - defaults::THIN_BAR_LINE;
                canvas.line((x, top), (x, bottom), defaults::THIN_BAR_LINE);
            }
        }
    }

    fn staves(&self) -> Vec<(f64, f64)> {
        vec![(0.0, 4.0)]
    }

    /// Heads, accidentals, dots, ledger lines and rests, a group for each note.
    fn symbols(&self, canvas: &mut Canvas, bar: &Bar, heads: &[Head]) {
        for (at, (column, head)) in bar.columns.iter().zip(heads).enumerate() {
            let Some(index) = super::beam::note_index(&column.written) else {
                draw_rest(canvas, bar, at, heads, self.stretch);
                continue;
            };
            let subject = Subject::Note(index + 1, self.in_words(index));
            canvas.group(subject, |canvas| {
                let width = column.sign().advance();
                ledger_lines(canvas, head, width);
                let mut x = head.x - column.left;
                for sign in column.accidentals {
                    canvas.sign(*sign, x, head.y);
                    x += sign.advance() + 0.2;
                }
                canvas.sign(column.sign(), head.x, head.y);
                draw_dots(canvas, head.x + width, head.y, column.written.dots);
            });
        }
    }

    fn in_words(&self, index: usize) -> String {
        let Some(note) = self.notation.notes.get(index) else {
            return String::new();
        };
        let place = self.notation.places.get(index).copied().flatten();
        words::note(index, note, place)
    }

    /// Ties between the symbols of one note, and half ties over the ends of the line.
    fn ties(&self, canvas: &mut Canvas, heads: &[Vec<Head>], right: f64) {
        use super::rhythm::Symbol;
        let mut open: Option<(f64, f64, bool)> = None;
        for (bar, heads) in self.line.iter().zip(heads) {
            for (column, head) in bar.columns.iter().zip(heads) {
                let Symbol::Note {
                    tied_back, tied_on, ..
                } = column.written.symbol
                else {
                    continue;
                };
                // A tie curves away from the stem; without one, as the stem would have it.
                let is_below = head.stem_up();
                let width = column.sign().advance();
                if tied_back {
                    let (from, y, below) =
                        open.take().unwrap_or((self.head - 1.2, head.y, is_below));
                    draw_tie(canvas, from, head.x - 0.1, y, below);
                }
                if tied_on {
                    let from = head.x + width + 0.1;
                    let dots = f64::from(column.written.dots) * 0.6;
                    open = Some((from + dots, head.y, is_below));
                }
            }
        }
        if let Some((from, y, below)) = open {
            draw_tie(canvas, from, (right - 0.3).max(from + 1.0), y, below);
        }
    }

    /// Chord symbols and section letters; gives the top edge of the system.
    fn above(&self, canvas: &mut Canvas, lefts: &[f64], top: f64) -> f64 {
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
    fn below(
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
        use super::rhythm::Symbol;
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

fn draw_meter(canvas: &mut Canvas, x: f64, meter: Meter) {
    let width = meter_width(meter);
    for (number, y) in [(meter.count(), 1.0), (meter.unit(), 3.0)] {
        let mut at = x + (width - number_width(number)) / 2.0;
        for digit in digits(number) {
            let sign = Sign::TimeDigit(digit);
            canvas.sign(sign, at, y);
            at += sign.advance();
        }
    }
}

fn draw_chord(canvas: &mut Canvas, x: f64, y: f64, name: &str) {
    let (root, kind) = words::split_chord(name);
    let size = CHORD_SIZE;
    canvas.text(&root, x, y, size, Face::Bold, Anchor::Start);
    if !kind.is_empty() {
        let x = x + Face::Bold.width(&root, size) + 0.05;
        canvas.text(&kind, x, y - 0.35, size * 0.78, Face::Bold, Anchor::Start);
    }
}

fn draw_rest(canvas: &mut Canvas, bar: &Bar, at: usize, heads: &[Head], stretch: f64) {
    use super::rhythm::Symbol;
    let (column, head) = (&bar.columns[at], &heads[at]);
    let sign = column.sign();
    // A whole rest hangs from the fourth line, the others stand about the middle one.
    let y = if sign == Sign::RestWhole { 1.0 } else { 2.0 };
    let x = if column.written.symbol == Symbol::BarRest {
        let middle = (bar.width(stretch) - bar.start()) / 2.0;
        head.x + middle - measure::AFTER_BAR_LINE / 2.0 - sign.advance() / 2.0
    } else {
        head.x
    };
    canvas.sign(sign, x, y);
    draw_dots(canvas, x + sign.advance(), 2.0, column.written.dots);
}

/// Dots stand in spaces: those of a note on a line go half a space up.
fn draw_dots(canvas: &mut Canvas, right: f64, y: f64, count: u8) {
    let is_on_line = (y - y.round()).abs() < 0.1;
    let y = if is_on_line { y - 0.5 } else { y };
    let mut x = right + measure::DOT_GAP;
    for _ in 0..count {
        canvas.sign(Sign::Dot, x, y);
        x += Sign::Dot.advance() + measure::DOT_GAP;
    }
}

fn ledger_lines(canvas: &mut Canvas, head: &Head, width: f64) {
    let (from, to) = (
        head.x - defaults::LEDGER_EXTENSION,
        head.x + width + defaults::LEDGER_EXTENSION,
    );
    let mut y = -1.0;
    while y >= head.y {
        canvas.line((from, y), (to, y), defaults::LEDGER_LINE);
        y -= 1.0;
    }
    y = 5.0;
    while y <= head.y {
        canvas.line((from, y), (to, y), defaults::LEDGER_LINE);
        y += 1.0;
    }
}

/// A tie from head to head, thicker in the middle.
fn draw_tie(canvas: &mut Canvas, from: f64, to: f64, y: f64, is_below: bool) {
    use super::drawing::Segment;
    let side = if is_below { 1.0 } else { -1.0 };
    let y = y + side * 0.65;
    let length = (to - from).max(0.5);
    let rise = side * (0.35 + 0.06 * length).min(1.1);
    let handle = length * 0.25;
    let thick = side * (defaults::TIE_MIDDLE - defaults::TIE_END);
    let at = |x: f64, y: f64| canvas.point(x, y);
    let (start, end) = (at(from, y), at(to.max(from + 0.5), y));
    let over = 4.0 / 3.0;
    let path = vec![
        Segment::Move(start),
        Segment::Cubic(
            at(from + handle, y + over * (rise + thick)),
            at(to - handle, y + over * (rise + thick)),
            end,
        ),
        Segment::Cubic(
            at(to - handle, y + over * (rise - thick)),
            at(from + handle, y + over * (rise - thick)),
            start,
        ),
        Segment::Close,
    ];
    let stroke = Stroke::solid(defaults::TIE_END * canvas.space, Ink::Black);
    canvas.marks.push(Mark::Shape {
        path,
        fill: Some(Ink::Black),
        stroke: Some(stroke),
    });
}
