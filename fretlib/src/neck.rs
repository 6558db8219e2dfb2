//! An instrument and the hand on it, knowing nothing of melodies.

mod built_in;
pub(crate) mod hand;
mod instrument;
mod layout;
mod place;
mod position;
mod position_set;
mod tuning;

pub use hand::Hand;
pub use instrument::{Instrument, InstrumentError, InstrumentSpec};
pub use layout::{FretColumn, Inlay, NeckLayout};
pub use place::{Fret, Place, StringNumber};
pub use position::{Finger, Position, Reach};
pub use position_set::PositionSet;
pub use tuning::TuningError;
#[cfg(feature = "formats")]
pub(crate) use tuning::words;
