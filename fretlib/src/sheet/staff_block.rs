//! The melody on staves: standard notation with tablature under it, system by system.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::bar_line_marks::{Stave, draw_end, draw_repeat_start};
use super::canvas::{Canvas, draw_dots, draw_meter, draw_rest, draw_tie, ledger_lines};
use super::clef::Clef;
use super::drawing::{Mark, Subject};
use super::font::{Face, Sign, defaults};
use super::measure::{
    self, MeasuredBar, break_into_systems, measure, meter_width, signature_signs, signature_width,
    stretch_to_fill,
};
use super::skyline::Skyline;
use super::stems::{self, Head, Stems};
use super::words;
use crate::arranging::LowerChord;
use crate::melody::{AnalysedNote, Melody, Meter, Quarters, Syllable};
use crate::neck::{Finger, Instrument, Place, Position};
use crate::notation::beam::note_index;
use crate::notation::rhythm::Symbol;
use crate::theory::Key;

/// What stands around the staff.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Rows {
    /// Chord symbols above.
    pub chords: bool,
    /// The degree under each note.
    pub degrees: bool,
    /// The degree of each note over its chord.
    pub chord_tones: bool,
    /// The interval to the next note.
    pub intervals: bool,
    /// The tablature staff; empty when the places are left to be filled in.
    pub tablature: bool,
    /// Diagrams of what is struck under the melody, over the staff.
    pub diagrams: bool,
    /// The fingers under the tablature, and the positions over it.
    pub fingering: bool,
    /// What is sung, a line a verse under the staff.
    pub lyrics: bool,
}

/// The place and finger of a note.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct TabPlace {
    /// The string and the fret.
    pub place: Place,
    /// The finger; `None` on an open string.
    pub finger: Option<Finger>,
    /// The position in which the hand stands.
    pub position: Position,
}

/// A melody, its notes analysed, and their places.
#[derive(Clone, Copy, Debug)]
pub struct TuneOnNeck<'a> {
    /// The melody.
    pub melody: &'a Melody,
    /// Its notes, one for one.
    pub notes: &'a [AnalysedNote],
    /// The key where the melody declares none.
    pub key: Key,
    /// What it is played on.
    pub instrument: &'a Instrument,
    /// The place of each note, if it has one.
    pub places: &'a [Option<TabPlace>],
    /// What lies under the melody, in order, none overlapping; empty when it stands alone.
    pub under: &'a [LowerChord],
}

/// What is drawn as notation, and how.
#[derive(Clone, Copy, Debug)]
pub struct Notation<'a> {
    /// The tune and its places.
    pub tune: TuneOnNeck<'a>,
    /// What stands around the staff.
    pub rows: Rows,
    /// What was heard of each note as a sign, empty where it was right; no signs at all without a take.
    pub heard: &'a [String],
    /// Whether the answers of the exercise are left blank.
    pub is_blank: bool,
    /// How many bars go on a line; as the source has them, or four, when it is left open.
    pub bars_per_line: Option<usize>,
    /// The staff space in millimetres; a staff is four of them high.
    pub space: f64,
}

impl Notation<'_> {
    /// The degree of a note, as printed.
    pub(super) fn degree(&self, index: usize) -> String {
        let note = self.tune.notes.get(index);
        note.map_or(String::new(), |note| words::signs(&note.degree.to_string()))
    }

    /// The degree of a note over its chord, as printed; `None` without a chord.
    pub(super) fn chord_tone(&self, index: usize) -> String {
        let over = |note: &AnalysedNote| Some(note.chord?.degree(note.note.pitch.class()));
        let tone = self.tune.notes.get(index).and_then(over);
        tone.map_or(String::new(), |tone| words::signs(&tone.to_string()))
    }

    /// The sign of what was heard of a note.
    pub(super) fn heard(&self, index: usize) -> &str {
        self.heard.get(index).map_or("", String::as_str)
    }

    /// What is sung to a note, in order of verses.
    pub(super) fn sung(&self, index: usize) -> &[Syllable] {
        let lyrics = self.tune.melody.lyrics();
        let Some(note) = self
            .tune
            .melody
            .notes()
            .get(index)
            .filter(|_| self.rows.lyrics)
        else {
            return &[];
        };
        let first = lyrics.partition_point(|it| it.onset < note.onset);
        let after = lyrics.partition_point(|it| it.onset <= note.onset);
        &lyrics[first..after]
    }

    /// The place of a note, if it is shown.
    pub(super) fn shown_place(&self, index: usize) -> Option<TabPlace> {
        let place = self.tune.places.get(index).copied().flatten();
        place.filter(|_| !self.is_blank)
    }

    /// A note in words.
    fn in_words(&self, index: usize) -> String {
        let Some(note) = self.tune.notes.get(index) else {
            return String::new();
        };
        if self.is_blank {
            return format!("note {}, bar {}", index + 1, note.bar);
        }
        let place = self.shown_place(index);
        words::note(index, note, place.map(|it| it.place))
    }
}

/// A drawing for a page, with its origin at the top left.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Its height in millimetres.
    pub height: f64,
    /// The marks.
    pub marks: Vec<Mark>,
}

/// Type sizes in staff spaces. At the smallest staff, 6 mm, a figure on the tablature is 7 points high.
pub(super) const DEGREE_SIZE: f64 = 1.7;
pub(super) const INTERVAL_SIZE: f64 = 1.3;
pub(super) const CHORD_SIZE: f64 = 2.2;
pub(super) const FRET_SIZE: f64 = 1.7;
pub(super) const FINGER_SIZE: f64 = 1.45;
pub(super) const LYRIC_SIZE: f64 = 1.7;
pub(super) const HEARD_SIZE: f64 = 2.0;

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

/// Draws the melody in systems of this width, broken at bar lines; short systems are not stretched to fill it.
pub fn systems(notation: &Notation<'_>, width: f64) -> Vec<Block> {
    let bars = measure(notation);
    let width = width / notation.space;
    let clef = Clef::of(notation.tune.instrument);
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
    let counts = break_into_systems(
        &bars,
        notation.tune.melody.line_breaks(),
        notation.bars_per_line,
        width - first_head,
        width - widest,
    );
    let full = |bars: &[MeasuredBar]| bars.iter().filter(|bar| bar.is_full()).count().max(1);
    let lines = counts.iter().scan(0, |start, count| {
        let line = &bars[*start..*start + count];
        *start += count;
        Some(full(line))
    });
    let mut lengths: Vec<usize> = lines.collect();
    lengths.sort_unstable();
    let usual = lengths.get(lengths.len() / 2).copied().unwrap_or(1);
    let mut out = Vec::with_capacity(counts.len());
    // What was measured is dropped line by line, as the marks of the lines grow.
    let mut bars = bars.into_iter();
    for count in counts {
        let is_first = out.is_empty();
        let mut line: Vec<MeasuredBar> = bars.by_ref().take(count).collect();
        line[0].begin_line();
        let meter = first_meter.filter(|_| is_first);
        let room = width - head(line[0].signature, meter);
        // A line with half the usual number of bars is half as long, unless its contents need more; most lines are
        // full.
        let share = match full(&line) as f64 / usual as f64 {
            share if share < 0.7 => share,
            _ => 1.0,
        };
        let ideal = line.iter().map(|bar| bar.width(1.0)).sum::<f64>();
        let share = share.max((ideal / room).min(1.0));
        let stretch = stretch_to_fill(&line, room * share);
        let system = System {
            notation,
            clef,
            line: &line,
            meter,
            head: head(line[0].signature, meter),
            stretch,
            is_first,
            changes_next: bars.as_slice().first(),
            descriptions: descriptions(notation, &line),
        };
        out.push(system.draw());
    }
    out
}

const HEAD_START: f64 = 0.6;

pub(super) struct System<'a> {
    pub notation: &'a Notation<'a>,
    pub clef: Clef,
    pub line: &'a [MeasuredBar],
    pub meter: Option<Meter>,
    pub head: f64,
    pub stretch: f64,
    pub is_first: bool,
    pub changes_next: Option<&'a MeasuredBar>,
    // Those of its notes in words, for all the marks of each.
    descriptions: BTreeMap<usize, Arc<str>>,
}

fn descriptions(notation: &Notation<'_>, line: &[MeasuredBar]) -> BTreeMap<usize, Arc<str>> {
    let columns = line.iter().flat_map(|bar| &bar.columns);
    columns
        .filter_map(|column| note_index(&column.written))
        .map(|index| (index, notation.in_words(index).into()))
        .collect()
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
        for ((bar, heads), left) in self.line.iter().zip(&mut heads).zip(&lefts) {
            self.bar_signs(&mut canvas, bar, *left);
            let stems = match self.notation.is_arranged() {
                true => Stems::Up,
                false => Stems::ByHeight,
            };
            stems::draw(&mut canvas, &bar.written, heads, stems);
        }
        self.ties(&mut canvas, &heads, right);
        self.second_voice(&mut canvas, &lefts, right);
        for (bar, heads) in self.line.iter().zip(&heads) {
            self.symbols(&mut canvas, bar, heads);
        }
        let skyline = Skyline::of(&canvas);
        self.above(&mut canvas, &skyline, &lefts, right);
        self.below(&mut canvas, &skyline, &heads, &lefts, right);
        let space = self.notation.space;
        let edges = canvas.marks.iter().filter_map(Mark::bounds);
        let (top, bottom) = edges.fold((0.0f64, 4.0 * space), |(top, bottom), it| {
            (top.min(it.top), bottom.max(it.bottom))
        });
        let marks = canvas.marks.into_iter();
        let mut marks: Vec<Mark> = marks.map(|mark| mark.moved(0.0, -top)).collect();
        marks.shrink_to_fit();
        let figure = Mark::Group {
            subject: Subject::Figure(self.spoken()),
            marks,
        };
        Block {
            height: bottom - top,
            marks: vec![figure],
        }
    }

    /// A description of the line for screen readers.
    fn spoken(&self) -> String {
        let first = self.line.first().map_or(0, |bar| bar.written.number);
        let last = self
            .line
            .last()
            .map_or(0, |bar| bar.written.number as usize + bar.bars - 1);
        let notes = self.line.iter().flat_map(|bar| &bar.columns);
        let begun = notes.filter_map(|column| match column.written.symbol {
            Symbol::Note {
                index,
                tied_back: false,
                ..
            } => Some(self.in_words(index)),
            _ => None,
        });
        let notes: Vec<Arc<str>> = begun.collect();
        format!("Bars {first} to {last}. {}", notes.join("; "))
    }

    fn heads(&self, bar: &MeasuredBar, left: f64, positions: &[f64]) -> Vec<Head> {
        let columns = bar.columns.iter().zip(positions);
        columns
            .map(|(column, x)| {
                let y = column.pitch.map_or(2.0, |pitch| {
                    f64::from(self.clef.top_step() - pitch.steps()) / 2.0
                });
                (x, y)
            })
            .map(|(x, y)| Head {
                x: left + x,
                y,
                far: y,
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

    /// The signs at the start of a bar, and the bar line at its end.
    fn bar_signs(&self, canvas: &mut Canvas, bar: &MeasuredBar, left: f64) {
        let right = left + bar.width(self.stretch);
        let repeat = if bar.begins_repeat() {
            measure::REPEAT_WIDTH + 0.4
        } else {
            0.0
        };
        let mut x = left + measure::AFTER_BAR_LINE + repeat;
        if let Some(before) = bar.signature_before {
            self.signature(canvas, x, bar.signature, Some(before));
            x += signature_width(bar.signature, Some(before)) + 1.0;
        }
        if let Some(meter) = bar.new_meter {
            draw_meter(canvas, x, meter);
        }
        if bar.begins_repeat() {
            draw_repeat_start(canvas, left, Stave::NOTES);
        }
        draw_end(
            canvas,
            bar,
            self.next(bar),
            self.ends_line(bar),
            right,
            Stave::NOTES,
        );
    }

    /// Whether a bar is the last of the line.
    pub fn ends_line(&self, bar: &MeasuredBar) -> bool {
        self.line.last().is_some_and(|last| std::ptr::eq(bar, last))
    }

    /// The next bar, possibly on the next line.
    pub fn next(&self, bar: &MeasuredBar) -> Option<&MeasuredBar> {
        if self.ends_line(bar) {
            return self.changes_next;
        }
        let at = self.line.iter().position(|it| std::ptr::eq(it, bar));
        at.and_then(|at| self.line.get(at + 1))
    }

    /// Heads, accidentals, dots, ledger lines and rests, grouped by note.
    fn symbols(&self, canvas: &mut Canvas, bar: &MeasuredBar, heads: &[Head]) {
        for (at, (column, head)) in bar.columns.iter().zip(heads).enumerate() {
            let Some(index) = note_index(&column.written) else {
                draw_rest(canvas, bar, at, heads, self.stretch);
                continue;
            };
            let subject = Subject::Note(index + 1, self.in_words(index));
            canvas.group(subject, |canvas| {
                let width = column.sign().advance();
                ledger_lines(canvas, head, width);
                let mut x = head.x - column.accidental_left;
                for sign in column.accidentals {
                    canvas.sign(*sign, x, head.y);
                    x += sign.advance() + 0.2;
                }
                canvas.sign(column.sign(), head.x, head.y);
                draw_dots(
                    canvas,
                    head.x + column.dots_at,
                    head.y,
                    column.written.value.dots(),
                );
            });
        }
    }

    /// A note in words.
    pub fn in_words(&self, index: usize) -> Arc<str> {
        let known = self.descriptions.get(&index).cloned();
        known.unwrap_or_else(|| self.notation.in_words(index).into())
    }

    /// Ties between the symbols of one note, and half ties over the ends of the line.
    fn ties(&self, canvas: &mut Canvas, heads: &[Vec<Head>], right: f64) {
        let mut open: Option<(f64, f64, bool)> = None;
        for (bar, heads) in self.line.iter().zip(heads) {
            for (column, head) in bar.columns.iter().zip(heads) {
                let Symbol::Note {
                    tied_back, tied_on, ..
                } = column.written.symbol
                else {
                    continue;
                };
                // A tie curves away from the stem, or from where the stem would be.
                let is_below = head.stem_up() && !self.notation.is_arranged();
                let width = column.sign().advance();
                if tied_back {
                    let (from, y, below) =
                        open.take().unwrap_or((self.head - 1.2, head.y, is_below));
                    draw_tie(canvas, from, head.x - 0.1, y, below);
                }
                if tied_on {
                    let from = head.x + width + 0.1;
                    let dots = f64::from(column.written.value.dots()) * 0.6;
                    open = Some((from + dots, head.y, is_below));
                }
            }
        }
        if let Some((from, y, below)) = open {
            draw_tie(canvas, from, (right - 0.3).max(from + 1.0), y, below);
        }
    }
}
