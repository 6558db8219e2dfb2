//! An instrument and the hand on it, knowing nothing of melodies.

mod instrument;
mod place;
mod position;

pub use instrument::{Build, Instrument, InstrumentError};
pub use place::{Fret, Place, StringNumber};
pub use position::{Finger, Position, Reach};
