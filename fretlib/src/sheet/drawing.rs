//! What is on a page, as data: the one list from which every format is made.

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

    /// The point this part of the way to another.
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
    /// Back to where the pen came down.
    Close,
}

/// The inks of a page: black, one accent, and paper.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Ink {
    /// For everything.
    Black,
    /// Marks what is also marked by shape; never alone.
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
    /// Length of dash and gap in millimetres; none for an unbroken line.
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

/// Which end of a text stands at its point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[allow(missing_docs)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    /// Where the first letter of a line of text stands whose anchor is at a point.
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

/// What a group of marks stands for, so that a page on a screen can answer.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Subject {
    /// A note of the melody, counted from 1, and what it is in words.
    Note(usize, String),
    /// A place on a neck that gives these notes, counted from 1, and what it is in words.
    Place(Vec<usize>, String),
    /// The title of the page (1) or of one of its parts (2).
    Heading(u8),
    /// A drawing, and what it shows in words.
    Figure(String),
    /// What belongs to the paper rather than to the music, such as the number of a page.
    Artifact,
}

/// A line of text on a page.
#[derive(Clone, Debug, PartialEq)]
pub struct TextMark {
    /// The text.
    pub text: String,
    /// Where the base line begins, has its middle or ends.
    pub at: Point,
    /// The type size in millimetres.
    pub size: f64,
    /// The face.
    pub face: Face,
    /// Which of the three `at` is.
    pub anchor: Anchor,
    /// Its ink.
    pub ink: Ink,
}

impl TextMark {
    /// Where the base line begins.
    pub fn start(&self) -> Point {
        self.anchor.start(&self.text, self.at, self.size, self.face)
    }

    /// Each character with the point where its outline begins.
    pub fn characters(&self) -> impl Iterator<Item = (char, Point)> + '_ {
        let mut pen = self.start();
        self.text.chars().map(move |character| {
            let at = pen;
            pen.x += self.face.advance(character) * self.size;
            (character, at)
        })
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
    /// A sign of notation, its origin at a point.
    Sign {
        /// Which.
        sign: Sign,
        /// Where its origin stands.
        at: Point,
        /// The staff space it is drawn for, in millimetres.
        space: f64,
        /// Its ink.
        ink: Ink,
    },
    /// A line of text.
    Text(TextMark),
    /// Marks that belong together.
    Group {
        /// What they stand for.
        subject: Subject,
        /// The marks.
        marks: Vec<Mark>,
    },
}

impl Mark {
    /// The marks in a group and in the groups in it; a mark that is no group is itself.
    pub fn flat(&self) -> Box<dyn Iterator<Item = &Mark> + '_> {
        match self {
            Mark::Group { marks, .. } => Box::new(marks.iter().flat_map(Mark::flat)),
            other => Box::new(std::iter::once(other)),
        }
    }

    /// Every group in a mark, itself included, from the outside in.
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
        let mut path: Vec<Segment> = points.iter().map(|point| Segment::Line(*point)).collect();
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
        // The usual four cubics; off a true circle by less than a thousandth of the radius.
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

    /// The same mark in another ink; shapes change what they are filled with.
    #[must_use]
    pub fn inked(mut self, with: Ink) -> Mark {
        match &mut self {
            Mark::Text(TextMark { ink, .. }) | Mark::Sign { ink, .. } => *ink = with,
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
            Mark::Sign { at, .. } | Mark::Text(TextMark { at, .. }) => *at = at.moved(x, y),
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
    /// What is on it, from the back to the front.
    pub marks: Vec<Mark>,
}

impl Page {
    /// Every mark, those in groups included, without the groups.
    pub fn flat(&self) -> impl Iterator<Item = &Mark> {
        self.marks.iter().flat_map(Mark::flat)
    }
}
