//! Reference checks and whole runs, a module for each thing checked.

mod abc;
mod bad_input;
mod drill;
mod key_finding;
mod map;
mod progress;
mod readme;
mod golden;
mod key_finding;
mod midi;
mod musicxml;
mod theory;
mod tidy;
