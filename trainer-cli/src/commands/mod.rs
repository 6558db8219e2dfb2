//! A module for each command.

pub mod drill;
pub mod instruments;
pub mod map;
pub mod tunes;

use crate::args::Command;
use crate::failure::Failure;
use crate::streams::Streams;

/// Runs a command.
pub fn run(command: Command, streams: &mut Streams) -> Result<(), Failure> {
    match command {
        Command::Map(args) => map::run(&args, streams),
        Command::Drill(args) => drill::run(&args, streams),
        Command::Tunes(args) => tunes::run(&args, streams),
        Command::Instruments(args) => instruments::run(&args, streams),
    }
}
