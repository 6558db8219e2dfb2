//! Why the history cannot be used.

use std::path::PathBuf;

use thiserror::Error;

use super::schema;

/// Why the history cannot be used.
#[derive(Debug, Error)]
pub enum HistoryError {
    /// SQLite says why.
    #[error("{0}")]
    Database(rusqlite::Error),
    /// The file system says why.
    #[error("{}: {cause}", path.display())]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong with it.
        cause: std::io::Error,
    },
    /// The file is not sound.
    #[error("the history is damaged: {0}")]
    Damaged(String),
    /// The file is not ours.
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
    /// A file would have been overwritten.
    #[error("{} is already there", .0.display())]
    Exists(PathBuf),
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
