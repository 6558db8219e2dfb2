//! Values in, text out: what is shown is the same on a terminal, on paper and in tests.

mod neck_diagram;
mod styled_text;
mod tablature;

pub use neck_diagram::{NeckDiagram, NeckMark, NoteMark};
pub use styled_text::{Role, StyledLine, StyledSpan, StyledText};
pub use tablature::{TabNote, Tablature};
