//! Drawing in staff spaces, and signs that are drawn the same everywhere.

use super::drawing::{Anchor, Ink, Mark, Point, Segment, SignMark, Stroke, Subject};
use super::font::{Face, Sign, defaults};
use super::measure::{self, MeasuredBar, digits, meter_width, number_width};
use super::staff_block::CHORD_SIZE;
use super::stems::Head;
use super::words;
use crate::melody::Meter;
use crate::notation::rhythm::Symbol;

/// Marks in staff spaces, x from the left margin and y down from the top line.
pub(super) struct Canvas {
    pub space: f64,
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
        self.small_sign(sign, x, y, 1.0);
    }

    /// A sign at a fraction of its size.
    pub fn small_sign(&mut self, sign: Sign, x: f64, y: f64, scale: f64) {
        let at = self.point(x, y);
        self.marks.push(Mark::Sign(SignMark {
            sign,
            at,
            space: self.space * scale,
            ink: Ink::Black,
        }));
    }

    pub fn text(&mut self, text: &str, x: f64, y: f64, size: f64, face: Face, anchor: Anchor) {
        let mark = Mark::text(text, self.point(x, y), size * self.space, face, anchor);
        self.marks.push(mark);
    }

    /// The marks made by `draw`, as one group.
    pub fn group(&mut self, subject: Subject, draw: impl FnOnce(&mut Canvas)) {
        let before = std::mem::take(&mut self.marks);
        draw(self);
        let mut marks = std::mem::replace(&mut self.marks, before);
        if !marks.is_empty() {
            // Most groups hold one or two marks, and a page has thousands of groups.
            marks.shrink_to_fit();
            self.marks.push(Mark::Group { subject, marks });
        }
    }
}

pub(super) fn draw_meter(canvas: &mut Canvas, x: f64, meter: Meter) {
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

pub(super) fn draw_chord(canvas: &mut Canvas, x: f64, y: f64, name: &str) {
    let (root, kind) = words::split_chord(name);
    let size = CHORD_SIZE;
    canvas.text(&root, x, y, size, Face::Bold, Anchor::Start);
    if !kind.is_empty() {
        let x = x + Face::Bold.width(&root, size) + 0.05;
        canvas.text(&kind, x, y - 0.35, size * 0.78, Face::Bold, Anchor::Start);
    }
}

pub(super) fn draw_rest(
    canvas: &mut Canvas,
    bar: &MeasuredBar,
    at: usize,
    heads: &[Head],
    stretch: f64,
) {
    let (column, head) = (&bar.columns[at], &heads[at]);
    if bar.bars > 1 {
        let left = head.x - bar.start();
        let right = left + bar.width(stretch) - bar.trail;
        return draw_long_rest(canvas, bar.bars, (head.x, right - measure::AFTER_BAR_LINE));
    }
    let sign = column.sign();
    // A whole rest hangs from the fourth line; the others are centred on the middle one.
    // Over another voice they stand higher.
    let written = &column.written;
    let end = written.onset + written.duration;
    let is_over = bar
        .second
        .as_ref()
        .is_some_and(|it| it.sounds_in(written.onset, end));
    let up = if is_over { 3.0 } else { 0.0 };
    let y = if sign == Sign::RestWhole { 1.0 } else { 2.0 } - up;
    let x = if column.written.symbol == Symbol::BarRest {
        let middle = (bar.width(stretch) - bar.start()) / 2.0;
        head.x + middle - measure::AFTER_BAR_LINE / 2.0 - sign.advance() / 2.0
    } else {
        head.x
    };
    canvas.sign(sign, x, y);
    draw_dots(
        canvas,
        x + sign.advance(),
        2.0 - up,
        column.written.value.dots(),
    );
}

/// A rest of several bars: a thick stroke on the middle line, and over the staff how many they are.
///
/// Source: Gould, *Behind Bars* (2011), "Multi-bar rests", from memory.
fn draw_long_rest(canvas: &mut Canvas, bars: usize, (from, to): (f64, f64)) {
    canvas.line((from, 2.0), (to, 2.0), 0.7);
    for x in [from, to] {
        canvas.line((x, 1.0), (x, 3.0), defaults::THIN_BAR_LINE);
    }
    let bars = u32::try_from(bars).unwrap_or(u32::MAX);
    let mut x = (from + to - number_width(bars)) / 2.0;
    for digit in digits(bars) {
        let sign = Sign::TimeDigit(digit);
        canvas.sign(sign, x, -1.6);
        x += sign.advance();
    }
}

/// Dots are in spaces: those of a note on a line go half a space up.
pub(super) fn draw_dots(canvas: &mut Canvas, right: f64, y: f64, count: u8) {
    let is_on_line = (y - y.round()).abs() < 0.1;
    let y = if is_on_line { y - 0.5 } else { y };
    let mut x = right + measure::DOT_GAP;
    for _ in 0..count {
        canvas.sign(Sign::Dot, x, y);
        x += Sign::Dot.advance() + measure::DOT_GAP;
    }
}

pub(super) fn ledger_lines(canvas: &mut Canvas, head: &Head, width: f64) {
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
pub(super) fn draw_tie(canvas: &mut Canvas, from: f64, to: f64, y: f64, is_below: bool) {
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
