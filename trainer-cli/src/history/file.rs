//! The file of the history, which is checked before it is used.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::backup::Backup;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::{History, HistoryError, schema};
use crate::output::{Existing, NewFile, Readers, clear_leftovers, make_private_folder};

impl History {
    /// How long to wait for another program that is writing.
    pub const PATIENCE: Duration = Duration::from_secs(2);
    /// How long to wait after the first time.
    pub const LITTLE_PATIENCE: Duration = Duration::from_millis(250);

    /// Sets how long to wait for another program that is writing.
    pub fn wait_for_others(&self, patience: Duration) -> Result<(), HistoryError> {
        Ok(self.connection.busy_timeout(patience)?)
    }

    /// Opens the history in a folder, and creates both if they do not exist.
    ///
    /// A new history is completed beside its place and then moved there, so that a kill never leaves half of one.
    ///
    /// # Errors
    ///
    /// When the folder cannot be made, or the file is damaged, newer, not a history or not writable. The file is then
    /// left as it is.
    pub fn open(folder: &Path) -> Result<History, HistoryError> {
        make_private_folder(folder).map_err(|cause| HistoryError::file(folder, cause))?;
        clear_leftovers(folder);
        let path = folder.join(History::FILE);
        if !path.exists() {
            create(&path)?;
        }
        open_to_write(&path)
    }

    /// Opens the history in a folder to read it; `None` when there is none yet.
    ///
    /// If it is writable, it is first recovered after a killed program. If not, as on a read-only disk, it is read as
    /// it is.
    ///
    /// # Errors
    ///
    /// When the file is damaged, newer or not a history.
    pub fn open_to_read(folder: &Path) -> Result<Option<History>, HistoryError> {
        let path = folder.join(History::FILE);
        match path.metadata() {
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(cause) => return Err(HistoryError::file(&path, cause)),
            Ok(file) if file.len() == 0 && !has_journal(&path) => return Ok(None),
            Ok(_) => {}
        }
        match open_to_write(&path) {
            Err(error) if error.is_about_writing() => open_as_it_stands(&path).map(Some),
            opened => opened.map(Some),
        }
    }

    /// Whether the file at the history's place is no longer this one: replaced, or gone.
    pub(super) fn is_replaced(&self) -> bool {
        self.identity != Identity::of(&self.path)
    }
}

/// The identity of a file, which differs from that of a replacement.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Identity(Option<(u64, u64)>);

impl Identity {
    #[cfg(unix)]
    fn of(path: &Path) -> Identity {
        use std::os::unix::fs::MetadataExt;
        Identity(fs::metadata(path).ok().map(|file| (file.dev(), file.ino())))
    }

    /// Elsewhere a file that is open cannot be replaced.
    #[cfg(not(unix))]
    fn of(path: &Path) -> Identity {
        Identity(path.exists().then_some((0, 0)))
    }
}

/// Makes an empty history, unless another program does so at the same time.
fn create(path: &Path) -> Result<(), HistoryError> {
    let failed = |cause| HistoryError::file(path, cause);
    // The log of a removed file must not be applied to the new one.
    set_logs_aside(path, &free_name(path));
    let new = NewFile::beside(path, Readers::Owner).map_err(failed)?;
    let mut connection = Connection::open(new.path())?;
    schema::migrate(&mut connection)?;
    close(connection)?;
    match new.into_place(Existing::Keep) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => Err(failed(error)),
        _ => Ok(()),
    }
}

/// Closes a file before it is moved, leaving no log beside it.
pub(super) fn close(connection: Connection) -> Result<(), HistoryError> {
    connection.pragma_update(None, "journal_mode", "DELETE")?;
    connection.close().map_err(|(_, error)| error.into())
}

/// Opens an existing file, recovers it, and brings it up to the current version.
pub(super) fn open_to_write(path: &Path) -> Result<History, HistoryError> {
    let identity = Identity::of(path);
    // A foreign file must not even get a journal, so it is first opened read-only. That is impossible if a killed
    // program left a journal: such a file can only be read after recovery.
    let mut is_sound = false;
    if !has_journal(path) {
        match open_read_only(path).and_then(|reader| look_at(&reader)) {
            Err(error) if !error.is_about_writing() => return Err(error),
            seen => is_sound = seen.is_ok(),
        }
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(History::PATIENCE)?;
    check_pages(&connection)?;
    if connection.is_readonly(rusqlite::MAIN_DB)? {
        let cause = io::ErrorKind::PermissionDenied.into();
        return Err(HistoryError::file(path, cause));
    }
    schema::version(&connection)?;
    // One look at all of it is enough: it takes longer than everything else here.
    if !is_sound {
        check_soundness(&connection)?;
    }
    keep_private(path);
    connection.pragma_update(None, "foreign_keys", true)?;
    // In WAL mode with full synchronisation a commit has reached the disk when it returns.
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    if schema::version(&connection)? != schema::CURRENT {
        schema::migrate(&mut connection)?;
    }
    Ok(History {
        connection,
        path: path.to_owned(),
        identity,
    })
}

/// Opens a file in a folder that cannot be written.
fn open_as_it_stands(path: &Path) -> Result<History, HistoryError> {
    let identity = Identity::of(path);
    let connection = match open_read_only(path).and_then(|reader| look_at(&reader).map(|()| reader))
    {
        // A log beside it has the latest changes; without one the file is complete.
        Err(error) if error.is_about_writing() && !has_log(path) => {
            let reader = open_immutable(path)?;
            look_at(&reader)?;
            reader
        }
        opened => opened?,
    };
    let connection = if schema::version(&connection)? == schema::CURRENT {
        connection
    } else {
        // An older history is brought up in memory.
        let mut copy = copy_in_memory(&connection)?;
        schema::migrate(&mut copy)?;
        copy
    };
    Ok(History {
        connection,
        path: path.to_owned(),
        identity,
    })
}

/// Copies a file that is open into memory.
pub(super) fn copy_in_memory(from: &Connection) -> Result<Connection, HistoryError> {
    let mut copy = Connection::open_in_memory()?;
    Backup::new(from, &mut copy)?.run_to_completion(i32::MAX, Duration::ZERO, None)?;
    Ok(copy)
}

/// Opens a file read-only.
pub(super) fn open_read_only(path: &Path) -> Result<Connection, HistoryError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(History::PATIENCE)?;
    check_pages(&connection)?;
    Ok(connection)
}

/// Checks each page as it is read, so that a damaged one is found before it is used.
fn check_pages(connection: &Connection) -> Result<(), HistoryError> {
    Ok(connection.pragma_update(None, "cell_size_check", true)?)
}

/// Opens a file that nobody can change, without so much as a lock.
fn open_immutable(path: &Path) -> Result<Connection, HistoryError> {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"/-_.".contains(&byte);
    let name: String = path
        .to_string_lossy()
        .bytes()
        .map(|byte| match plain(byte) {
            true => char::from(byte).to_string(),
            false => format!("%{byte:02X}"),
        })
        .collect();
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
    let connection = Connection::open_with_flags(format!("file:{name}?immutable=1"), flags)?;
    Ok(connection)
}

/// Whether a program was killed while it changed the file without a log.
fn has_journal(path: &Path) -> bool {
    is_not_empty(&beside(path, "-journal"))
}

/// Whether changes are in a log beside the file.
fn has_log(path: &Path) -> bool {
    is_not_empty(&beside(path, "-wal"))
}

fn is_not_empty(path: &Path) -> bool {
    path.metadata().is_ok_and(|file| file.len() > 0)
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Gives the logs beside a file the name that the file itself gets.
pub(super) fn set_logs_aside(path: &Path, aside: &Path) {
    for ending in ["-wal", "-shm", "-journal"] {
        let _ = fs::rename(beside(path, ending), beside(aside, ending));
    }
}

/// `history.sqlite.before-1`, or the next number that is free.
pub(super) fn free_name(path: &Path) -> PathBuf {
    let named = |number: u32| beside(path, &format!(".before-{number}"));
    (1..u32::MAX)
        .map(named)
        .find(|name| !name.exists())
        .unwrap_or_else(|| named(u32::MAX))
}

/// A player's answers are private.
fn keep_private(path: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        if fs::metadata(path).is_ok_and(|file| file.permissions().mode() & 0o077 != 0) {
            // If someone else owns the file, that user decides.
            let _ = fs::set_permissions(path, fs::Permissions::from_mode(0o600));
        }
    }
    #[cfg(not(unix))]
    let _ = path;
}

/// Checks that a file is a history, not newer, and undamaged.
fn look_at(connection: &Connection) -> Result<(), HistoryError> {
    schema::version(connection)?;
    check_soundness(connection)
}

/// Larger files are not checked before they are used: SQLite checks each page that it reads. To check a history of a million
/// answers would delay the start noticeably.
const CHECKED_WHOLE: u64 = 8 << 20;

fn check_soundness(connection: &Connection) -> Result<(), HistoryError> {
    let size: u64 = connection.query_row(
        "SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()",
        [],
        |row| row.get(0),
    )?;
    if size > CHECKED_WHOLE {
        return Ok(());
    }
    check(connection, "PRAGMA integrity_check(3)")
}

/// SQLite's check of a file; anything but `ok` means damage.
pub(super) fn check(connection: &Connection, pragma: &str) -> Result<(), HistoryError> {
    let said: String = connection
        .query_row(pragma, [], |row| row.get(0))
        .map_err(|error| match error.sqlite_error_code() {
            Some(
                ErrorCode::DatabaseBusy
                | ErrorCode::DatabaseLocked
                | ErrorCode::ReadOnly
                | ErrorCode::CannotOpen,
            ) => error.into(),
            _ => HistoryError::Damaged(error.to_string()),
        })?;
    if said == "ok" {
        Ok(())
    } else {
        Err(HistoryError::Damaged(said.replace('\n', "; ")))
    }
}
