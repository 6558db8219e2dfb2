//! A melody written down: note values and rests, ties, tuplets, beams and accidentals.
//!
//! Drawn pages and written scores follow the same rules.

pub mod accidental;
pub mod beam;
mod metric_grid;
pub mod multi_bar_rest;
pub mod rhythm;
mod tuplet_bracket;
