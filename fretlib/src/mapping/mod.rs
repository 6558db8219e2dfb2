//! A melody on a neck.

mod neck_map;

pub use neck_map::{NeckMap, OpenStrings, PlacedNote, Placement, octaves_on};
