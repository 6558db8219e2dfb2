//! Pages as files of bytes: the formats whose crates the library does without.

#[cfg(feature = "pdf")]
mod pdf;
mod png;

#[cfg(feature = "pdf")]
pub use pdf::pdf;
pub use png::png;
