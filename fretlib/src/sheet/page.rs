//! The parts of a sheet, set one under another and broken into pages.

mod heading;
mod outside;
mod practice_grid;

use super::drawing::{Anchor, Ink, Mark, Page, Point, Stroke};
use super::font::Face;
use super::neck_diagram::{NeckDrawing, legend};
use super::notation::{Block, Notation, Rows, systems};
use crate::mapping::Placement;
use crate::melody::{AnalysedNote, Melody};
use crate::neck::{Instrument, Place};
use crate::theory::Key;

/// A size of paper.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Paper {
    /// 210 by 297 mm. Source: ISO 216.
    A4,
    /// 8½ by 11 inches. Source: ANSI/ASME Y14.1, size A.
    Letter,
}

impl Paper {
    /// Width and height in millimetres.
    pub const fn size(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }
}

/// A part of the sheet.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Part {
    /// Title, composer, key, meter, tempo.
    Heading,
    /// The melody on a staff.
    Notation,
    /// Chord symbols over it.
    Chords,
    /// Degrees under it.
    Degrees,
    /// The intervals from note to note.
    Intervals,
    /// Tablature under the staff.
    Tablature,
    /// The notes outside the scale.
    Outside,
    /// Neck diagrams.
    Necks,
    /// Boxes to tick: positions by tempo.
    Grid,
}

impl Part {
    /// Every part, in the order of the page.
    pub const ALL: [Part; 9] = [
        Part::Heading,
        Part::Notation,
        Part::Chords,
        Part::Degrees,
        Part::Intervals,
        Part::Tablature,
        Part::Outside,
        Part::Necks,
        Part::Grid,
    ];

    /// The name a player types.
    pub const fn name(self) -> &'static str {
        match self {
            Part::Heading => "heading",
            Part::Notation => "notation",
            Part::Chords => "chords",
            Part::Degrees => "degrees",
            Part::Intervals => "intervals",
            Part::Tablature => "tablature",
            Part::Outside => "outside",
            Part::Necks => "necks",
            Part::Grid => "grid",
        }
    }
}

/// Everything that goes on a sheet.
#[derive(Clone, Copy, Debug)]
pub struct Sheet<'a> {
    /// The melody.
    pub melody: &'a Melody,
    /// Its notes, one for one.
    pub notes: &'a [AnalysedNote],
    /// The key where the melody declares none.
    pub key: Key,
    /// What it is played on.
    pub instrument: &'a Instrument,
    /// The place of each note in the tablature, where it has one.
    pub places: &'a [Option<Place>],
    /// What the tablature shows, such as `V position, as written`.
    pub caption: &'a str,
    /// The placements to draw necks of and to practise, in this order.
    pub placements: &'a [&'a Placement],
    /// Which parts, each once.
    pub parts: &'a [Part],
    /// Necks mirrored.
    pub left_handed: bool,
    /// Blanks to fill in, with the answers on pages of their own at the end.
    pub is_for_student: bool,
}

/// What a home printer leaves white anyway, and a little more.
const MARGIN: f64 = 15.0;
const FOOT: f64 = 8.0;
const STAFF_SPACE: f64 = 1.75;
/// From one block to the next.
const GAP: f64 = 5.0;

/// Sets a sheet on paper.
pub fn pages(sheet: &Sheet<'_>, paper: Paper) -> Vec<Page> {
    let (width, height) = paper.size();
    let set = |blanks: bool| {
        let blocks = sheet.blocks(width - 2.0 * MARGIN, blanks);
        let mut pages: Vec<Vec<Mark>> = vec![Vec::new()];
        let mut y = MARGIN;
        for block in blocks {
            let is_full = y + block.height > height - MARGIN - FOOT;
            if is_full && y > MARGIN {
                pages.push(Vec::new());
                y = MARGIN;
            }
            if let Some(page) = pages.last_mut() {
                page.extend(block.marks.into_iter().map(|mark| mark.moved(MARGIN, y)));
            }
            y += block.height + GAP;
        }
        pages
    };
    let mut all = set(sheet.is_for_student);
    let questions = all.len();
    if sheet.is_for_student {
        all.extend(set(false));
    }
    let count = all.len();
    all.into_iter()
        .enumerate()
        .map(|(index, mut marks)| {
            let answers = sheet.is_for_student && index >= questions;
            marks.extend(foot(sheet.melody.title(), index + 1, count, answers, paper));
            Page {
                width,
                height,
                marks,
            }
        })
        .collect()
}

/// Sets a sheet as one long drawing of this width in millimetres, for a narrow screen.
pub fn strip(sheet: &Sheet<'_>, width: f64) -> Page {
    const EDGE: f64 = 3.0;
    let mut marks = Vec::new();
    let mut y = EDGE;
    for block in sheet.blocks(width - 2.0 * EDGE, sheet.is_for_student) {
        marks.extend(block.marks.into_iter().map(|mark| mark.moved(EDGE, y)));
        y += block.height + GAP;
    }
    Page {
        width,
        height: y,
        marks,
    }
}

fn foot(title: &str, number: usize, count: usize, answers: bool, paper: Paper) -> Vec<Mark> {
    let (width, height) = paper.size();
    let y = height - MARGIN;
    let answers = if answers { "answers · " } else { "" };
    let right = format!("{answers}{number} of {count}");
    let size = 2.8;
    let title = fitted(title, size, Face::Label, width - 3.0 * MARGIN - 30.0);
    vec![
        Mark::text(
            title,
            Point::new(MARGIN, y),
            size,
            Face::Label,
            Anchor::Start,
        ),
        Mark::text(
            right,
            Point::new(width - MARGIN, y),
            size,
            Face::Label,
            Anchor::End,
        ),
    ]
}

/// The text, cut with an ellipsis where it would be too wide.
fn fitted(text: &str, size: f64, face: Face, width: f64) -> String {
    if face.width(text, size) <= width {
        return text.to_string();
    }
    let mut kept = String::new();
    let mut used = face.advance('…') * size;
    for character in text.chars() {
        used += face.advance(character) * size;
        if used > width {
            break;
        }
        kept.push(character);
    }
    kept.push('…');
    kept
}

impl Sheet<'_> {
    fn has(&self, part: Part) -> bool {
        self.parts.contains(&part)
    }

    fn blocks(&self, width: f64, blanks: bool) -> Vec<Block> {
        let mut blocks = Vec::new();
        if self.has(Part::Heading) {
            blocks.push(self.heading(width));
        }
        if self.has(Part::Notation) {
            let nowhere = vec![None; self.places.len()];
            let notation = Notation {
                melody: self.melody,
                notes: self.notes,
                key: self.key,
                instrument: self.instrument,
                places: if blanks { &nowhere } else { self.places },
                rows: Rows {
                    chords: self.has(Part::Chords),
                    degrees: self.has(Part::Degrees),
                    intervals: self.has(Part::Intervals),
                    tablature: self.has(Part::Tablature),
                },
                space: STAFF_SPACE,
            };
            blocks.extend(systems(&notation, width));
            if self.has(Part::Tablature) && !self.caption.is_empty() {
                let text = format!("Tablature: {}.", self.caption);
                blocks.push(line_of_text(&text, 3.0, Face::Italic));
            }
        }
        if self.has(Part::Outside) {
            blocks.extend(self.outside(width));
        }
        if self.has(Part::Necks) && !self.placements.is_empty() {
            blocks.extend(self.necks(width, blanks));
        }
        if self.has(Part::Grid) && !self.placements.is_empty() {
            blocks.extend(self.grid(width));
        }
        blocks
    }

    fn necks(&self, width: f64, blanks: bool) -> Vec<Block> {
        let columns = if width >= 150.0 { 2 } else { 1 };
        let between = 6.0;
        let each = (width - between * (columns - 1) as f64) / columns as f64;
        let mut blocks = Vec::new();
        for row in self.placements.chunks(columns) {
            let mut block = Block {
                height: 0.0,
                marks: Vec::new(),
            };
            for (column, placement) in row.iter().enumerate() {
                let diagram = NeckDrawing {
                    placement,
                    notes: self.notes,
                    instrument: self.instrument,
                    left_handed: self.left_handed,
                    is_blank: blanks,
                };
                let drawn = diagram.draw(each);
                let x = (each + between) * column as f64;
                block.height = block.height.max(drawn.height);
                let marks = drawn.marks.into_iter();
                block.marks.extend(marks.map(|mark| mark.moved(x, 0.0)));
            }
            blocks.push(block);
        }
        // The title stays with the first row, and what the shapes mean with both.
        let mut first = part_title("On the neck", width);
        let mut add = |block: Block| {
            let y = first.height + 2.0;
            let marks = block.marks.into_iter();
            first.marks.extend(marks.map(|mark| mark.moved(0.0, y)));
            first.height = y + block.height;
        };
        if !blanks && width >= 150.0 {
            add(legend());
        }
        if !blocks.is_empty() {
            add(blocks.remove(0));
        }
        blocks.insert(0, first);
        blocks
    }
}

fn part_title(text: &str, width: f64) -> Block {
    let rule = Stroke::solid(0.4, Ink::Accent);
    Block {
        height: 7.5,
        marks: vec![
            Mark::text(text, Point::new(0.0, 5.0), 4.2, Face::Italic, Anchor::Start),
            Mark::line(Point::new(0.0, 6.6), Point::new(width, 6.6), rule),
        ],
    }
}

fn line_of_text(text: &str, size: f64, face: Face) -> Block {
    let at = Point::new(0.0, size);
    Block {
        height: size * 1.3,
        marks: vec![Mark::text(text, at, size, face, Anchor::Start)],
    }
}
