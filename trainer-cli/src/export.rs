//! Pages as PDF and PNG: the formats whose crates the library does not need.

#[cfg(feature = "pdf")]
mod pdf;
mod png;

#[cfg(feature = "pdf")]
pub use pdf::pdf;
pub use png::png;
