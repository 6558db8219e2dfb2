//! Why the history cannot be used.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::schema;

/// Why the history cannot be used.
#[derive(Debug, Error)]
pub enum HistoryError {
    /// An error of SQLite.
    #[error("{}", in_words(.0))]
    Database(rusqlite::Error),
    /// An error of the file system.
    #[error("{}: {cause}", path.display())]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong with it.
        cause: std::io::Error,
    },
    /// The file is damaged.
    #[error("the history is damaged: {0}")]
    Damaged(String),
    /// The file is not a practice history.
    #[error("the file is not a practice history of neckline")]
    Foreign,
    /// The file was written by a newer version.
    #[error(
        "the history has version {version}, newer than this program understands ({})",
        schema::CURRENT
    )]
    Newer {
        /// Its version.
        version: i64,
    },
    /// Other files kept taking its place while it was open.
    #[error("the history is replaced again and again")]
    Replaced,
    /// A file would be overwritten.
    #[error("{} is already there", .0.display())]
    Exists(PathBuf),
}

impl HistoryError {
    /// What is wrong with a file or folder.
    pub(crate) fn file(path: &Path, cause: std::io::Error) -> HistoryError {
        HistoryError::File {
            path: path.to_owned(),
            cause,
        }
    }

    /// What the player can do about it.
    pub fn what_to_do(&self) -> &'static str {
        match self {
            error if error.is_about_writing() => {
                "the folder cannot be written: make it so, or name another with `--data-dir`"
            }
            HistoryError::Damaged(_) => {
                "the file is left as it is; `neckline history restore` puts a backup in its place"
            }
            HistoryError::Foreign | HistoryError::Newer { .. } => {
                "the file is left as it is; `--data-dir` names another folder"
            }
            HistoryError::Database(_)
            | HistoryError::File { .. }
            | HistoryError::Replaced
            | HistoryError::Exists(_) => "the history is left as it is; try again",
        }
    }

    /// Whether the file could be read, but not written or recovered.
    pub(crate) fn is_about_writing(&self) -> bool {
        use rusqlite::ErrorCode::{CannotOpen, PermissionDenied, ReadOnly};
        match self {
            HistoryError::Database(error) => matches!(
                error.sqlite_error_code(),
                Some(CannotOpen | PermissionDenied | ReadOnly)
            ),
            HistoryError::File { cause, .. } => matches!(
                cause.kind(),
                ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem
            ),
            _ => false,
        }
    }
}

impl From<rusqlite::Error> for HistoryError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
        match error.sqlite_error_code() {
            Some(DatabaseCorrupt | NotADatabase) => HistoryError::Damaged(error.to_string()),
            _ => HistoryError::Database(error),
        }
    }
}

/// An error of SQLite in words for a player.
fn in_words(error: &rusqlite::Error) -> String {
    use rusqlite::ErrorCode::{CannotOpen, DatabaseBusy, DatabaseLocked, DiskFull, ReadOnly};
    match error.sqlite_error_code() {
        Some(DatabaseBusy | DatabaseLocked) => "another program is writing to the history".into(),
        Some(DiskFull) => "the disk is full".into(),
        Some(ReadOnly | CannotOpen) => "the history cannot be written".into(),
        _ => error.to_string(),
    }
}
