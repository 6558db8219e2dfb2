//! Reference checks and whole runs, a module for each thing checked.

mod abc;
mod key_finding;
mod theory;
