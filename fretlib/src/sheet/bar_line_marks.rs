//! Bar lines, repeat signs and the words of the form over them.

use super::canvas::Canvas;
use super::drawing::{Anchor, Ink, Mark};
use super::font::{Face, Sign, defaults};
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
/// The size of a segno or a coda as a fraction of what the font has for a staff.
const SIGN_SCALE: f64 = 0.65;
/// The height of a bracket over the foot of the line.
const BRACKET: f64 = 1.9;
/// The same where a segno or a coda stands on the line.
const BRACKET_OVER_SIGNS: f64 = 3.2;
/// Space after a word or a sign.
const AFTER_WORD: f64 = 0.8;

/// A word of the form, or a sign.
enum FormMark {
    Word(String),
    Sign(Sign),
}

impl FormMark {
    fn width(&self) -> f64 {
        match self {
            FormMark::Word(text) => Face::Italic.width(text, WORD_SIZE),
            FormMark::Sign(sign) => sign.advance() * SIGN_SCALE,
        }
    }

    /// Draws it on a line with its foot at `base`.
    fn draw(&self, canvas: &mut Canvas, x: f64, base: f64) {
        match self {
            FormMark::Word(text) => {
                canvas.text(text, x, base, WORD_SIZE, Face::Italic, Anchor::Start);
            }
            FormMark::Sign(sign) => {
                // The coda sign extends below the line on which it stands.
                let foot = sign.bottom() * SIGN_SCALE;
                canvas.small_sign(*sign, x, base - foot, SIGN_SCALE);
            }
        }
    }
}

/// Whether a bar has anything for [`draw_form`] to draw.
pub(super) fn has_form(bar: &MeasuredBar) -> bool {
    let has_mark = |sign: &FormSign| !marks(*sign).is_empty();
    bar.ending.is_some() || bar.opening.iter().chain(&bar.closing).any(has_mark)
}

/// The height of the brackets of a line over its foot.
pub(super) fn bracket_height(line: &[MeasuredBar]) -> f64 {
    let signs = line
        .iter()
        .flat_map(|bar| bar.opening.iter().chain(&bar.closing));
    let mut marks = signs.flat_map(|sign| marks(*sign));
    match marks.any(|mark| matches!(mark, FormMark::Sign(_))) {
        true => BRACKET_OVER_SIGNS,
        false => BRACKET,
    }
}

/// Draws brackets of endings, signs and words of the form on a line with its foot at `base`.
pub(super) fn draw_form(
    canvas: &mut Canvas,
    bar: &MeasuredBar,
    (left, right): (f64, f64),
    base: f64,
    bracket: f64,
) {
    let mut from = left + 0.3;
    if let Some(ending) = bar.ending {
        let y = base - bracket;
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
    let foot = base - 0.2;
    for mark in bar.opening.iter().flat_map(|sign| marks(*sign)) {
        mark.draw(canvas, from, foot);
        from += mark.width() + AFTER_WORD;
    }
    let closing: Vec<FormMark> = bar.closing.iter().flat_map(|sign| marks(*sign)).collect();
    let mut x = right - 0.3 + AFTER_WORD - marks_width(&closing);
    for mark in closing {
        mark.draw(canvas, x, foot);
        x += mark.width() + AFTER_WORD;
    }
}

/// The width of the words and signs over a bar, for the least width of the bar.
pub(super) fn form_width(opening: &[FormSign], closing: &[FormSign], has_ending: bool) -> f64 {
    let signs = opening.iter().chain(closing);
    let marks: Vec<FormMark> = signs.flat_map(|sign| marks(*sign)).collect();
    let number = if has_ending && !marks.is_empty() {
        2.5
    } else {
        0.0
    };
    marks_width(&marks) + number
}

fn marks_width(marks: &[FormMark]) -> f64 {
    marks.iter().map(|it| it.width() + AFTER_WORD).sum()
}

/// What is printed for a sign that is not a bar line. Common practice, no source.
fn marks(sign: FormSign) -> Vec<FormMark> {
    let word = |text: &str| FormMark::Word(text.to_owned());
    match sign {
        FormSign::Segno => vec![FormMark::Sign(Sign::Segno)],
        FormSign::Coda => vec![FormMark::Sign(Sign::Coda), word("Coda")],
        FormSign::ToCoda => vec![word("To Coda"), FormMark::Sign(Sign::Coda)],
        FormSign::Fine => vec![word("Fine")],
        FormSign::Jump(jump) => vec![word(&jump.to_string())],
        FormSign::RepeatEnd(times) if times.get() > 2 => {
            vec![word(&format!("{} times", times.get()))]
        }
        _ => Vec::new(),
    }
}
