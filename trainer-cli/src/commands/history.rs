//! `neckline history`: copies of the practice history.

use std::io::Write;
use std::path::PathBuf;

use clap::Subcommand;

use crate::args::DataArgs;
use crate::failure::Failure;
use crate::history::{History, HistoryError};
use crate::streams::Streams;

/// Back up the practice history, or restore it.
#[derive(Debug, clap::Args)]
pub struct HistoryArgs {
    #[command(subcommand)]
    pub action: Action,
}

#[derive(Debug, Subcommand)]
pub enum Action {
    /// Write a whole, checked copy of the history
    Backup {
        /// The file to write
        file: PathBuf,
        /// Write over a file that is there
        #[arg(long)]
        replace: bool,
        #[command(flatten)]
        data: DataArgs,
    },
    /// Put a backup in place of the history; the old one is kept beside it
    Restore {
        /// The backup
        file: PathBuf,
        #[command(flatten)]
        data: DataArgs,
    },
}

/// Copies.
pub fn run(args: &HistoryArgs, streams: &mut Streams) -> Result<(), Failure> {
    match &args.action {
        Action::Backup {
            file,
            replace,
            data,
        } => {
            let folder = data.folder()?;
            let Some(history) = History::open_to_read(&folder)? else {
                return Err(Failure::could_not(
                    format!("there is no history in {}", folder.display()),
                    "`neckline drill` begins one",
                ));
            };
            history
                .back_up(file, *replace)
                .map_err(|error| match error {
                    HistoryError::Exists(_) => Failure::could_not(
                        error.to_string(),
                        "choose another name, or replace it with `--replace`",
                    ),
                    _ => Failure::could_not(error.to_string(), "choose another place for the copy"),
                })?;
            writeln!(
                streams.stdout,
                "{} answers copied to {}",
                history.count()?,
                file.display()
            )?;
        }
        Action::Restore { file, data } => {
            let folder = data.folder()?;
            let before = History::restore(&folder, file).map_err(|error| {
                Failure::could_not(
                    format!("{} cannot be restored: {error}", file.display()),
                    "name a file that `neckline history backup` wrote; the history is as it was",
                )
            })?;
            let count = History::open(&folder)?.count()?;
            writeln!(
                streams.stdout,
                "{count} answers restored from {}",
                file.display()
            )?;
            if let Some(before) = before {
                writeln!(
                    streams.stdout,
                    "the history before is kept as {}",
                    before.display()
                )?;
            }
        }
    }
    Ok(())
}
