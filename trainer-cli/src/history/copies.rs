//! Copies of the history, whole and checked.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::Backup;

use super::file::{check, open_read_only};
use super::{History, HistoryError, schema};

impl History {
    /// Writes a whole, checked copy beside `file` and then gives it that name.
    ///
    /// Other programs may go on writing meanwhile; the copy is of one moment.
    ///
    /// # Errors
    ///
    /// When `file` is there and `replace` is not set, or the copy cannot be written or does not check.
    pub fn back_up(&self, file: &Path, replace: bool) -> Result<(), HistoryError> {
        if !replace && file.exists() {
            return Err(HistoryError::Exists(file.to_owned()));
        }
        let new = beside(file, "new");
        let written = copy(&self.connection, &new).and_then(|()| {
            std::fs::File::open(&new)
                .and_then(|file| file.sync_all())
                .and_then(|()| std::fs::rename(&new, file))
                .map_err(|cause| HistoryError::File {
                    path: file.to_owned(),
                    cause,
                })
        });
        if written.is_err() {
            let _ = std::fs::remove_file(&new);
        }
        written
    }

    /// Puts the contents of a backup in place of the history in a folder; returns where the old one was kept.
    ///
    /// The backup is checked first. A history that is there is copied beside itself before, so that nothing is lost; one
    /// that is damaged is moved aside as it is. The change is one transaction: it happens whole or not at all.
    ///
    /// # Errors
    ///
    /// When the backup is missing, damaged, newer or not ours, or the folder cannot be written.
    pub fn restore(folder: &Path, backup: &Path) -> Result<Option<PathBuf>, HistoryError> {
        if !backup.is_file() {
            return Err(HistoryError::File {
                path: backup.to_owned(),
                cause: std::io::ErrorKind::NotFound.into(),
            });
        }
        let source = open_read_only(backup)?;
        if schema::version(&source)? == 0 {
            return Err(HistoryError::Foreign);
        }
        check(&source, "PRAGMA integrity_check(3)")?;
        let path = folder.join(History::FILE);
        let old = free_name(&path);
        let kept = match History::open(folder) {
            Ok(history) if history.count()? == 0 => None,
            Ok(history) => {
                history.back_up(&old, false)?;
                Some(old)
            }
            Err(HistoryError::Damaged(_)) if path.exists() => {
                std::fs::rename(&path, &old).map_err(|cause| HistoryError::File {
                    path: path.clone(),
                    cause,
                })?;
                // A log left by a damaged file must not be played into the new one.
                for ending in ["-wal", "-shm"] {
                    let mut name = path.clone().into_os_string();
                    name.push(ending);
                    let mut aside = old.clone().into_os_string();
                    aside.push(ending);
                    let _ = std::fs::rename(name, aside);
                }
                Some(old)
            }
            Err(error) => return Err(error),
        };
        let mut target = History::open(folder)?.connection;
        Backup::new(&source, &mut target)?.run_to_completion(
            i32::MAX,
            Duration::from_millis(50),
            None,
        )?;
        drop(target);
        History::open(folder)?;
        Ok(kept)
    }
}

fn copy(from: &Connection, new: &Path) -> Result<(), HistoryError> {
    let _ = std::fs::remove_file(new);
    let mut target = Connection::open(new)?;
    Backup::new(from, &mut target)?.run_to_completion(i32::MAX, Duration::from_millis(50), None)?;
    // A copy travels alone: no log beside it.
    target.pragma_update(None, "journal_mode", "DELETE")?;
    check(&target, "PRAGMA integrity_check(3)")
}

fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(format!(".{ending}-{}", std::process::id()));
    name.into()
}

/// `history.sqlite.before-1`, or the next number that is free.
fn free_name(path: &Path) -> PathBuf {
    let named = |number: u32| {
        let mut name = path.as_os_str().to_owned();
        name.push(format!(".before-{number}"));
        PathBuf::from(name)
    };
    (1..u32::MAX)
        .map(named)
        .find(|name| !name.exists())
        .unwrap_or_else(|| named(u32::MAX))
}
