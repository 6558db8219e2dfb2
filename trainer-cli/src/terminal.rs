//! The terminal and the system around a run: streams, colour and the time.

pub mod clock;
pub mod colour;
mod streams;

pub use clock::Clock;
pub use streams::Streams;
