//! A melody on a neck.

mod neck_map;
mod placement;

pub use neck_map::{NeckMap, octaves_on};
pub use placement::{Ease, OpenStrings, PlacedNote, Placement, Preference};
