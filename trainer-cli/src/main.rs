//! The program `neckline`: arguments in, exit code out.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(trainer_cli::run_on_terminal())
}
