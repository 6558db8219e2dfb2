//! The file of the history: opened with care, and looked at before it is trusted.

use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use super::{History, HistoryError, schema};

/// How long to wait for another program that is writing.
const PATIENCE: Duration = Duration::from_secs(5);

impl History {
    /// Opens the history in a folder, and makes both when they are not there.
    ///
    /// # Errors
    ///
    /// When the folder cannot be made, or the file is damaged, newer, not ours or not writable. The file is then left as
    /// it is.
    pub fn open(folder: &Path) -> Result<History, HistoryError> {
        std::fs::create_dir_all(folder).map_err(|cause| HistoryError::File {
            path: folder.to_owned(),
            cause,
        })?;
        let path = folder.join(History::FILE);
        let is_there = path.metadata().is_ok_and(|file| file.len() > 0);
        if is_there {
            // Looked at without the right to write first: a file that is not ours must not get so much as a journal.
            let reader = open_read_only(&path)?;
            schema::version(&reader)?;
            check_soundness(&reader)?;
        }
        let mut connection = Connection::open(&path)?;
        connection.busy_timeout(PATIENCE)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        // In WAL mode with full synchronisation a commit has reached the disk when it returns.
        connection.pragma_update(None, "journal_mode", "WAL")?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        schema::migrate(&mut connection)?;
        Ok(History { connection, path })
    }

    /// Opens the history in a folder to read it; `None` when there is none yet.
    ///
    /// # Errors
    ///
    /// As [`History::open`], but nothing is made or written.
    pub fn open_to_read(folder: &Path) -> Result<Option<History>, HistoryError> {
        let path = folder.join(History::FILE);
        match path.metadata() {
            Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(cause) => return Err(HistoryError::File { path, cause }),
            Ok(file) if file.len() == 0 => return Ok(None),
            Ok(_) => {}
        }
        let connection = open_read_only(&path)?;
        if schema::version(&connection)? != schema::CURRENT {
            drop(connection);
            return History::open(folder).map(Some);
        }
        check_soundness(&connection)?;
        Ok(Some(History { connection, path }))
    }
}

/// Opens a file without the right to write to it.
pub(super) fn open_read_only(path: &Path) -> Result<Connection, HistoryError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(PATIENCE)?;
    Ok(connection)
}

/// Files above this size are checked in part: their structure is read page by page as it is used, and SQLite says so
/// when a page is not sound. Checking all of a history of a million answers would take longer than starting to play.
const CHECKED_WHOLE: u64 = 8 << 20;

fn check_soundness(connection: &Connection) -> Result<(), HistoryError> {
    let size: u64 = connection.query_row(
        "SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()",
        [],
        |row| row.get(0),
    )?;
    if size > CHECKED_WHOLE {
        let sql = "PRAGMA quick_check('item')";
        return check(connection, sql);
    }
    check(connection, "PRAGMA integrity_check(3)")
}

/// What SQLite says of a file; anything but `ok` is damage.
pub(super) fn check(connection: &Connection, pragma: &str) -> Result<(), HistoryError> {
    let said: String = connection
        .query_row(pragma, [], |row| row.get(0))
        .map_err(|error| HistoryError::Damaged(error.to_string()))?;
    if said == "ok" {
        Ok(())
    } else {
        Err(HistoryError::Damaged(said.replace('\n', "; ")))
    }
}
