//! Copies of the history, whole and checked.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::backup::Backup;
use rusqlite::{Connection, TransactionBehavior};

use super::file::{check, close, free_name, open_read_only, open_to_write, set_logs_aside};
use super::{History, HistoryError, schema};
use crate::output::{Existing, NewFile, Readers, make_private_folder};

impl History {
    /// Writes a complete, checked copy beside `file` and then renames it.
    ///
    /// Other programs may continue to write; the copy is of one moment. Only the player can read it.
    ///
    /// # Errors
    ///
    /// When `file` exists and is to be kept, or the copy cannot be written or fails its check.
    pub fn back_up(&self, file: &Path, existing: Existing) -> Result<(), HistoryError> {
        if existing == Existing::Keep && (file.exists() || file.is_symlink()) {
            return Err(HistoryError::Exists(file.to_owned()));
        }
        let place = fs::canonicalize(file).unwrap_or_else(|_| file.to_owned());
        let copy = copy_beside(&place, &self.connection)?;
        put(copy, &place, existing)
    }

    /// Replaces the history in a folder by a backup; returns where the old one was kept.
    ///
    /// The backup is copied and the copy checked first. If the history is usable, it is copied beside itself and then
    /// changed in one transaction, so that programs which have it open see either the old contents or the new ones. A
    /// damaged history is kept under another name, and the copy is moved into its place in one step.
    ///
    /// # Errors
    ///
    /// When the backup is missing, damaged, newer or not a history, or the folder cannot be written. The history is
    /// then unchanged.
    pub fn restore(folder: &Path, backup: &Path) -> Result<Option<PathBuf>, HistoryError> {
        if !backup.is_file() {
            let cause = io::ErrorKind::NotFound.into();
            return Err(HistoryError::file(backup, cause));
        }
        make_private_folder(folder).map_err(|cause| HistoryError::file(folder, cause))?;
        let path = folder.join(History::FILE);
        let source = open_read_only(backup)?;
        if schema::version(&source)? == 0 {
            return Err(HistoryError::Foreign);
        }
        let copy = copy_beside(&path, &source)?;
        drop(source);
        let mut connection = Connection::open(copy.path())?;
        schema::migrate(&mut connection)?;
        close(connection)?;
        if !path.exists() {
            set_logs_aside(&path, &free_name(&path));
            put(copy, &path, Existing::Keep)?;
            return Ok(None);
        }
        let old = free_name(&path);
        match open_to_write(&path) {
            Ok(mut history) => history.take_over(copy.path(), &old),
            Err(HistoryError::Damaged(_)) => {
                let failed = |cause| HistoryError::file(&path, cause);
                keep_under(&path, &old).map_err(failed)?;
                set_logs_aside(&path, &old);
                put(copy, &path, Existing::Replace)?;
                Ok(Some(old))
            }
            Err(error) => Err(error),
        }
    }

    /// Replaces the contents by those of a file of the current version, after copying the old ones to `old`.
    fn take_over(&mut self, file: &Path, old: &Path) -> Result<Option<PathBuf>, HistoryError> {
        let name = file.to_string_lossy();
        self.connection.execute("ATTACH ?1 AS backup", [&name])?;
        let reader = open_read_only(&self.path)?;
        // From here to the end no other program can write, so the copy `old` is complete.
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let answers: u64 =
            transaction.query_row("SELECT count(*) FROM review", [], |row| row.get(0))?;
        if answers > 0 {
            put(copy_beside(old, &reader)?, old, Existing::Keep)?;
        }
        schema::drop_triggers(&transaction)?;
        for table in schema::TABLES.iter().rev() {
            transaction.execute(&format!("DELETE FROM main.{table}"), [])?;
        }
        for table in schema::TABLES {
            let sql = format!("INSERT INTO main.{table} SELECT * FROM backup.{table}");
            transaction.execute(&sql, [])?;
        }
        schema::make_triggers(&transaction)?;
        transaction.commit()?;
        self.connection.execute("DETACH backup", [])?;
        Ok((answers > 0).then(|| old.to_owned()))
    }
}

/// A checked copy beside its target.
fn copy_beside(place: &Path, from: &Connection) -> Result<NewFile, HistoryError> {
    let new =
        NewFile::beside(place, Readers::Owner).map_err(|cause| HistoryError::file(place, cause))?;
    let mut target = Connection::open(new.path())?;
    Backup::new(from, &mut target)?.run_to_completion(i32::MAX, Duration::from_millis(50), None)?;
    check(&target, "PRAGMA integrity_check(3)")?;
    close(target)?;
    Ok(new)
}

fn put(copy: NewFile, place: &Path, existing: Existing) -> Result<(), HistoryError> {
    copy.into_place(existing)
        .map_err(|cause| match cause.kind() {
            io::ErrorKind::AlreadyExists => HistoryError::Exists(place.to_owned()),
            _ => HistoryError::file(place, cause),
        })
}

/// Gives a file a second name, or copies it if the file system does not allow that.
fn keep_under(path: &Path, name: &Path) -> io::Result<()> {
    fs::hard_link(path, name).or_else(|_| fs::copy(path, name).map(|_| ()))
}
