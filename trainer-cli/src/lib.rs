//! `neckline` as a function from arguments and streams to an exit code, so that tests need no process.

mod audio;
mod cli;
mod commands;
pub mod export;
mod failure;
pub mod history;
mod input;
mod kept_file;
mod output;
mod practice_sets;
mod report;
mod request;
mod screen;
mod session;
mod terminal;

use std::ffi::OsString;
use std::io::Write;

pub use audio::{SoundInput, SoundOutput};
pub use failure::Failure;
pub use request::{InstrumentRequest, TuneOnInstrument, TuneRequest};
pub use terminal::Streams;

/// Runs with the arguments, streams and terminal of this process; returns the exit code.
pub fn run_on_terminal() -> u8 {
    let mut streams = Streams::of_process();
    run(std::env::args_os(), &mut streams)
}

/// Runs with these arguments, the first being the program's name; returns the exit code.
///
/// 0 is done, 1 could not, 2 is wrong usage or unreadable input. A closed pipe counts as done: 0.
pub fn run(args: impl IntoIterator<Item = OsString>, streams: &mut Streams) -> u8 {
    let invocation = match cli::parse(args, streams.color) {
        Ok(invocation) => invocation,
        Err(message) => {
            // A closed pipe is not a failure.
            let _ = if message.is_error {
                streams.stderr.coloured(&message.text)
            } else {
                streams.stdout.coloured(&message.text)
            };
            return if message.is_error { 2 } else { 0 };
        }
    };
    streams.color = invocation.color.unwrap_or(streams.color);
    streams.ascii |= invocation.ascii;
    let done =
        commands::run(invocation.command, streams).and_then(|()| Ok(streams.stdout.flush()?));
    match done {
        Ok(()) => 0,
        Err(failure) if failure.is_closed_pipe() => 0,
        Err(failure) => {
            let _ = failure.report(streams);
            failure.exit_code()
        }
    }
}
