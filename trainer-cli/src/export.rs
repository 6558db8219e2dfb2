//! Pages as files of bytes: the formats whose crates the library does without.

mod pdf;
mod png;

pub use pdf::pdf;
pub use png::png;
