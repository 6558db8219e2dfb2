//! Stems, flags, beams and tuplet numbers.
//!
//! Sources: Gould, *Behind Bars* (2011), "Ground rules", and Ross, *The Art of Music Engraving and Processing* (1970),
//! from memory: a stem is an octave long and points to the middle line or past it; below the middle line it points up,
//! on it and above it down; the stems of a beamed group follow the note farthest from the middle line, and point down
//! in a tie; a beam slants less than the notes do, and is flat when an inner note goes beyond its ends.

use super::canvas::Canvas;
use super::drawing::{Anchor, Ink, Mark};
use super::font::{Face, STEM_DOWN, STEM_UP, Sign, defaults};
use super::measure::has_stem;
use crate::notation::beam::{self, Level};
use crate::notation::rhythm::{Symbol, WrittenBar};

/// A notehead or rest on the page, in staff spaces; y grows downwards from the top line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Head {
    pub x: f64,
    /// The head farthest along the stem.
    pub y: f64,
    /// The head at which the stem begins; the same unless it is a chord.
    pub far: f64,
    /// The far end of its stem, once that is known.
    pub stem: Option<f64>,
}

impl Head {
    /// Whether its stem points up, or would if it had one.
    pub fn stem_up(&self) -> bool {
        match self.stem {
            Some(end) => end < self.y,
            None => self.y > MIDDLE,
        }
    }

    fn stem_x(&self, is_up: bool) -> f64 {
        let half = defaults::STEM / 2.0;
        if is_up {
            self.x + STEM_UP.0 - half
        } else {
            self.x + STEM_DOWN.0 + half
        }
    }
}

/// Which way stems point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Stems {
    /// As the height of each note asks for.
    ByHeight,
    /// Up: the melody over another voice.
    Up,
    /// Down: the voice under a melody.
    Down,
}

impl Stems {
    fn are_up(self, by_height: bool) -> bool {
        match self {
            Stems::ByHeight => by_height,
            Stems::Up => true,
            Stems::Down => false,
        }
    }
}

const MIDDLE: f64 = 2.0;
const LENGTH: f64 = 3.5;
/// From the edge of one beam to the same edge of the next.
const BEAM_STEP: f64 = defaults::BEAM + defaults::BEAM_GAP;

/// Draws the stems of a bar with flags, beams and tuplet numbers; gives the highest and the lowest ink.
pub(super) fn draw(
    canvas: &mut Canvas,
    bar: &WrittenBar,
    heads: &mut [Head],
    stems: Stems,
) -> (f64, f64) {
    let mut edges = (0.0f64, 4.0f64);
    let runs = beam::beams(bar);
    for run in &runs {
        draw_run(canvas, bar, run.clone(), heads, stems);
    }
    for (written, head) in bar.symbols.iter().zip(heads.iter_mut()) {
        let Symbol::Note { tied_on, .. } = written.symbol else {
            continue;
        };
        if head.stem.is_none() && has_stem(written.value) {
            draw_single(canvas, written.value.flags(), head, stems);
        }
        let end = head.stem.unwrap_or(head.y);
        edges.0 = edges.0.min(end).min(head.y - 0.6);
        edges.1 = edges.1.max(end).max(head.y + 0.6);
        // A tie under a low note needs space too.
        if tied_on && head.stem_up() {
            edges.1 = edges.1.max(head.y + 1.6);
        }
    }
    for tuplet in 0..bar.tuplets.len() {
        let (high, low) = draw_tuplet(canvas, bar, tuplet, &runs, heads, stems);
        edges = (edges.0.min(high), edges.1.max(low));
    }
    edges
}

fn draw_single(canvas: &mut Canvas, flags: u8, head: &mut Head, stems: Stems) {
    let is_up = stems.are_up(head.y > MIDDLE);
    let more = 0.75 * f64::from(flags.saturating_sub(2));
    let length = LENGTH - shortened(head.y, is_up) + more;
    let end = if is_up {
        (head.y - length).min(MIDDLE)
    } else {
        (head.y + length).max(MIDDLE)
    };
    head.stem = Some(end);
    draw_stem(canvas, head);
    if flags > 0 {
        let x = head.stem_x(is_up);
        let (sign, x) = if is_up {
            (Sign::FlagUp(flags), x - defaults::STEM / 2.0)
        } else {
            (Sign::FlagDown(flags), x - defaults::STEM / 2.0)
        };
        canvas.sign(sign, x, end);
    }
}

fn draw_stem(canvas: &mut Canvas, head: &Head) {
    let Some(end) = head.stem else { return };
    let is_up = head.stem_up();
    let x = head.stem_x(is_up);
    let start = if is_up {
        head.far - STEM_UP.1
    } else {
        head.far + STEM_DOWN.1
    };
    canvas.line((x, start), (x, end), defaults::STEM);
}

/// By how much a stem is shorter that points away from the middle line, as in one of two voices: more the higher the note
/// stands, up to a space.
fn shortened(y: f64, is_up: bool) -> f64 {
    let away = if is_up { MIDDLE - y } else { y - MIDDLE };
    (0.25 * away).clamp(0.0, 1.0)
}

fn draw_run(
    canvas: &mut Canvas,
    bar: &WrittenBar,
    run: std::ops::Range<usize>,
    heads: &mut [Head],
    stems: Stems,
) {
    let notes = &bar.symbols[run.clone()];
    let heads = &mut heads[run];
    let highest = heads
        .iter()
        .map(|head| MIDDLE - head.y)
        .fold(f64::MIN, f64::max);
    let lowest = heads
        .iter()
        .map(|head| head.y - MIDDLE)
        .fold(f64::MIN, f64::max);
    let is_up = stems.are_up(lowest > highest);
    let towards = if is_up { -1.0 } else { 1.0 };
    let most = notes
        .iter()
        .map(|note| note.value.flags())
        .max()
        .unwrap_or(1);
    let (first, last) = (heads[0], heads[heads.len() - 1]);
    let (first_x, last_x) = (first.stem_x(is_up), last.stem_x(is_up));
    let slope = slant(heads, is_up) / (last_x - first_x).max(1.0);
    // Beams are inside the length of the stems.
    let least = 3.0 + 0.5 * f64::from(most.saturating_sub(2));
    // The end of the first stem: far enough for every note, and past the middle line.
    let at = |x: f64, base: f64| base + slope * (x - first_x);
    let mut base = first.y + towards * LENGTH;
    for head in heads.iter() {
        let x = head.stem_x(is_up);
        let needed = head.y + towards * least - slope * (x - first_x);
        let middle = MIDDLE - slope * (x - first_x);
        base = if is_up {
            base.min(needed).min(middle)
        } else {
            base.max(needed).max(middle)
        };
    }
    for head in heads.iter_mut() {
        head.stem = Some(at(head.stem_x(is_up), base));
        draw_stem(canvas, head);
    }
    let half = defaults::STEM / 2.0;
    let mut draw_beam = |from: f64, to: f64, inward: f64| {
        let thickness = -towards * defaults::BEAM;
        let shift = -towards * inward;
        let points = [
            canvas.point(from, at(from, base) + shift),
            canvas.point(to, at(to, base) + shift),
            canvas.point(to, at(to, base) + shift + thickness),
            canvas.point(from, at(from, base) + shift + thickness),
        ];
        canvas
            .marks
            .push(Mark::polygon(&points, Some(Ink::Black), None));
    };
    draw_beam(first_x - half, last_x + half, 0.0);
    for count in 2..=most {
        let inward = BEAM_STEP * f64::from(count - 1);
        for (at, level) in beam::level(notes, count) {
            let x = heads[at].stem_x(is_up);
            match level {
                Level::Joined => {
                    let next = heads[at + 1].stem_x(is_up);
                    draw_beam(x - half, next + half, inward);
                }
                Level::StubOn => draw_beam(x - half, x + 1.1, inward),
                Level::StubBack => draw_beam(x - 1.1, x + half, inward),
            }
        }
    }
}

/// How much a beam falls from its first stem to its last.
fn slant(heads: &[Head], is_up: bool) -> f64 {
    let (first, last) = (heads[0].y, heads[heads.len() - 1].y);
    let inner = &heads[1..heads.len() - 1];
    let goes_beyond = inner.iter().any(|head| {
        if is_up {
            head.y <= first.min(last)
        } else {
            head.y >= first.max(last)
        }
    });
    if goes_beyond {
        return 0.0;
    }
    let fall: f64 = last - first;
    let width = heads[heads.len() - 1].x - heads[0].x;
    fall.signum() * (fall.abs() * 0.5).min(1.0).min(0.2 * width)
}

/// A number at the beam if the tuplet is one beamed group, else a number in a bracket.
fn draw_tuplet(
    canvas: &mut Canvas,
    bar: &WrittenBar,
    tuplet: usize,
    runs: &[std::ops::Range<usize>],
    heads: &[Head],
    stems: Stems,
) -> (f64, f64) {
    let members: Vec<usize> = (0..heads.len())
        .filter(|&at| bar.symbols[at].tuplet == Some(tuplet))
        .collect();
    let (Some(&first), Some(&last)) = (members.first(), members.last()) else {
        return (0.0, 4.0);
    };
    let is_beamed = runs.iter().any(|run| *run == (first..last + 1));
    let is_up = heads[first].stem_up();
    let is_note = |at: &usize| matches!(bar.symbols[*at].symbol, Symbol::Note { .. });
    if stems == Stems::Down && !members.iter().any(is_note) {
        // A second voice that rests has no tuplet of its own to show.
        return (0.0, 4.0);
    }
    // A beam that goes on past the tuplet may slope to the bracket's side: the bracket stays clear of all of it.
    let beams = runs
        .iter()
        .filter(|run| run.start <= last && run.end > first);
    let beamed = beams.fold(first..last + 1, |all, run| {
        all.start.min(run.start)..all.end.max(run.end)
    });
    let stem_ends = heads[beamed].iter().filter_map(|head| head.stem);
    let (left, right) = (heads[first].x, heads[last].x + STEM_UP.0);
    let label = bar.tuplets[tuplet].count;
    if is_beamed && !is_up {
        let low = stem_ends.fold(4.0, f64::max);
        draw_number(canvas, (left + right) / 2.0, low + 1.9, label);
        return (0.0, low + 2.1);
    }
    if stems == Stems::Down {
        let lowest = members.iter().map(|&at| heads[at].y + 0.9);
        let y = stem_ends.chain(lowest).fold(4.4, f64::max) + 1.1;
        draw_bracket(canvas, (left, right), y, -0.7, label);
        return (0.0, y + 1.0);
    }
    let notes_top = members.iter().map(|&at| heads[at].y - 0.9);
    let top = stem_ends.chain(notes_top).fold(-0.4, f64::min);
    if is_beamed {
        draw_number(canvas, (left + right) / 2.0, top - 0.5, label);
        return (top - 2.1, 4.0);
    }
    let y = top - 1.1;
    draw_bracket(canvas, (left, right), y, 0.7, label);
    (y - 1.0, 4.0)
}

/// A bracket with its number in a gap; its ends reach `hook` down.
fn draw_bracket(canvas: &mut Canvas, (left, right): (f64, f64), y: f64, hook: f64, label: i64) {
    let middle = (left + right) / 2.0;
    let gap = 0.9 + if label > 9 { 0.5 } else { 0.0 };
    let width = defaults::TUPLET_BRACKET;
    canvas.line((left, y + hook), (left, y), width);
    canvas.line((left, y), (middle - gap, y), width);
    canvas.line((middle + gap, y), (right, y), width);
    canvas.line((right, y), (right, y + hook), width);
    draw_number(canvas, middle, y + 0.7, label);
}

fn draw_number(canvas: &mut Canvas, middle: f64, base: f64, number: i64) {
    canvas.text(
        &number.to_string(),
        middle,
        base,
        2.0,
        Face::Italic,
        Anchor::Middle,
    );
}
