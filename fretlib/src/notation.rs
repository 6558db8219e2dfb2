//! A melody written down: note values and rests, ties, tuplets, beams and accidentals.
//!
//! What is drawn on a page and what is written into a score follow the same rules.

pub mod accidental;
pub mod beam;
mod metric_grid;
pub mod rhythm;
mod tuplet_bracket;
