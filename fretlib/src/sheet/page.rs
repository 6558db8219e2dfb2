//! The parts of a sheet, set one under another and broken into pages.

mod excerpts;
mod front_page;
mod heading;
mod outside;
mod practice_grid;
mod take_words;
mod words_after;

use super::drawing::{Anchor, Ink, Mark, Page, Point, Stroke, Subject};
use super::font::Face;
use super::neck_drawing::{NeckDrawing, legend};
use super::staff_block::{Block, Notation, Rows, TuneOnNeck, systems};
use crate::mapping::Placement;

pub use excerpts::{Excerpt, Exercises};
pub use front_page::{FrontPage, UnboundPages, bound};
pub use take_words::TakeOnPaper;

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
    /// Title, composer, key, tempo.
    Heading,
    /// The melody on a staff.
    Notation,
    /// Chord symbols over it.
    Chords,
    /// Tablature under the staff.
    Tablature,
    /// Over the staff of an arrangement, diagrams of what is struck under the melody.
    Diagrams,
    /// The fingers under the tablature, and the positions over it.
    Fingering,
    /// Degrees under it.
    Degrees,
    /// What each note is over its chord.
    ChordTones,
    /// The intervals from note to note.
    Intervals,
    /// The notes outside the scale.
    Outside,
    /// Neck diagrams, on a page of their own.
    Necks,
    /// Boxes to tick, positions by tempo, on a page of their own.
    Grid,
    /// A warm-up made of the tune, on pages of its own.
    WarmUp,
    /// Questions to be answered on paper, and the key, on pages of their own.
    Quiz,
}

impl Part {
    /// Every part, in the order of the sheet.
    pub const ALL: [Part; 14] = [
        Part::Heading,
        Part::Notation,
        Part::Chords,
        Part::Tablature,
        Part::Diagrams,
        Part::Fingering,
        Part::Degrees,
        Part::ChordTones,
        Part::Intervals,
        Part::Outside,
        Part::Necks,
        Part::Grid,
        Part::WarmUp,
        Part::Quiz,
    ];

    /// The parts of the page for the stand: the default.
    pub const STAND: [Part; 7] = [
        Part::Heading,
        Part::Notation,
        Part::Chords,
        Part::Tablature,
        Part::Fingering,
        Part::Degrees,
        Part::Outside,
    ];

    /// The parts of a sheet when these are requested: parts for the page for the stand are added to it; other parts are
    /// taken alone. A warm-up and a quiz stand alone: beside the page for the stand nobody would have to think.
    ///
    /// ```
    /// use fretlib::sheet::Part;
    ///
    /// assert_eq!(Part::asked(&[]), Part::STAND);
    /// assert!(Part::asked(&[Part::Necks]).contains(&Part::Notation));
    /// assert_eq!(Part::asked(&[Part::Notation, Part::Necks]), [Part::Notation, Part::Necks]);
    /// assert_eq!(Part::asked(&[Part::Quiz]), [Part::Quiz]);
    /// ```
    pub fn asked(parts: &[Part]) -> Vec<Part> {
        let stands_alone = |part: &Part| matches!(part, Part::WarmUp | Part::Quiz);
        let is_picked = parts.iter().any(|part| Part::STAND.contains(part))
            || (!parts.is_empty() && parts.iter().all(stands_alone));
        let is_asked =
            |part: &Part| parts.contains(part) || (!is_picked && Part::STAND.contains(part));
        Part::ALL.into_iter().filter(is_asked).collect()
    }

    /// Its name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Part::Heading => "heading",
            Part::Notation => "notation",
            Part::Chords => "chords",
            Part::Tablature => "tablature",
            Part::Diagrams => "diagrams",
            Part::Fingering => "fingering",
            Part::Degrees => "degrees",
            Part::ChordTones => "chord-tones",
            Part::Intervals => "intervals",
            Part::Outside => "outside",
            Part::Necks => "necks",
            Part::Grid => "grid",
            Part::WarmUp => "warm-up",
            Part::Quiz => "quiz",
        }
    }
}

/// Whether the sheet is an exercise, and where its answers are.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Answers {
    /// All answers: it is not an exercise.
    #[default]
    Printed,
    /// Blanks to fill in.
    Blank,
    /// Blanks to fill in, and the answers on pages of their own.
    BlankWithKey,
}

/// The contents of a sheet.
#[derive(Clone, Copy, Debug)]
pub struct Sheet<'a> {
    /// The tune and its places.
    pub tune: TuneOnNeck<'a>,
    /// What the tablature shows, such as `V position, as written`.
    pub caption: &'a str,
    /// The placements to draw necks of, in this order.
    pub necks: &'a [&'a Placement],
    /// The notes whose order is written on the necks: a phrase, not the whole tune.
    pub order: &'a [usize],
    /// The placements to practise, a row of boxes each.
    pub grid: &'a [&'a Placement],
    /// The warm-up and the quiz.
    pub exercises: Exercises<'a>,
    /// What was heard of the player, where there is a take.
    pub take: Option<TakeOnPaper<'a>>,
    /// The parts of the sheet, each once.
    pub parts: &'a [Part],
    /// How many bars go on a line; when `None`, as in the source, or four.
    pub bars_per_line: Option<usize>,
    /// Necks mirrored.
    pub left_handed: bool,
    /// Whether it is an exercise.
    pub answers: Answers,
}

/// The margin that home printers need.
const MARGIN: f64 = 10.2;
/// Staff spaces from the largest to the smallest: the staff is four of them high, at least 6 mm.
const STAFF_SPACES: [f64; 5] = [1.75, 1.68, 1.62, 1.56, 1.5];
/// The least and the greatest distance between blocks.
const GAP: f64 = 0.75;
const MOST_GAP: f64 = 6.0;
/// Space for the page number, when there are several pages.
const FOOT: f64 = 3.6;

/// Sets a sheet on paper: the page for the stand, then the necks, the grid, the warm-up, the quiz and its key.
///
/// Staves are as large as possible for the melody to fit on one page, or on as few pages as it needs at the smallest
/// size.
pub fn pages(sheet: &Sheet<'_>, paper: Paper) -> Vec<Page> {
    numbered(sheet.leaves(paper, false), paper)
}

/// A page that has no number yet.
#[derive(Clone, Debug)]
struct Leaf {
    marks: Vec<Mark>,
    /// What its foot says.
    title: String,
    /// Whether it has the answers to others.
    is_key: bool,
}

/// Leaves as pages, with numbers where there are several.
fn numbered(leaves: Vec<Leaf>, paper: Paper) -> Vec<Page> {
    let (width, height) = paper.size();
    let count = leaves.len();
    let numbered = (1..).zip(leaves).map(|(number, mut leaf)| {
        if count > 1 {
            leaf.marks
                .push(foot(&leaf.title, number, count, leaf.is_key, paper));
        }
        Page {
            width,
            height,
            marks: leaf.marks,
        }
    });
    numbered.collect()
}

/// Sets a sheet as one long drawing of this width in millimetres, for a narrow screen.
pub fn strip(sheet: &Sheet<'_>, width: f64) -> Page {
    const EDGE: f64 = 3.0;
    let is_blank = sheet.answers != Answers::Printed;
    let room = width - 2.0 * EDGE;
    let mut blocks = sheet.stand(room, is_blank, STAFF_SPACES[0]);
    blocks.extend(sheet.necks(room, is_blank));
    blocks.extend(sheet.grid(room, f64::INFINITY));
    blocks.extend(sheet.warm_up(room));
    blocks.extend(sheet.quiz(room, false));
    let mut marks = Vec::new();
    let mut y = EDGE;
    for block in blocks {
        marks.extend(block.marks.into_iter().map(|mark| mark.moved(EDGE, y)));
        y += block.height + 4.0;
    }
    Page {
        width,
        height: y,
        marks,
    }
}

/// How many blocks go on each page: as many as its height holds.
fn blocks_per_page(blocks: &[Block], height: f64) -> Vec<usize> {
    let mut counts = Vec::new();
    let mut used = f64::INFINITY;
    for block in blocks {
        if used + GAP + block.height > height {
            counts.push(0);
            used = -GAP;
        }
        used += GAP + block.height;
        if let Some(count) = counts.last_mut() {
            *count += 1;
        }
    }
    counts
}

/// Distributes blocks over pages, as many to a page as its height holds.
fn paginate(blocks: Vec<Block>, height: f64) -> Vec<Vec<Block>> {
    let counts = blocks_per_page(&blocks, height);
    let mut blocks = blocks.into_iter();
    let page = |count| blocks.by_ref().take(count).collect();
    counts.into_iter().map(page).collect()
}

/// The marks of a page, with its blocks spread evenly within limits.
fn justified(blocks: Vec<Block>, height: f64) -> Vec<Mark> {
    let used: f64 = blocks.iter().map(|block| block.height).sum();
    let gaps = blocks.len().saturating_sub(1).max(1) as f64;
    let gap = ((height - used) / gaps).clamp(GAP, MOST_GAP);
    let mut y = MARGIN;
    let mut marks = Vec::with_capacity(blocks.iter().map(|block| block.marks.len()).sum());
    for block in blocks {
        marks.extend(block.marks.into_iter().map(|mark| mark.moved(MARGIN, y)));
        y += block.height + gap;
    }
    marks
}

fn foot(title: &str, number: usize, count: usize, is_key: bool, paper: Paper) -> Mark {
    let (width, height) = paper.size();
    let y = height - MARGIN - 0.7;
    let answers = if is_key { "answers · " } else { "" };
    let right = format!("{answers}{number} of {count}");
    let size = 2.5;
    let title = fitted(title, size, Face::Label, width - 3.0 * MARGIN - 30.0);
    let (left_at, right_at) = (Point::new(MARGIN, y), Point::new(width - MARGIN, y));
    Mark::Group {
        subject: Subject::Artifact,
        marks: vec![
            Mark::text(title, left_at, size, Face::Label, Anchor::Start),
            Mark::text(right, right_at, size, Face::Label, Anchor::End),
        ],
    }
}

/// The text, cut with an ellipsis if it is too wide.
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

    /// Every page of the sheet, the answers to its exercises last; bound with others each has a number.
    fn leaves(&self, paper: Paper, is_bound: bool) -> Vec<Leaf> {
        let is_exercise = self.answers != Answers::Printed;
        let leaf = |is_key: bool| {
            move |marks: Vec<Mark>| Leaf {
                marks,
                title: self.tune.melody.title().to_owned(),
                is_key,
            }
        };
        let has_key = self.answers == Answers::BlankWithKey;
        let key_of_quiz = match self.answers {
            Answers::Printed => self.key_of_quiz(paper),
            Answers::Blank | Answers::BlankWithKey => Vec::new(),
        };
        let has_foot = is_bound || has_key || !key_of_quiz.is_empty();
        let questions = self.set(paper, is_exercise, false, has_foot);
        let mut all: Vec<Leaf> = questions.into_iter().map(leaf(false)).collect();
        if has_key {
            let answers = self.set(paper, false, true, true);
            all.extend(answers.into_iter().map(leaf(true)));
        }
        all.extend(key_of_quiz.into_iter().map(leaf(true)));
        all
    }

    /// The answers to the quiz alone, for a sheet that is no exercise otherwise.
    fn key_of_quiz(&self, paper: Paper) -> Vec<Vec<Mark>> {
        let (width, height) = paper.size();
        let (width, height) = (width - 2.0 * MARGIN, height - 2.0 * MARGIN - FOOT);
        let pages = paginate(self.quiz(width, true), height).into_iter();
        pages.map(|blocks| justified(blocks, height)).collect()
    }

    /// Every page of the sheet, or of the exercise made of it; with the answers to the quiz when it is the key.
    fn set(&self, paper: Paper, is_blank: bool, is_key: bool, has_foot: bool) -> Vec<Vec<Mark>> {
        let (width, height) = paper.size();
        let (width, height) = (width - 2.0 * MARGIN, height - 2.0 * MARGIN);
        let extra = [
            self.necks(width, is_blank),
            self.grid(width, height - FOOT),
            self.warm_up(width),
            self.quiz(width, is_key),
        ];
        let extra: Vec<Vec<Block>> = extra
            .into_iter()
            .flat_map(|blocks| paginate(blocks, height - FOOT))
            .collect();
        let stand = |space: f64| {
            let blocks = self.stand(width, is_blank, space);
            let alone = blocks_per_page(&blocks, height).len();
            // The number of the page takes room only where there is more than one.
            let is_one = alone + extra.len() <= 1 && !has_foot;
            paginate(blocks, if is_one { height } else { height - FOOT })
        };
        let [largest, .., smallest] = STAFF_SPACES;
        let mut chosen = stand(largest);
        if chosen.len() > 1 {
            // Only one layout is kept at a time: in memory they are large.
            let most = std::mem::take(&mut chosen).len();
            let fewest = stand(smallest).len();
            let smaller = STAFF_SPACES.into_iter().skip(usize::from(fewest < most));
            let fits = |pages: &Vec<Vec<Block>>| pages.len() == fewest.min(most);
            chosen = smaller.map(stand).find(fits).unwrap_or_default();
        }
        let has_foot = has_foot || chosen.len() + extra.len() > 1;
        let height = if has_foot { height - FOOT } else { height };
        let pages = chosen.into_iter().chain(extra);
        pages.map(|blocks| justified(blocks, height)).collect()
    }

    /// The requested parts of the page for the stand.
    fn stand(&self, width: f64, is_blank: bool, space: f64) -> Vec<Block> {
        let mut blocks = Vec::new();
        if self.has(Part::Heading) {
            blocks.push(self.heading(width));
        }
        if self.has(Part::Notation) {
            let notation = Notation {
                tune: self.tune,
                rows: Rows {
                    chords: self.has(Part::Chords),
                    degrees: self.has(Part::Degrees),
                    chord_tones: self.has(Part::ChordTones),
                    intervals: self.has(Part::Intervals),
                    tablature: self.has(Part::Tablature),
                    diagrams: self.has(Part::Diagrams),
                    fingering: self.has(Part::Fingering),
                    lyrics: true,
                },
                heard: self.take.map_or(&[], |take| take.signs),
                is_blank,
                bars_per_line: self.bars_per_line,
                space,
            };
            blocks.extend(systems(&notation, width));
        }
        if let Some(take) = self.take {
            blocks.push(take.block(width));
        }
        if self.has(Part::Outside) {
            blocks.push(self.outside(width, is_blank));
        }
        if self.has(Part::Notation) {
            blocks.extend(self.words_after(width));
        }
        blocks
    }

    fn necks(&self, width: f64, blanks: bool) -> Vec<Block> {
        if !self.has(Part::Necks) || self.necks.is_empty() {
            return Vec::new();
        }
        let columns = if width >= 150.0 { 2 } else { 1 };
        let between = 6.0;
        let each = (width - between * (columns - 1) as f64) / columns as f64;
        let mut blocks = Vec::new();
        for row in self.necks.chunks(columns) {
            let mut block = Block {
                height: 0.0,
                marks: Vec::new(),
            };
            for (column, placement) in row.iter().enumerate() {
                let diagram = NeckDrawing {
                    placement,
                    notes: self.tune.notes,
                    order: self.order,
                    instrument: self.tune.instrument,
                    left_handed: self.left_handed,
                    is_blank: blanks,
                };
                let drawn = diagram.draw(each);
                let x = (each + between) * column as f64;
                block.height = block.height.max(drawn.height);
                let marks = drawn.marks.into_iter();
                block.marks.push(Mark::Group {
                    subject: Subject::Figure(diagram.spoken()),
                    marks: marks.map(|mark| mark.moved(x, 0.0)).collect(),
                });
            }
            blocks.push(block);
        }
        // The title and the legend stay with the first row.
        let mut first = part_title("On the neck", width);
        let mut add = |block: Block| {
            let y = first.height + 2.0;
            let marks = block.marks.into_iter();
            first.marks.extend(marks.map(|mark| mark.moved(0.0, y)));
            first.height = y + block.height;
        };
        if !blanks && width >= 150.0 {
            add(legend(!self.order.is_empty()));
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
    let title = Mark::text(text, Point::new(0.0, 5.0), 4.2, Face::Italic, Anchor::Start);
    Block {
        height: 7.5,
        marks: vec![
            heading_mark(2, title),
            Mark::line(Point::new(0.0, 6.6), Point::new(width, 6.6), rule),
        ],
    }
}

/// A text as a heading of a level.
fn heading_mark(level: u8, text: Mark) -> Mark {
    Mark::Group {
        subject: Subject::Heading(level),
        marks: vec![text],
    }
}
