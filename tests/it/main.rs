//! Reference checks and whole runs, a module for each thing checked.

mod abc;
mod arrange_command;
mod arranging;
mod bad_input;
mod beats;
mod convert;
mod doors;
mod drill;
mod fingering;
mod fingering_command;
mod form;
mod fuzz;
mod history;
mod key_finding;
mod map;
mod melodies;
mod midi;
mod musicxml;
mod play;
mod progress;
mod readme;
mod round_trips;
mod sets;
mod sheet;
mod theory;
mod tidy;
