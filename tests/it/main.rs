//! Reference checks and whole runs, a module for each thing checked.

mod key_finding;
mod theory;
