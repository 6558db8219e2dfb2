//! `neckline` as a function from arguments and streams to an exit code.

/// Runs with the arguments, streams and terminal of this process; returns the exit code.
pub fn run_on_terminal() -> u8 {
    0
}
