//! Values in, text out: what is shown is the same on a terminal, on paper and in tests.

mod neck_diagram;
mod note_value;
mod tablature;
mod text;

pub use neck_diagram::{Mark, NeckDiagram, NeckMark};
pub use note_value::note_value;
pub use tablature::{TabNote, Tablature};
pub use text::{Line, Role, Span, Text};
