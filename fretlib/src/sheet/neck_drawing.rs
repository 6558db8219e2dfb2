//! A neck from above with the path of a melody on it.
//!
//! Everything has its own shape, so that a black-and-white copy loses nothing: the root is a square, a note of the
//! scale a disc, one from outside the scale an open diamond; a stretch has a broken ring around it.

use super::drawing::{Anchor, Ink, Mark, Point, Stroke, Subject};
use super::font::Face;
use super::staff_block::Block;
use super::words;
use crate::mapping::{PlacedNote, Placement};
use crate::melody::AnalysedNote;
use crate::neck::{Inlay, Instrument, NeckLayout, Place, Reach};
use crate::theory::{Degree, Membership};

/// A placement to be drawn.
#[derive(Clone, Copy, Debug)]
pub struct NeckDrawing<'a> {
    /// What is played.
    pub placement: &'a Placement,
    /// The notes of the melody, one for one.
    pub notes: &'a [AnalysedNote],
    /// What it is played on.
    pub instrument: &'a Instrument,
    /// The notes whose order is written under their places.
    pub order: &'a [usize],
    /// Mirrored, for players who fret with the right hand.
    pub left_handed: bool,
    /// Places only: degrees and path are left for the student.
    pub is_blank: bool,
}

const RADIUS: f64 = 2.1;
/// Half a diagonal of a diamond, in radii of a dot: as large to the eye.
const DIAMOND: f64 = 1.28;
/// Distance from a dot to the ring of a stretch.
const RING: f64 = 0.8;
const DEGREE_SIZE: f64 = 3.0;
const PATH_SIZE: f64 = 2.1;
const PATH_LINE: f64 = 2.1;
const TITLE_SIZE: f64 = 4.0;
/// Space for string names beside the neck.
const SIDE: f64 = 7.0;
/// The most lines of note numbers under a place; the notation has the rest.
const MOST_LINES: usize = 3;

/// A place and all its notes.
struct Dot {
    place: Place,
    reach: Reach,
    notes: Vec<usize>,
}

impl NeckDrawing<'_> {
    /// A description of the neck for screen readers.
    pub(super) fn spoken(&self) -> String {
        let dots = self.dots();
        let places = dots
            .iter()
            .map(|dot| self.dot_in_words(dot, &self.degrees(dot)));
        let places: Vec<String> = places.collect();
        let (position, octave) = (self.placement.position, self.placement.octave.in_words());
        format!(
            "Neck in {position} position, {octave}: {}",
            places.join("; ")
        )
    }

    /// The degrees at a place, as printed.
    fn degrees(&self, dot: &Dot) -> Vec<String> {
        let mut degrees: Vec<String> = Vec::new();
        for note in dot.notes.iter().filter_map(|note| self.notes.get(*note)) {
            let degree = note.degree.to_string();
            if !degrees.contains(&degree) {
                degrees.push(degree);
            }
        }
        degrees
    }

    fn dot_in_words(&self, dot: &Dot, names: &[String]) -> String {
        let spoken: Vec<String> = names.iter().map(|name| words::spoken(name)).collect();
        let mut words = format!("string {} fret {}", dot.place.string, dot.place.fret);
        if !self.is_blank {
            words.push_str(&format!(", degree {}", spoken.join(" or ")));
        }
        if dot.reach == Reach::Stretch {
            words.push_str(", stretch");
        }
        words
    }

    /// Draws it this wide.
    pub fn draw(&self, width: f64) -> Block {
        let layout = self.layout();
        let fret_width = (width - 2.0 * SIDE) / layout.columns().len() as f64;
        let dots = self.dots();
        let paths: Vec<Vec<String>> = dots
            .iter()
            .map(|dot| self.path(dot, fret_width - 1.0))
            .collect();
        let lines = paths.iter().map(Vec::len).max().unwrap_or(0);
        let string_gap = 2.0 * (RADIUS + RING) + 0.8 + PATH_LINE * lines as f64;
        let top = TITLE_SIZE + 5.0;
        let strings = self.instrument.strings().len();
        let x_of = |column: usize| {
            let x = SIDE + (column as f64 + 0.5) * fret_width;
            if self.left_handed { width - x } else { x }
        };
        let y_of = |string: usize| top + string_gap * string as f64;
        let bottom = y_of(strings.saturating_sub(1));
        let mut marks = self.title();
        self.draw_board(&mut marks, &layout, fret_width, width, &x_of, &y_of);
        for (dot, path) in dots.iter().zip(&paths) {
            // The layout was made around these places.
            if let Some(column) = layout.index_of(dot.place.fret) {
                let centre = Point::new(x_of(column), y_of(dot.place.string.index()));
                marks.push(self.draw_dot(dot, path, centre));
            }
        }
        let last = self.instrument.strings().len();
        let under_last = dots.iter().zip(&paths);
        let under_last = under_last
            .filter(|(dot, _)| usize::from(dot.place.string.get()) == last)
            .map(|(_, path)| path.len())
            .max();
        let below = bottom + RADIUS + 1.2 + PATH_LINE * under_last.unwrap_or(0) as f64;
        for (index, column) in layout.columns().iter().enumerate() {
            if column.is_open() {
                continue;
            }
            let at = Point::new(x_of(index), below + 2.6);
            let text = column.fret.to_string();
            marks.push(Mark::text(text, at, 2.8, Face::Label, Anchor::Middle));
            draw_inlay(&mut marks, column.inlay, Point::new(at.x, below + 4.4));
        }
        Block {
            height: below + 5.4,
            marks,
        }
    }

    fn layout(&self) -> NeckLayout {
        let places = self.placement.places().iter().map(|it| it.place);
        let position = Some(self.placement.position);
        NeckLayout::around(self.instrument, places, position).mirrored(self.left_handed)
    }

    fn dots(&self) -> Vec<Dot> {
        let mut dots: Vec<Dot> = Vec::new();
        for PlacedNote {
            note, place, reach, ..
        } in self.placement.places()
        {
            match dots.iter_mut().find(|dot| dot.place == *place) {
                Some(dot) => dot.notes.push(*note),
                None => dots.push(Dot {
                    place: *place,
                    reach: *reach,
                    notes: vec![*note],
                }),
            }
        }
        dots
    }

    /// The numbers of the notes at a place, in lines that fit between two frets.
    fn path(&self, dot: &Dot, width: f64) -> Vec<String> {
        if self.is_blank {
            return Vec::new();
        }
        let mut lines: Vec<String> = Vec::new();
        let shown: Vec<usize> = dot
            .notes
            .iter()
            .copied()
            .filter(|note| self.order.contains(note))
            .collect();
        for number in runs(&shown) {
            let fits = lines.last().is_some_and(|line| {
                Face::Label.width(&format!("{line} {number}"), PATH_SIZE) <= width
            });
            match lines.last_mut() {
                Some(line) if fits => {
                    line.push(' ');
                    line.push_str(&number);
                }
                _ => lines.push(number),
            }
        }
        if lines.len() > MOST_LINES {
            lines.truncate(MOST_LINES);
            if let Some(line) = lines.last_mut() {
                line.push('…');
            }
        }
        lines
    }

    fn title(&self) -> Vec<Mark> {
        let position = self.placement.position;
        let octave = self.placement.octave.in_words();
        let stretches = match self.placement.stretches() {
            0 => String::new(),
            1 => " · 1 stretch".into(),
            count => format!(" · {count} stretches"),
        };
        let title = format!("{position}");
        let at = Point::new(SIDE, TITLE_SIZE);
        let rest = Point::new(
            SIDE + Face::Bold.width(&title, TITLE_SIZE) + 2.0,
            TITLE_SIZE,
        );
        let rest_text = format!("position, {octave}{stretches}");
        vec![
            Mark::text(title, at, TITLE_SIZE, Face::Bold, Anchor::Start),
            Mark::text(rest_text, rest, 3.2, Face::Text, Anchor::Start),
        ]
    }

    fn draw_board(
        &self,
        marks: &mut Vec<Mark>,
        layout: &NeckLayout,
        fret_width: f64,
        width: f64,
        x_of: &dyn Fn(usize) -> f64,
        y_of: &dyn Fn(usize) -> f64,
    ) {
        let strings = self.instrument.strings();
        let last = strings.len().saturating_sub(1);
        // Open strings have no fretboard under them.
        let first_stopped = usize::from(layout.is_at_nut());
        let last_stopped = layout.columns().len() - 1;
        // The nut end and the far end of the board.
        let toward_nut = if self.left_handed { 0.5 } else { -0.5 };
        let edge = |column: usize, side: f64| x_of(column) + side * fret_width;
        let near = edge(first_stopped, toward_nut);
        let far = edge(last_stopped, -toward_nut);
        for column in first_stopped..=last_stopped {
            let x = edge(column, -toward_nut);
            let stroke = Stroke::solid(0.3, Ink::Grey);
            let line = Mark::line(Point::new(x, y_of(0)), Point::new(x, y_of(last)), stroke);
            marks.push(line);
        }
        let nut = if layout.is_at_nut() {
            Stroke::solid(1.1, Ink::Black)
        } else {
            Stroke::solid(0.3, Ink::Grey)
        };
        let ends = (Point::new(near, y_of(0)), Point::new(near, y_of(last)));
        marks.push(Mark::line(ends.0, ends.1, nut));
        for (index, open) in strings.iter().enumerate() {
            let y = y_of(index);
            let stroke = Stroke::solid(0.18 + 0.05 * index as f64, Ink::Grey);
            marks.push(Mark::line(Point::new(near, y), Point::new(far, y), stroke));
            // Open strings are beside the nut, in the margin.
            let x = if self.left_handed { width - 3.0 } else { 3.0 };
            let name = words::signs(&open.class().to_string());
            let at = Point::new(x, y + 1.0);
            marks.push(Mark::text(name, at, 2.8, Face::Label, Anchor::Middle));
        }
    }

    fn draw_dot(&self, dot: &Dot, path: &[String], centre: Point) -> Mark {
        let notes = dot.notes.iter().filter_map(|note| self.notes.get(*note));
        let mut degrees: Vec<Degree> = Vec::new();
        let mut is_outside = false;
        for note in notes {
            if !degrees.contains(&note.degree) {
                degrees.push(note.degree);
            }
            is_outside |= note.membership != Membership::Scale;
        }
        let names: Vec<String> = degrees.iter().map(ToString::to_string).collect();
        let mut marks = Vec::new();
        if dot.reach == Reach::Stretch {
            let ring = Stroke {
                width: 0.35,
                ink: Ink::Black,
                dash: Some(0.9),
            };
            marks.push(Mark::disc(
                centre,
                RADIUS + RING,
                Some(Ink::White),
                Some(ring),
            ));
        }
        let kind = match degrees.first() {
            _ if self.is_blank => DotKind::Blank,
            Some(degree) if *degree == Degree::TONIC => DotKind::Root,
            _ if is_outside => DotKind::Outside,
            _ => DotKind::Scale,
        };
        marks.push(kind.draw(centre));
        if !self.is_blank {
            let text = words::signs(&names.join("/"));
            // Two spellings at one place share its dot.
            let size = DEGREE_SIZE / (names.len() as f64).max(1.0).sqrt();
            let at = Point::new(centre.x, centre.y + 0.34 * size);
            let label = Mark::text(text, at, size, Face::Figure, Anchor::Middle);
            marks.push(label.inked(kind.ink()));
        }
        for (row, line) in path.iter().enumerate() {
            let clear = match kind {
                _ if dot.reach == Reach::Stretch => RING + 0.3,
                DotKind::Outside => RADIUS * (DIAMOND - 1.0) + 0.3,
                _ => 0.2,
            };
            let y = centre.y + RADIUS + clear + PATH_LINE * (row as f64 + 0.8);
            let at = Point::new(centre.x, y);
            marks.push(Mark::text(line, at, PATH_SIZE, Face::Label, Anchor::Middle));
        }
        let numbers: Vec<usize> = dot.notes.iter().map(|note| note + 1).collect();
        let words = self.dot_in_words(dot, &names);
        Mark::Group {
            subject: Subject::Place(numbers, words),
            marks,
        }
    }
}

/// The dots of an inlay, side by side.
fn draw_inlay(marks: &mut Vec<Mark>, inlay: Inlay, at: Point) {
    const APART: f64 = 1.6;
    let first = at.x - APART * (inlay.dots() as f64 - 1.0) / 2.0;
    for dot in 0..inlay.dots() {
        let centre = Point::new(first + APART * dot as f64, at.y);
        marks.push(Mark::disc(centre, 0.5, Some(Ink::Grey), None));
    }
}

/// Note numbers counted from 1, with ranges: `3–6 8`.
fn runs(notes: &[usize]) -> Vec<String> {
    notes
        .chunk_by(|before, after| before + 1 == *after)
        .flat_map(|run| match run {
            [first, .., last] if run.len() > 2 => vec![format!("{}–{}", first + 1, last + 1)],
            _ => run.iter().map(|note| (note + 1).to_string()).collect(),
        })
        .collect()
}

#[derive(Clone, Copy)]
pub(super) enum DotKind {
    Root,
    Scale,
    Outside,
    Blank,
}

impl DotKind {
    pub(super) fn draw(self, at: Point) -> Mark {
        let line = Stroke::solid(0.45, Ink::Black);
        match self {
            DotKind::Root => {
                let half = RADIUS * 0.95;
                let from = Point::new(at.x - half, at.y - half);
                let to = Point::new(at.x + half, at.y + half);
                Mark::rectangle(from, to, Some(Ink::Accent), None)
            }
            DotKind::Scale => Mark::disc(at, RADIUS, Some(Ink::Black), None),
            DotKind::Outside => {
                let reach = RADIUS * DIAMOND;
                let points = [
                    Point::new(at.x - reach, at.y),
                    Point::new(at.x, at.y - reach),
                    Point::new(at.x + reach, at.y),
                    Point::new(at.x, at.y + reach),
                ];
                Mark::polygon(&points, Some(Ink::White), Some(line))
            }
            DotKind::Blank => Mark::disc(at, RADIUS, Some(Ink::White), Some(line)),
        }
    }

    const fn ink(self) -> Ink {
        match self {
            DotKind::Root | DotKind::Scale => Ink::White,
            DotKind::Outside | DotKind::Blank => Ink::Black,
        }
    }
}

/// The legend of the shapes, in one line.
pub(super) fn legend(has_order: bool) -> Block {
    let mut marks = Vec::new();
    let mut x = SIDE;
    let entries = [
        (DotKind::Root, false, "root"),
        (DotKind::Scale, false, "in the scale"),
        (DotKind::Outside, false, "outside the scale"),
        (DotKind::Blank, true, "stretch"),
    ];
    for (kind, is_ring, words) in entries {
        let at = Point::new(x, 3.2);
        if is_ring {
            let ring = Stroke {
                width: 0.35,
                ink: Ink::Black,
                dash: Some(0.9),
            };
            marks.push(Mark::disc(at, RADIUS + RING, None, Some(ring)));
        } else {
            marks.push(kind.draw(at));
        }
        let at = Point::new(x + 3.8, 4.2);
        marks.push(Mark::text(words, at, 3.0, Face::Text, Anchor::Start));
        x += 8.0 + Face::Text.width(words, 3.0) + 3.0;
    }
    if has_order {
        let at = Point::new(x - 2.0, 4.2);
        let words = "small figures: the order in which the notes come";
        marks.push(Mark::text(words, at, 3.0, Face::Text, Anchor::Start));
    }
    Block { height: 7.0, marks }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mapping::{NeckMap, OpenStrings};
    use crate::melody::{Draft, Melody, Quarters};
    use crate::neck::{Fret, InstrumentSpec};
    use crate::sheet::drawing::Segment;
    use crate::theory::Octave;

    const WIDTH: f64 = 90.0;

    /// The frets of a drawing as (x, number, dots below).
    fn frets(capo: u8, left_handed: bool) -> Vec<(f64, String, usize)> {
        let spec = Instrument::default().build().clone();
        let instrument = Instrument::new(InstrumentSpec { capo, ..spec }).unwrap();
        let mut draft = Draft::default();
        for name in ["C5", "F5", "B5"] {
            draft
                .note(name.parse().unwrap(), Quarters::from(1))
                .unwrap();
        }
        let melody = Melody::new(draft).unwrap();
        let map = NeckMap::new(&melody, &instrument, OpenStrings::default());
        let drawing = NeckDrawing {
            placement: map.at("IV".parse().unwrap(), Octave::WRITTEN).unwrap(),
            notes: &melody.analyse("C major".parse().unwrap()),
            instrument: &instrument,
            order: &[],
            left_handed,
            is_blank: false,
        };
        let marks = drawing.draw(WIDTH).marks;
        let dots: Vec<f64> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Shape {
                    path,
                    fill: Some(Ink::Grey),
                    ..
                } => match path[0] {
                    Segment::Move(to) => Some(to.x - 0.5), // a disc begins at its right
                    _ => None,
                },
                _ => None,
            })
            .collect();
        let numbers = marks.iter().filter_map(|mark| match mark {
            Mark::Text(it) if it.size == 2.8 && it.text.parse::<u8>().is_ok() => {
                let near = dots.iter().filter(|dot| (**dot - it.at.x).abs() < 2.0);
                Some((it.at.x, it.text.clone(), near.count()))
            }
            _ => None,
        });
        numbers.collect()
    }

    #[test]
    fn inlays_follow_the_wood_under_a_capo() {
        for capo in [0, 2, 5] {
            let spec = Instrument::default().build().clone();
            let instrument = Instrument::new(InstrumentSpec { capo, ..spec }).unwrap();
            let frets = frets(capo, false);
            assert!(frets.len() >= 4);
            for (_, number, dots) in frets {
                let fret = Fret::new(number.parse().unwrap()).unwrap();
                assert_eq!(dots, instrument.inlay(fret).dots(), "{number}, capo {capo}");
            }
        }
    }

    #[test]
    fn a_left_handed_drawing_is_the_mirror_of_the_other() {
        let (right, left) = (frets(2, false), frets(2, true));
        assert_eq!(right.len(), left.len());
        for ((x, number, dots), (mirrored, same, as_many)) in right.into_iter().zip(left) {
            assert!((WIDTH - x - mirrored).abs() < 1e-9);
            assert_eq!((number, dots), (same, as_many));
        }
    }
}
