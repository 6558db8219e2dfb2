//! Where a melody lies on a fretted instrument.
#![warn(missing_docs)]

mod error;
pub mod format;
pub mod mapping;
pub mod melody;
pub mod neck;
mod one_line;
pub mod practice;
pub mod theory;
pub mod view;

pub use error::{OutOfRange, ParseError};
