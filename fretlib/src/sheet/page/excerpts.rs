//! Short pieces of music with words: the exercises of a warm-up, the questions of a quiz.

use std::ops::Range;

use super::{Sheet, fitted, heading_mark, part_title};
use crate::melody::{AnalysedNote, Melody};
use crate::sheet::bounds::Bounds;
use crate::sheet::drawing::{Anchor, Ink, Mark, Point, Stroke, Subject};
use crate::sheet::font::{Face, Sign};
use crate::sheet::staff_block::{Block, Notation, Rows, TabPlace, TuneOnNeck, systems};
use crate::sheet::words;
use crate::theory::Key;

/// A short piece of music with words over and under it.
#[derive(Clone, Debug)]
pub struct Excerpt {
    /// What it is; of a quiz, the section it stands in.
    pub title: String,
    /// What to do with it.
    pub words: String,
    /// The music.
    pub melody: Melody,
    /// Its notes, one for one.
    pub notes: Vec<AnalysedNote>,
    /// The key where the melody declares none.
    pub key: Key,
    /// The place and finger of each note, one for one; empty where there is no tablature.
    pub places: Vec<Option<TabPlace>>,
    /// The notes that are pointed at.
    pub marked: Range<usize>,
    /// What is right; empty where nothing is asked.
    pub answer: String,
}

/// What is practised on pages of their own.
#[derive(Clone, Copy, Debug, Default)]
pub struct Exercises<'a> {
    /// What the player is told at the head of a warm-up.
    pub cautions: &'a [&'a str],
    /// The exercises of a warm-up, in order.
    pub warm_up: &'a [Excerpt],
    /// The questions of a quiz, by section.
    pub quiz: &'a [Excerpt],
    /// What tells this quiz from others on the same tune.
    pub quiz_number: Option<u64>,
}

/// The staff space of excerpts, in millimetres: the smallest of the page for the stand.
const SPACE: f64 = 1.5;
const WORDS: f64 = 3.0;
const LINE: f64 = 4.4;
/// Between two columns of a quiz.
const BETWEEN: f64 = 8.0;
/// What a pupil writes an answer on is at least this long, in millimetres.
const SHORTEST_RULE: f64 = 25.0;

impl Sheet<'_> {
    /// The warm-up: the cautions, then each exercise on a staff and in tablature.
    pub(super) fn warm_up(&self, width: f64) -> Vec<Block> {
        let exercises = self.exercises.warm_up;
        if !self.has(super::Part::WarmUp) || exercises.is_empty() {
            return Vec::new();
        }
        let mut head = part_title(&format!("Warm-up · {}", self.title()), width);
        for caution in self.exercises.cautions {
            add_line(&mut head, caution, Face::Italic, width);
        }
        let mut blocks = vec![head];
        for (number, exercise) in (1..).zip(exercises) {
            let mut block = Block {
                height: 0.0,
                marks: Vec::new(),
            };
            let title = words::signs(&format!("{number}. {}", exercise.title));
            add_line(&mut block, &title, Face::Bold, width);
            add_line(
                &mut block,
                &words::signs(&exercise.words),
                Face::Text,
                width,
            );
            for system in self.music(exercise, width) {
                add(&mut block, system, 1.0);
            }
            blocks.push(without_notes(block));
        }
        blocks
    }

    /// The questions of a quiz with rules to write on, or with the answers.
    pub(super) fn quiz(&self, width: f64, is_key: bool) -> Vec<Block> {
        let questions = self.exercises.quiz;
        if !self.has(super::Part::Quiz) || questions.is_empty() {
            return Vec::new();
        }
        let number = match self.exercises.quiz_number {
            Some(number) => format!(" {number}"),
            None => String::new(),
        };
        let mut title = format!("Quiz{number} · {}", self.title());
        if is_key {
            title.push_str(" · answers");
        }
        let columns = if width >= 150.0 { 2 } else { 1 };
        let each = (width - BETWEEN * (columns - 1) as f64) / columns as f64;
        let mut blocks = Vec::new();
        // A heading stays with the first row under it, so that no page ends with one.
        let mut heading = Some(part_title(&title, width));
        let mut number = 0;
        for section in questions.chunk_by(|one, other| one.title == other.title) {
            let above = heading.get_or_insert(Block {
                height: 0.0,
                marks: Vec::new(),
            });
            let at = Point::new(0.0, above.height + 4.0);
            let name = Mark::text(&section[0].title, at, 3.6, Face::Bold, Anchor::Start);
            above.marks.push(heading_mark(3, name));
            above.height += 5.5;
            for row in section.chunks(columns) {
                let mut block = heading.take().unwrap_or(Block {
                    height: 0.0,
                    marks: Vec::new(),
                });
                let y = block.height;
                for (column, question) in row.iter().enumerate() {
                    number += 1;
                    let cell = self.question(number, question, each, is_key);
                    let x = (each + BETWEEN) * column as f64;
                    let marks = cell.marks.into_iter();
                    block.marks.extend(marks.map(|mark| mark.moved(x, y)));
                    block.height = block.height.max(y + cell.height);
                }
                blocks.push(block);
            }
        }
        blocks
    }

    fn question(&self, number: usize, question: &Excerpt, width: f64, is_key: bool) -> Block {
        let mut block = Block {
            height: 0.0,
            marks: Vec::new(),
        };
        let mut heads = 0;
        for mut system in self.music(question, width) {
            heads += point_at(&mut system, &question.marked, heads);
            add(&mut block, system, 0.5);
        }
        let mut block = without_notes(block);
        let y = block.height + LINE;
        let ask = words::signs(&format!("{number}. {}:", question.words));
        let at = Point::new(0.0, y);
        let end = Face::Text.width(&ask, WORDS) + 1.5;
        block
            .marks
            .push(Mark::text(ask, at, WORDS, Face::Text, Anchor::Start));
        if is_key {
            let answer = words::signs(&question.answer);
            let answer = fitted(&answer, WORDS, Face::Bold, width - end);
            let at = Point::new(end, y);
            block
                .marks
                .push(Mark::text(answer, at, WORDS, Face::Bold, Anchor::Start));
        } else {
            let to = (end + 2.0 * SHORTEST_RULE)
                .min(width)
                .max(end + SHORTEST_RULE);
            let (from, to) = (Point::new(end, y + 0.6), Point::new(to, y + 0.6));
            block
                .marks
                .push(Mark::line(from, to, Stroke::solid(0.2, Ink::Grey)));
        }
        block.height = y + 2.0;
        block
    }

    fn music(&self, excerpt: &Excerpt, width: f64) -> Vec<Block> {
        let has_places = !excerpt.places.is_empty();
        let notation = Notation {
            tune: TuneOnNeck {
                melody: &excerpt.melody,
                notes: &excerpt.notes,
                key: excerpt.key,
                instrument: self.tune.instrument,
                places: &excerpt.places,
                under: &[],
            },
            rows: Rows {
                tablature: has_places,
                fingering: has_places,
                ..Rows::default()
            },
            heard: &[],
            is_blank: !has_places,
            bars_per_line: Some(if has_places { 6 } else { 8 }),
            space: SPACE,
        };
        systems(&notation, width)
    }

    pub(super) fn title(&self) -> &str {
        match self.tune.melody.title() {
            "" => "Untitled",
            title => title,
        }
    }
}

/// The same block; what its notes stand for is left out, for they are numbered from 1 as those of the tune are.
fn without_notes(block: Block) -> Block {
    let flat = |mark: Mark| match mark {
        Mark::Group {
            subject: Subject::Figure(words),
            marks,
        } => Mark::Group {
            subject: Subject::Figure(words),
            marks: marks.iter().flat_map(Mark::flat).cloned().collect(),
        },
        other => other,
    };
    Block {
        height: block.height,
        marks: block.marks.into_iter().map(flat).collect(),
    }
}

fn add_line(block: &mut Block, text: &str, face: Face, width: f64) {
    let y = block.height + LINE;
    let text = fitted(text, WORDS, face, width);
    let at = Point::new(0.0, y - 1.0);
    block
        .marks
        .push(Mark::text(text, at, WORDS, face, Anchor::Start));
    block.height = y;
}

fn add(block: &mut Block, more: Block, gap: f64) {
    let y = block.height + gap;
    let marks = more.marks.into_iter();
    block.marks.extend(marks.map(|mark| mark.moved(0.0, y)));
    block.height = y + more.height;
}

/// A wedge over each of these notes in a system, above all else in it; returns how many. `before` have one already.
fn point_at(system: &mut Block, marked: &Range<usize>, before: usize) -> usize {
    const WEDGE: f64 = 2.2;
    let mut heads: Vec<Bounds> = Vec::new();
    for (subject, marks) in system.marks.iter().flat_map(Mark::groups) {
        let Subject::Note(number, _) = subject else {
            continue;
        };
        // A tied note has several heads: the first one is meant.
        let index = number - 1;
        if marked.contains(&index) && before + heads.len() == index - marked.start {
            heads.extend(marks.iter().flat_map(Mark::flat).find_map(head));
        }
    }
    let tops = system.marks.iter().filter_map(top);
    let down = WEDGE + 0.6 - tops.fold(0.0, f64::min);
    let marks = std::mem::take(&mut system.marks).into_iter();
    system.marks = marks.map(|mark| mark.moved(0.0, down)).collect();
    system.height += down;
    for head in &heads {
        let x = (head.left + head.right) / 2.0;
        let wedge = [
            Point::new(x - WEDGE / 2.0, 0.0),
            Point::new(x + WEDGE / 2.0, 0.0),
            Point::new(x, WEDGE),
        ];
        system
            .marks
            .push(Mark::polygon(&wedge, Some(Ink::Accent), None));
    }
    heads.len()
}

/// The notehead among the signs of a note.
fn head(mark: &Mark) -> Option<Bounds> {
    let Mark::Sign(it) = mark else {
        return None;
    };
    let is_head = matches!(
        it.sign,
        Sign::NoteheadBreve | Sign::NoteheadWhole | Sign::NoteheadHalf | Sign::NoteheadBlack
    );
    mark.bounds().filter(|_| is_head)
}

fn top(mark: &Mark) -> Option<f64> {
    let edges = mark.flat().filter_map(Mark::bounds);
    edges.map(|it| it.top).reduce(f64::min)
}
