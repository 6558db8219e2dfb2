//! The parts of a sheet, set one under another and broken into pages.

use super::drawing::{Anchor, Ink, Mark, Page, Point, Stroke};
use super::font::{Face, Sign};
use super::neck_diagram::{NeckDiagram, legend, octave_in_words};
use super::notation::{Block, Notation, Rows, float, systems};
use super::words;
use crate::mapping::Placement;
use crate::melody::{AnalysedNote, Melody, Quarters, Tempo};
use crate::neck::{Instrument, Place};
use crate::theory::{Key, Membership};

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
    pub is_left_handed: bool,
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

    fn heading(&self, width: f64) -> Block {
        let mut marks = Vec::new();
        let mut y = 7.0;
        let title = match self.melody.title() {
            "" => "Untitled",
            title => title,
        };
        // A long title is set smaller before it is cut.
        let full = Face::Bold.width(title, 7.5);
        let size = (7.5 * (width / full).min(1.0)).max(4.5);
        let title = fitted(title, size, Face::Bold, width);
        let middle = Point::new(width / 2.0, y);
        marks.push(Mark::text(title, middle, size, Face::Bold, Anchor::Middle));
        y += 7.0;
        if let Some(composer) = self.melody.composer() {
            let at = Point::new(width, y);
            let text = fitted(composer, 3.4, Face::Italic, width * 0.5);
            marks.push(Mark::text(text, at, 3.4, Face::Italic, Anchor::End));
        }
        let mut x = 0.0;
        if let Some(tempo) = self.melody.tempos().first() {
            x = tempo_mark(&mut marks, *tempo, self.beat(), y) + 5.0;
        }
        let key = self.melody.keys().first().copied().unwrap_or(self.key);
        let facts = format!(
            "{} · {}",
            words::signs(&key.to_string()),
            self.instrument.name()
        );
        let at = Point::new(x, y);
        marks.push(Mark::text(facts, at, 3.4, Face::Text, Anchor::Start));
        Block {
            height: y + 2.0,
            marks,
        }
    }

    fn beat(&self) -> Quarters {
        let meter = self.melody.meters().first().copied().flatten();
        meter.map_or(Quarters::from(1), |meter| meter.beat())
    }

    fn outside(&self, width: f64) -> Vec<Block> {
        let mut blocks = vec![part_title("Outside the scale", width)];
        let outside: Vec<usize> = (0..self.notes.len())
            .filter(|&index| self.notes[index].membership != Membership::Scale)
            .collect();
        if outside.is_empty() {
            let text = "Every note belongs to the scale.";
            blocks.push(line_of_text(text, 3.2, Face::Text));
            return blocks;
        }
        let columns = (width / 85.0).floor().max(1.0) as usize;
        for row in outside.chunks(columns) {
            let mut marks = Vec::new();
            for (column, index) in row.iter().enumerate() {
                let x = width / columns as f64 * column as f64;
                let at = Point::new(x, 3.2);
                let text = self.outside_line(*index);
                marks.push(Mark::text(text, at, 3.2, Face::Text, Anchor::Start));
            }
            // Closer than blocks usually stand.
            blocks.push(Block {
                height: 3.4 - GAP + 1.6,
                marks,
            });
        }
        blocks.push(Block {
            height: 1.0,
            marks: Vec::new(),
        });
        blocks
    }

    fn outside_line(&self, index: usize) -> String {
        let note = &self.notes[index];
        let bar = self.melody.bar_at(note.note.onset);
        let meter = self.melody.meters().at(bar.onset).copied().flatten();
        let beat_length = meter.map_or(Quarters::from(1), |meter| meter.beat());
        let beat = (note.note.onset - bar.onset) / beat_length + 1;
        let left = match self.notes.get(index + 1).and_then(|next| next.interval) {
            Some(interval) => format!(", left by {}", words::minus(&interval.to_string())),
            None => String::new(),
        };
        format!(
            "bar {}, beat {}: {}, {}{}",
            note.bar,
            mixed(beat),
            words::signs(&note.note.pitch.to_string()),
            words::signs(&note.degree.to_string()),
            left
        )
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
                let diagram = NeckDiagram {
                    placement,
                    notes: self.notes,
                    instrument: self.instrument,
                    is_left_handed: self.is_left_handed,
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

    /// A box for every placement at every tempo.
    fn grid(&self, width: f64) -> Vec<Block> {
        const SHARES: [i64; 5] = [60, 70, 80, 90, 100];
        let tempo = self.melody.tempos().first().copied();
        let tempo = tempo.unwrap_or(Tempo::DEFAULT);
        let beats = float(tempo.quarters_per_minute() / self.beat());
        let names = 58.0f64.min(width * 0.4);
        let column = ((width - names) / SHARES.len() as f64).min(24.0);
        let mut head = part_title("Practice", width);
        let y = head.height + 4.0;
        for (index, share) in SHARES.iter().enumerate() {
            let x = names + column * (index as f64 + 0.5);
            let text = format!("{:.0}", beats * *share as f64 / 100.0);
            let at = Point::new(x, y);
            head.marks
                .push(Mark::text(text, at, 3.0, Face::Figure, Anchor::Middle));
        }
        let at = Point::new(0.0, y);
        let words = "position, octave; beats a minute";
        head.marks
            .push(Mark::text(words, at, 3.0, Face::Italic, Anchor::Start));
        head.height = y - GAP + 2.5;
        let mut blocks = vec![head];
        for placement in self.placements {
            let mut marks = Vec::new();
            let position = format!("{}", placement.position);
            let at = Point::new(0.0, 4.6);
            marks.push(Mark::text(position, at, 3.6, Face::Bold, Anchor::Start));
            let at = Point::new(14.0, 4.6);
            let octave = octave_in_words(placement.octave);
            marks.push(Mark::text(octave, at, 3.2, Face::Text, Anchor::Start));
            for index in 0..SHARES.len() {
                let x = names + column * (index as f64 + 0.5);
                let stroke = Stroke::solid(0.25, Ink::Black);
                let (from, to) = (Point::new(x - 2.4, 1.0), Point::new(x + 2.4, 5.8));
                marks.push(Mark::rectangle(from, to, None, Some(stroke)));
            }
            blocks.push(Block {
                height: 6.8 - GAP,
                marks,
            });
        }
        let words = "Warm up first. Stop when it hurts, rest, and see a teacher or a clinician if it comes back.";
        let mut last = line_of_text(words, 2.8, Face::Italic);
        last.marks = last
            .marks
            .into_iter()
            .map(|mark| mark.moved(0.0, 4.0))
            .collect();
        last.height += 4.0;
        blocks.push(last);
        blocks
    }
}

/// A number of beats as players say it: `2`, `2½`, `1⅓` is written `1 1/3`.
fn mixed(beat: Quarters) -> String {
    let whole = beat.to_integer();
    match beat.fract() {
        part if *part.numer() == 0 => whole.to_string(),
        part => format!("{whole} {}/{}", part.numer(), part.denom()),
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

/// `♩ = 104`; gives where it ends.
fn tempo_mark(marks: &mut Vec<Mark>, tempo: Tempo, beat: Quarters, y: f64) -> f64 {
    let dotted = Quarters::new(3, 2);
    let (sign, length, dots) = if beat == dotted {
        (Sign::MetronomeQuarter, dotted, true)
    } else if beat == Quarters::from(3) {
        (Sign::MetronomeHalf, beat, true)
    } else if beat == Quarters::from(2) {
        (Sign::MetronomeHalf, beat, false)
    } else if beat == Quarters::new(1, 2) {
        (Sign::MetronomeEighth, beat, false)
    } else {
        (Sign::MetronomeQuarter, Quarters::from(1), false)
    };
    let space = 0.95;
    let mut x = 0.0;
    let mut put = |sign: Sign| {
        marks.push(Mark::Sign {
            sign,
            at: Point::new(x, y - 0.4),
            space,
            ink: Ink::Black,
        });
        x += sign.advance() * space + 0.4;
    };
    put(sign);
    if dots {
        put(Sign::MetronomeDot);
    }
    let beats = float(tempo.quarters_per_minute() / length);
    let text = format!("= {beats:.0}");
    let end = x + 0.4 + Face::Text.width(&text, 3.4);
    let at = Point::new(x + 0.4, y);
    marks.push(Mark::text(text, at, 3.4, Face::Text, Anchor::Start));
    end
}
