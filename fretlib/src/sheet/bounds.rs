//! The extent of a mark.

use super::drawing::{Mark, Point, Segment};
use super::font::Face;

/// A rectangle around ink, in millimetres, y downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct Bounds {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Bounds {
    /// The smallest rectangle around points; `None` when there are none.
    fn around(points: impl IntoIterator<Item = Point>) -> Option<Bounds> {
        points.into_iter().fold(None, |bounds, at| {
            let point = Bounds {
                left: at.x,
                top: at.y,
                right: at.x,
                bottom: at.y,
            };
            Some(bounds.map_or(point, |it: Bounds| it.with(point)))
        })
    }

    /// The smallest rectangle around both.
    #[must_use]
    pub fn with(self, other: Bounds) -> Bounds {
        Bounds {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// The same rectangle, larger by this much on every side, or smaller.
    #[must_use]
    pub fn grown(self, by: f64) -> Bounds {
        Bounds {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    /// Whether the two overlap by more than an edge.
    pub fn overlaps(self, other: Bounds) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

impl Mark {
    /// The rectangle around its ink, lines with their thickness; curves by their handles, which lie a little outside.
    /// `None` without ink.
    pub fn bounds(&self) -> Option<Bounds> {
        match self {
            Mark::Shape { path, stroke, .. } => {
                let points = path.iter().flat_map(|segment| match *segment {
                    Segment::Move(to) | Segment::Line(to) => vec![to],
                    Segment::Cubic(first, second, to) => vec![first, second, to],
                    Segment::Close => Vec::new(),
                });
                let half = stroke.map_or(0.0, |stroke| stroke.width / 2.0);
                Bounds::around(points).map(|bounds| bounds.grown(half))
            }
            Mark::Sign(it) => glyph(Face::Music, it.sign.character(), it.at, it.size()),
            Mark::Text(text) => text
                .characters()
                .filter_map(|(character, at)| glyph(text.face, character, at, text.size))
                .reduce(Bounds::with),
            Mark::Group { marks, .. } => marks.iter().filter_map(Mark::bounds).reduce(Bounds::with),
        }
    }
}

fn glyph(face: Face, character: char, at: Point, size: f64) -> Option<Bounds> {
    let (left, top, right, bottom) = face.ink(character)?;
    Some(Bounds {
        left: at.x + left * size,
        top: at.y + top * size,
        right: at.x + right * size,
        bottom: at.y + bottom * size,
    })
}
