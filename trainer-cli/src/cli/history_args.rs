//! The folder of the practice history, and `neckline history`.

use std::path::PathBuf;

use clap::Subcommand;
use jiff::civil::DateTime;

use crate::commands::backups::HistoryRequest;
use crate::output::Existing;
use crate::practice_sets::ShortName;
use crate::request::HistoryFolder;
use crate::terminal::clock::read_time;

#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "History")]
pub struct DataArgs {
    /// The folder of the practice history [default: neckline in the user's data folder]
    #[arg(
        long,
        value_name = "FOLDER",
        env = "NECKLINE_DATA_DIR",
        hide_env_values = true,
        hide_short_help = true
    )]
    data_dir: Option<PathBuf>,

    /// Whose history: each player has one [default: one for whoever plays]
    #[arg(
        long,
        value_name = "NAME",
        env = "NECKLINE_PLAYER",
        hide_env_values = true,
        hide_short_help = true
    )]
    player: Option<ShortName>,
}

impl From<DataArgs> for HistoryFolder {
    fn from(args: DataArgs) -> Self {
        HistoryFolder {
            folder: args.data_dir,
            player: args.player,
        }
    }
}

/// Whether passes of a tune are kept, where, and at what time.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "History")]
pub struct PassHistoryArgs {
    /// Keep no passes in the history
    #[arg(long, hide_short_help = true)]
    pub no_history: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = read_time, hide_short_help = true)]
    pub now: Option<DateTime>,

    #[command(flatten)]
    pub data: DataArgs,
}

/// Back up the practice history, restore it, wipe a tune, export it.
#[derive(Debug, clap::Args)]
pub struct HistoryArgs {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, Subcommand)]
enum Action {
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
    /// Take everything about one tune out of the history; a backup is kept
    Wipe {
        /// The tune: its title, a built-in one or a file
        tune: String,
        /// Do not ask
        #[arg(long)]
        force: bool,
        #[command(flatten)]
        data: DataArgs,
    },
    /// Print every answer as one JSON object, for a teacher
    Export {
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

impl From<HistoryArgs> for HistoryRequest {
    fn from(args: HistoryArgs) -> Self {
        match args.action {
            Action::Backup {
                file,
                replace,
                data,
            } => HistoryRequest::BackUp {
                file,
                existing: Existing::from_option(replace),
                folder: data.into(),
            },
            Action::Wipe { tune, force, data } => HistoryRequest::Wipe {
                tune,
                force,
                folder: data.into(),
            },
            Action::Export { data } => HistoryRequest::Export {
                folder: data.into(),
            },
            Action::Restore { file, data } => HistoryRequest::Restore {
                file,
                folder: data.into(),
            },
        }
    }
}
