//! A melody on a neck.

pub mod fingering;
mod neck_map;

pub use neck_map::{NeckMap, OpenStrings, PlacedNote, Placement, octaves_on};
