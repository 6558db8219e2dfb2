//! The contents of a page as data, from which every format is made.

use std::sync::Arc;

use super::font::{Face, Sign};

/// A point on the page in millimetres, y downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

impl Point {
    /// The point at x and y.
    pub const fn new(x: f64, y: f64) -> Point {
        Point { x, y }
    }

    /// The point at this fraction of the way to another.
    pub(super) fn toward(self, other: Point, part: f64) -> Point {
        Point::new(
            self.x + part * (other.x - self.x),
            self.y + part * (other.y - self.y),
        )
    }

    fn moved(self, x: f64, y: f64) -> Point {
        Point::new(self.x + x, self.y + y)
    }
}

/// A piece of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    /// Lifts the pen.
    Move(Point),
    /// A straight line.
    Line(Point),
    /// A cubic curve: two handles and the end.
    Cubic(Point, Point, Point),
    /// Back to the start of the outline.
    Close,
}

/// The inks of a page: black, one accent, and paper.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Ink {
    /// The main ink.
    Black,
    /// Highlights what is also marked by shape; colour is never the only sign.
    ///
    /// Source: the blue of the colour-blind-safe set of Okabe and Ito, Color Universal Design (2008), RGB 0 114 178. Its
    /// grey on a copy is dark enough for white figures.
    Accent,
    /// For rules and the strings of a neck.
    Grey,
    /// The paper.
    White,
}

impl Ink {
    /// Red, green and blue.
    pub const fn rgb(self) -> (u8, u8, u8) {
        match self {
            Ink::Black => (0, 0, 0),
            Ink::Accent => (0, 114, 178),
            Ink::Grey => (110, 110, 110),
            Ink::White => (255, 255, 255),
        }
    }
}

/// A drawn line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Its thickness in millimetres.
    pub width: f64,
    /// Its ink.
    pub ink: Ink,
    /// Length of dash and gap in millimetres; `None` for an unbroken line.
    pub dash: Option<f64>,
}

impl Stroke {
    /// An unbroken line.
    pub const fn solid(width: f64, ink: Ink) -> Stroke {
        Stroke {
            width,
            ink,
            dash: None,
        }
    }
}

/// Which end of a text is at its point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[allow(missing_docs)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    /// The start of a line of text whose anchor is at a point.
    ///
    /// ```
    /// use fretlib::sheet::{Anchor, Face, Point};
    ///
    /// let at = Point::new(20.0, 5.0);
    /// let width = Face::Text.width("V position", 3.0);
    /// let start = Anchor::End.start("V position", at, 3.0, Face::Text);
    /// assert_eq!(start, Point::new(20.0 - width, 5.0));
    /// ```
    pub fn start(self, text: &str, at: Point, size: f64, face: Face) -> Point {
        let back = match self {
            Anchor::Start => 0.0,
            Anchor::Middle => 0.5,
            Anchor::End => 1.0,
        };
        Point::new(at.x - back * face.width(text, size), at.y)
    }
}

/// The meaning of a group of marks, for interactive pages and screen readers.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Subject {
    /// A note of the melody, counted from 1, and its description.
    Note(usize, Arc<str>),
    /// A place on a neck that gives these notes, counted from 1, and its description.
    Place(Vec<usize>, String),
    /// The title of the page (1) or of one of its parts (2).
    Heading(u8),
    /// A drawing, and its description.
    Figure(String),
    /// Parts of the paper rather than the music, such as the number of a page.
    Artifact,
}

/// A line of text on a page.
#[derive(Clone, Debug, PartialEq)]
pub struct TextMark {
    /// The text.
    pub text: String,
    /// The start, middle or end of the base line, by the anchor.
    pub at: Point,
    /// The type size in millimetres.
    pub size: f64,
    /// The face.
    pub face: Face,
    /// Which of these `at` is.
    pub anchor: Anchor,
    /// Its ink.
    pub ink: Ink,
}

impl TextMark {
    /// The start of the base line.
    pub fn start(&self) -> Point {
        self.anchor.start(&self.text, self.at, self.size, self.face)
    }

    /// Each character with the origin of its outline.
    pub fn characters(&self) -> impl Iterator<Item = (char, Point)> + '_ {
        let mut pen = self.start();
        self.text.chars().map(move |character| {
            let at = pen;
            pen.x += self.face.advance(character) * self.size;
            (character, at)
        })
    }
}

/// A sign of notation on a page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SignMark {
    /// Which.
    pub sign: Sign,
    /// Its origin.
    pub at: Point,
    /// The staff space it is drawn for, in millimetres.
    pub space: f64,
    /// Its ink.
    pub ink: Ink,
}

impl SignMark {
    /// The size of the music font, in millimetres: the height of a staff.
    pub fn size(&self) -> f64 {
        4.0 * self.space
    }
}

/// One thing on a page.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// An outline, filled, drawn or both.
    Shape {
        /// The outline.
        path: Vec<Segment>,
        /// The ink inside.
        fill: Option<Ink>,
        /// The line around.
        stroke: Option<Stroke>,
    },
    /// A sign of notation.
    Sign(SignMark),
    /// A line of text.
    Text(TextMark),
    /// Marks that belong together.
    Group {
        /// Their meaning.
        subject: Subject,
        /// The marks.
        marks: Vec<Mark>,
    },
}

impl Mark {
    /// All marks in a group and its inner groups; a mark outside any group is returned as it is.
    pub fn flat(&self) -> Box<dyn Iterator<Item = &Mark> + '_> {
        match self {
            Mark::Group { marks, .. } => Box::new(marks.iter().flat_map(Mark::flat)),
            other => Box::new(std::iter::once(other)),
        }
    }

    /// Every group in a mark, including itself, from the outside in.
    pub fn groups(&self) -> Box<dyn Iterator<Item = (&Subject, &[Mark])> + '_> {
        match self {
            Mark::Group { subject, marks } => Box::new(
                std::iter::once((subject, marks.as_slice()))
                    .chain(marks.iter().flat_map(Mark::groups)),
            ),
            _ => Box::new(std::iter::empty()),
        }
    }

    /// A straight line.
    pub fn line(from: Point, to: Point, stroke: Stroke) -> Mark {
        Mark::Shape {
            path: vec![Segment::Move(from), Segment::Line(to)],
            fill: None,
            stroke: Some(stroke),
        }
    }

    /// A closed outline of straight lines.
    pub fn polygon(points: &[Point], fill: Option<Ink>, stroke: Option<Stroke>) -> Mark {
        let mut path = Vec::with_capacity(points.len() + 1);
        path.extend(points.iter().map(|point| Segment::Line(*point)));
        if let (Some(first), Some(point)) = (path.first_mut(), points.first()) {
            *first = Segment::Move(*point);
        }
        path.push(Segment::Close);
        Mark::Shape { path, fill, stroke }
    }

    /// A rectangle by its corners.
    pub fn rectangle(from: Point, to: Point, fill: Option<Ink>, stroke: Option<Stroke>) -> Mark {
        let corners = [from, Point::new(to.x, from.y), to, Point::new(from.x, to.y)];
        Mark::polygon(&corners, fill, stroke)
    }

    /// A disc.
    pub fn disc(centre: Point, radius: f64, fill: Option<Ink>, stroke: Option<Stroke>) -> Mark {
        // The usual four cubics; less than a thousandth of the radius away from a true circle.
        const HANDLE: f64 = 0.552_285;
        let at = |x: f64, y: f64| centre.moved(x * radius, y * radius);
        let path = vec![
            Segment::Move(at(1.0, 0.0)),
            Segment::Cubic(at(1.0, HANDLE), at(HANDLE, 1.0), at(0.0, 1.0)),
            Segment::Cubic(at(-HANDLE, 1.0), at(-1.0, HANDLE), at(-1.0, 0.0)),
            Segment::Cubic(at(-1.0, -HANDLE), at(-HANDLE, -1.0), at(0.0, -1.0)),
            Segment::Cubic(at(HANDLE, -1.0), at(1.0, -HANDLE), at(1.0, 0.0)),
            Segment::Close,
        ];
        Mark::Shape { path, fill, stroke }
    }

    /// A line of text in black.
    pub fn text(text: impl Into<String>, at: Point, size: f64, face: Face, anchor: Anchor) -> Mark {
        Mark::Text(TextMark {
            text: text.into(),
            at,
            size,
            face,
            anchor,
            ink: Ink::Black,
        })
    }

    /// The same mark in another ink; shapes change their fill.
    #[must_use]
    pub fn inked(mut self, with: Ink) -> Mark {
        match &mut self {
            Mark::Text(TextMark { ink, .. }) | Mark::Sign(SignMark { ink, .. }) => *ink = with,
            Mark::Shape { fill, .. } => *fill = Some(with),
            Mark::Group { .. } => {}
        }
        self
    }

    /// The same mark somewhere else.
    #[must_use]
    pub fn moved(mut self, x: f64, y: f64) -> Mark {
        match &mut self {
            Mark::Shape { path, .. } => {
                for segment in path {
                    *segment = match *segment {
                        Segment::Move(to) => Segment::Move(to.moved(x, y)),
                        Segment::Line(to) => Segment::Line(to.moved(x, y)),
                        Segment::Cubic(first, second, to) => {
                            Segment::Cubic(first.moved(x, y), second.moved(x, y), to.moved(x, y))
                        }
                        Segment::Close => Segment::Close,
                    };
                }
            }
            Mark::Sign(SignMark { at, .. }) | Mark::Text(TextMark { at, .. }) => {
                *at = at.moved(x, y)
            }
            Mark::Group { marks, .. } => {
                for mark in marks {
                    let inner = std::mem::replace(mark, Mark::polygon(&[], None, None));
                    *mark = inner.moved(x, y);
                }
            }
        }
        self
    }
}

/// A page, or a drawing as large as it needs to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Width in millimetres.
    pub width: f64,
    /// Height in millimetres.
    pub height: f64,
    /// Its marks, from the back to the front.
    pub marks: Vec<Mark>,
}

impl Page {
    /// Every mark, including those in groups, without the groups.
    pub fn flat(&self) -> impl Iterator<Item = &Mark> {
        self.marks.iter().flat_map(Mark::flat)
    }
}
