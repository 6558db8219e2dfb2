//! Reference checks and whole runs, a module for each thing checked.
