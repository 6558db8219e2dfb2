//! Values in, text out: the same text for a terminal, a file and the tests.

mod neck_diagram;
mod styled_text;
mod tablature;

pub use neck_diagram::{NeckDiagram, NeckMark, NoteMark};
pub use styled_text::{Role, StyledLine, StyledSpan, StyledText};
pub use tablature::{TabNote, Tablature};
