//! A melody on a neck.

pub mod fingering;
mod neck_map;
mod placement;

pub use neck_map::{NeckMap, octaves_on};
pub use placement::{OpenStrings, PlacedNote, Placement};
