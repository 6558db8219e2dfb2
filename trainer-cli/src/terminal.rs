//! The terminal and the system around a run: streams, colour and the time.

pub mod clock;
pub mod colour;
mod full_screen;
mod message_stream;
mod streams;
mod text_stream;

pub use clock::Clock;
pub use full_screen::{FullScreen, ScreenEvent};
pub use message_stream::MessageStream;
pub use streams::Streams;
pub use text_stream::TextStream;
