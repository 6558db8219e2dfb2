//! Bar lines, repeat signs and the words of the form over them.

use super::canvas::Canvas;
use super::drawing::{Anchor, Ink, Mark};
use super::font::{Face, defaults};
use super::measure::{DOT_RADIUS, DOTS_GAP, MeasuredBar};
use crate::melody::FormSign;

/// The extent of a bar line on a staff or a tablature, and the heights of a repeat sign's dots.
#[derive(Clone, Copy)]
pub(super) struct Stave {
    pub top: f64,
    pub bottom: f64,
    pub dots: [f64; 2],
}

impl Stave {
    /// The five lines: the dots are in the spaces beside the middle one.
    pub const NOTES: Stave = Stave {
        top: 0.0,
        bottom: 4.0,
        dots: [1.5, 2.5],
    };

    /// A tablature: the dots are a third from its edges.
    pub fn tablature(top: f64, bottom: f64) -> Stave {
        let third = (bottom - top) / 3.0;
        Stave {
            top,
            bottom,
            dots: [top + third, bottom - third],
        }
    }
}

/// Draws the end of a bar, whose right edge is at `right`.
pub(super) fn draw_end(
    canvas: &mut Canvas,
    bar: &MeasuredBar,
    next: Option<&MeasuredBar>,
    is_last_of_line: bool,
    right: f64,
    stave: Stave,
) {
    let thin = defaults::THIN_BAR_LINE;
    if bar.written.is_cut_off {
        // The next one is the rest of the same bar.
    } else if bar.ends_repeat().is_some() {
        let dots = draw_thick_and_thin(canvas, right, -1.0, stave);
        draw_dots(canvas, dots, stave);
    } else if next.is_none() || bar.closing.contains(&FormSign::FinalBar) {
        draw_thick_and_thin(canvas, right, -1.0, stave);
    } else if next.is_some_and(MeasuredBar::begins_repeat) && !is_last_of_line {
        // The sign at its beginning is the bar line.
    } else {
        let line =
            |canvas: &mut Canvas, x: f64| canvas.line((x, stave.top), (x, stave.bottom), thin);
        line(canvas, right - thin / 2.0);
        let is_new =
            next.is_some_and(|next| next.section.is_some() || next.signature_before.is_some());
        if is_new || bar.closing.contains(&FormSign::DoubleBar) {
            line(canvas, right - thin * 1.5 - defaults::BAR_LINE_GAP);
        }
    }
}

/// Draws the sign at the start of a repeated strain.
pub(super) fn draw_repeat_start(canvas: &mut Canvas, left: f64, stave: Stave) {
    let dots = draw_thick_and_thin(canvas, left, 1.0, stave);
    draw_dots(canvas, dots, stave);
}

/// A thick line whose outer edge is at `x` and a thin one inwards from it; gives the x for dots.
fn draw_thick_and_thin(canvas: &mut Canvas, x: f64, inwards: f64, stave: Stave) -> f64 {
    let mut line = |x: f64, width: f64| canvas.line((x, stave.top), (x, stave.bottom), width);
    line(
        x + inwards * defaults::THICK_BAR_LINE / 2.0,
        defaults::THICK_BAR_LINE,
    );
    let edge = defaults::THICK_BAR_LINE + defaults::BAR_LINE_GAP;
    line(
        x + inwards * (edge + defaults::THIN_BAR_LINE / 2.0),
        defaults::THIN_BAR_LINE,
    );
    x + inwards * (edge + defaults::THIN_BAR_LINE + DOTS_GAP + DOT_RADIUS)
}

fn draw_dots(canvas: &mut Canvas, x: f64, stave: Stave) {
    for y in stave.dots {
        let centre = canvas.point(x, y);
        let dot = Mark::disc(centre, DOT_RADIUS * canvas.space, Some(Ink::Black), None);
        canvas.marks.push(dot);
    }
}

const WORD_SIZE: f64 = 1.7;

/// Whether a bar has anything for [`draw_form`] to draw.
pub(super) fn has_form(bar: &MeasuredBar) -> bool {
    let is_word = |sign: &FormSign| word(*sign).is_some();
    bar.ending.is_some() || bar.opening.iter().chain(&bar.closing).any(is_word)
}

/// Draws brackets of endings and words of the form on a line with its foot at `base`.
pub(super) fn draw_form(canvas: &mut Canvas, bar: &MeasuredBar, left: f64, right: f64, base: f64) {
    let mut from = left + 0.3;
    if let Some(ending) = bar.ending {
        let y = base - 1.9;
        let width = defaults::TUPLET_BRACKET;
        canvas.line((left, y), (right, y), width);
        if ending.begins {
            canvas.line((left, y), (left, base), width);
            let numbers = format!("{}.", ending.numbers);
            canvas.text(
                &numbers,
                left + 0.5,
                base - 0.3,
                1.5,
                Face::Bold,
                Anchor::Start,
            );
            from += Face::Bold.width(&numbers, 1.5) + 0.8;
        }
        if ending.ends {
            canvas.line((right, y), (right, base), width);
        }
    }
    for text in bar.opening.iter().filter_map(|sign| word(*sign)) {
        canvas.text(
            &text,
            from,
            base - 0.2,
            WORD_SIZE,
            Face::Italic,
            Anchor::Start,
        );
        from += Face::Italic.width(&text, WORD_SIZE) + 0.8;
    }
    let words: Vec<String> = bar.closing.iter().filter_map(|sign| word(*sign)).collect();
    if !words.is_empty() {
        let text = words.join(", ");
        canvas.text(
            &text,
            right - 0.3,
            base - 0.2,
            WORD_SIZE,
            Face::Italic,
            Anchor::End,
        );
    }
}

/// The width of the words over a bar, for the least width of the bar.
pub(super) fn form_width(opening: &[FormSign], closing: &[FormSign], has_ending: bool) -> f64 {
    let words: Vec<String> = opening
        .iter()
        .chain(closing)
        .filter_map(|sign| word(*sign))
        .collect();
    let each = words
        .iter()
        .map(|it| Face::Italic.width(it, WORD_SIZE) + 0.8);
    let number = if has_ending && !words.is_empty() {
        2.5
    } else {
        0.0
    };
    each.sum::<f64>() + number
}

/// The word for a sign that is not a bar line. Common practice, no source.
fn word(sign: FormSign) -> Option<String> {
    Some(match sign {
        FormSign::Segno => "Segno".into(),
        FormSign::Coda => "Coda".into(),
        FormSign::ToCoda => "To Coda".into(),
        FormSign::Fine => "Fine".into(),
        FormSign::Jump(jump) => jump.to_string(),
        FormSign::RepeatEnd(times) if times.get() > 2 => format!("{} times", times.get()),
        _ => return None,
    })
}
