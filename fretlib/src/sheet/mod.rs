//! The page for the music stand: notation, tablature and neck diagrams, engraved.

mod accidental;
mod beam;
mod drawing;
mod font;
mod html;
mod measure;
mod neck_diagram;
mod notation;
mod page;
mod rhythm;
mod stems;
mod svg;
mod words;

pub use drawing::{Anchor, Ink, Mark, Page, Point, Segment, Stroke, Subject};
pub use font::{Face, Sign};
pub use html::html;
pub use neck_diagram::{NeckDiagram, octave_in_words};
pub use notation::{Block, Notation, Rows, systems};
pub use page::{Paper, Part, Sheet, pages, strip};
pub use svg::svg;
pub use words::signs;
