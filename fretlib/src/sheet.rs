//! The page for the music stand: notation, tablature and neck diagrams, engraved.
//!
//! The melody is written down first (by `crate::notation`), then measured and broken into systems (`measure`), then
//! drawn (`notation`, `stems`, `rows`). The result is a [`Page`]: a list of [`Mark`]s in millimetres, from which every
//! format is made. [`svg()`] and [`html()`] are here; the program makes PDF and PNG from the same list, so that the
//! library needs no crates for them.

mod bar_line_marks;
mod bounds;
mod canvas;
mod clef;
mod drawing;
mod font;
mod html;
mod measure;
mod neck_drawing;
mod page;
mod page_score;
mod rows;
mod second_voice;
mod skyline;
mod staff_block;
mod stems;
mod svg;
mod voicing_diagram;
mod words;

pub use bounds::Bounds;
pub use drawing::{Anchor, Ink, Mark, Page, Point, Segment, SignMark, Stroke, Subject, TextMark};
pub use font::{Face, Sign};
pub use html::{html, html_in_pieces};
pub use neck_drawing::NeckDrawing;
pub use page::{
    Answers, Excerpt, Exercises, FrontPage, Paper, Part, Sheet, TakeOnPaper, UnboundPages, bound,
    pages, strip,
};
pub use staff_block::{Block, Notation, Rows, TabPlace, TuneOnNeck, systems};
pub use svg::svg;
pub use words::signs;
