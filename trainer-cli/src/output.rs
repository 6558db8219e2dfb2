//! Files written whole or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

use crate::failure::Failure;

/// Writes a file beside its place and then moves it there, so that nobody ever sees half of it.
///
/// A link goes on leading where it did. What is no file, such as a pipe or a device, is written to as it stands: moving a
/// file there would put an end to it.
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failed = |error: io::Error| {
        Failure::could_not(
            format!("cannot write `{}`: {error}", path.display()),
            "check that the folder is there and can be written to",
        )
    };
    if fs::metadata(path).is_ok_and(|there| !there.is_file()) {
        let mut there = OpenOptions::new().write(true).open(path).map_err(failed)?;
        return there.write_all(bytes).map_err(failed);
    }
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let path = target.as_path();
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".{}.part", std::process::id()));
    let part = path.with_file_name(name);
    let written = write_new(&part, bytes).and_then(|()| fs::rename(&part, path));
    if written.is_err() {
        // What is left of it helps nobody; the first error is the one to tell.
        let _ = fs::remove_file(&part);
    }
    written.map_err(failed)
}

fn write_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}
