//! `neckline` as a function from arguments and streams to an exit code, so that tests need no process.

mod args;
mod clock;
mod commands;
mod data;
mod failure;
mod hand;
pub mod history;
mod instrument;
mod output;
pub mod page;
mod paint;
mod placement;
mod screen;
mod session;
mod streams;
mod tune;
mod tunes;

use std::ffi::OsString;
use std::io::Write;

use clap::Parser;

pub use failure::Failure;
pub use streams::Streams;

use args::{Args, Color};

/// Runs with the arguments, streams and terminal of this process; returns the exit code.
pub fn run_on_terminal() -> u8 {
    let mut streams = Streams::of_process();
    run(std::env::args_os(), &mut streams)
}

/// Runs with these arguments, the first being the program's name; returns the exit code.
///
/// 0 is done, 1 could not, 2 is wrong usage or unreadable input. A reader that closes the pipe early has had what it
/// wanted: that is 0.
pub fn run(args: impl IntoIterator<Item = OsString>, streams: &mut Streams) -> u8 {
    let args = match Args::try_parse_from(args) {
        Ok(args) => args,
        Err(error) => {
            let text = error.render();
            let text = if streams.color {
                text.ansi().to_string()
            } else {
                text.to_string()
            };
            // Help and version are results, the rest are complaints; a closed pipe is no failure of ours.
            let _ = if error.use_stderr() {
                streams.stderr.write_all(text.as_bytes())
            } else {
                streams.stdout.write_all(text.as_bytes())
            };
            return if error.use_stderr() { 2 } else { 0 };
        }
    };
    match args.color {
        Color::Auto => {}
        Color::Always => streams.color = true,
        Color::Never => streams.color = false,
    }
    streams.ascii |= args.ascii;
    let done = commands::run(args.command, streams).and_then(|()| Ok(streams.stdout.flush()?));
    match done {
        Ok(()) => 0,
        Err(failure) if failure.is_closed_pipe() => 0,
        Err(failure) => {
            let _ = failure.report(streams);
            failure.exit_code()
        }
    }
}
