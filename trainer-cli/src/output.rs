//! Files written whole or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::failure::Failure;
use crate::report::count::count;

/// What is done about a file that is there already.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Existing {
    /// It is left as it is.
    Keep,
    /// It is replaced, and its permissions are kept.
    Replace,
}

impl Existing {
    /// The choice of an option `--replace`.
    pub fn from_option(replace: bool) -> Existing {
        if replace {
            Existing::Replace
        } else {
            Existing::Keep
        }
    }
}

/// Who may read a new file.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Readers {
    /// Whoever the system lets read new files.
    Usual,
    /// The player alone.
    Owner,
}

/// A file that is written beside its place, and moved there when it is whole. Nobody ever sees half of it.
#[derive(Debug)]
pub struct NewFile {
    file: NamedTempFile,
    place: PathBuf,
}

impl NewFile {
    /// An empty file beside a place. What killed programs left beside it is cleared.
    pub fn beside(place: &Path, readers: Readers) -> io::Result<NewFile> {
        let folder = folder_of(place);
        clear_leftovers(folder);
        let mut prefix = place.file_name().unwrap_or_default().to_os_string();
        prefix.push(format!(".{}-", std::process::id()));
        let mut builder = tempfile::Builder::new();
        builder.prefix(&prefix).suffix(LEFTOVER);
        // The umask takes away what the player's system takes away from new files.
        #[cfg(unix)]
        let usual = std::os::unix::fs::PermissionsExt::from_mode(0o666);
        #[cfg(unix)]
        if readers == Readers::Usual {
            builder.permissions(usual);
        }
        #[cfg(not(unix))]
        let _ = readers;
        Ok(NewFile {
            file: builder.tempfile_in(folder)?,
            place: place.to_owned(),
        })
    }

    /// Where it is until it is moved into place.
    pub fn path(&self) -> &Path {
        self.file.path()
    }

    /// Writes its contents.
    pub fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)
    }

    /// Puts it into its place, once it has reached the disk.
    ///
    /// # Errors
    ///
    /// `AlreadyExists` when there is a file that is to be kept.
    pub fn into_place(self, existing: Existing) -> io::Result<()> {
        self.file.as_file().sync_all()?;
        match existing {
            Existing::Keep => self.file.persist_noclobber(&self.place),
            Existing::Replace => self.file.persist(&self.place),
        }
        .map_err(|error| error.error)?;
        // The move itself has reached the disk when the folder has; not every system can say so.
        if let Ok(folder) = fs::File::open(folder_of(&self.place)) {
            let _ = folder.sync_all();
        }
        Ok(())
    }
}

/// The ending of files that are not whole yet.
const LEFTOVER: &str = ".part";

/// Removes the unfinished files in a folder whose programs are gone. What cannot be removed does no harm.
pub fn clear_leftovers(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        if let Some(process) = name.to_str().and_then(writer_of)
            && !is_running(process)
        {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// The number of the process that writes a file of this name, which ends in `.1234-Ab12Cd.part`, or a log of it.
fn writer_of(name: &str) -> Option<u32> {
    let (name, _log) = name.rsplit_once(LEFTOVER)?;
    let (_, ending) = name.rsplit_once('.')?;
    let (process, random) = ending.split_once('-')?;
    let is_random = random.len() == 6 && random.chars().all(|c| c.is_ascii_alphanumeric());
    process.parse().ok().filter(|_| is_random)
}

#[cfg(unix)]
fn is_running(process: u32) -> bool {
    let id = i32::try_from(process).ok();
    let id = id.and_then(rustix::process::Pid::from_raw);
    // A process of another user is there, though it may not be asked.
    id.is_some_and(|id| rustix::process::test_kill_process(id) != Err(rustix::io::Errno::SRCH))
}

#[cfg(not(unix))]
fn is_running(_: u32) -> bool {
    true
}

/// The folder a path is in.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Makes a folder and those above it that are not there, for the player alone.
pub fn make_private_folder(folder: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

/// Makes a folder and those above it that are not there.
pub fn make_folder(folder: &Path) -> Result<(), Failure> {
    fs::create_dir_all(folder).map_err(|error| {
        Failure::could_not(
            format!("cannot make the folder `{}`: {error}", folder.display()),
            "choose another folder",
        )
    })
}

/// Writes a file whole or not at all.
///
/// Follows symlinks. Pipes and devices are written in place, since a rename would replace them.
pub fn write_file(path: &Path, bytes: &[u8], existing: Existing) -> Result<(), Failure> {
    refuse_existing(&[path], existing)?;
    if fs::metadata(path).is_ok_and(|there| !there.is_file()) {
        return OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut there| there.write_all(bytes))
            .map_err(|error| cannot_write(path, &error));
    }
    let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let written = NewFile::beside(&place, Readers::Usual).and_then(|mut file| {
        file.write(bytes)?;
        if let Ok(there) = fs::metadata(&place) {
            fs::set_permissions(file.path(), there.permissions())?;
        }
        file.into_place(existing)
    });
    written.map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => is_there(&[path]),
        _ => cannot_write(path, &error),
    })
}

/// Refuses to write any of some files when one that is there would be lost.
///
/// A link that leads nowhere is there: what it stands for is not ours to decide. A file with several names cannot be
/// replaced without parting them.
pub fn refuse_existing(paths: &[&Path], existing: Existing) -> Result<(), Failure> {
    let in_the_way = |path: &&&Path| match fs::metadata(path) {
        Ok(there) => there.is_file() && existing == Existing::Keep,
        Err(_) => path.is_symlink() && existing == Existing::Keep,
    };
    let there: Vec<&Path> = paths.iter().filter(in_the_way).copied().collect();
    if !there.is_empty() {
        return Err(is_there(&there));
    }
    for path in paths {
        if names_of(path) > 1 {
            return Err(Failure::could_not(
                format!("`{}` has other names (hard links)", path.display()),
                "replacing it would part them: write to another name, or delete this one first",
            ));
        }
    }
    Ok(())
}

/// How many names a file has.
fn names_of(path: &Path) -> u64 {
    #[cfg(unix)]
    if let Ok(there) = fs::metadata(path)
        && there.is_file()
    {
        return std::os::unix::fs::MetadataExt::nlink(&there);
    }
    #[cfg(not(unix))]
    let _ = path;
    1
}

fn is_there(paths: &[&Path]) -> Failure {
    let problem = match paths {
        [path] => format!("`{}` is already there", path.display()),
        [first, ..] => format!(
            "{} are already there, such as `{}`",
            count(paths.len(), "file"),
            first.display()
        ),
        [] => String::new(),
    };
    Failure::could_not(problem, "choose another name, or give `--replace`")
}

fn cannot_write(path: &Path, error: &io::Error) -> Failure {
    Failure::could_not(
        format!("cannot write `{}`: {error}", path.display()),
        "check that the folder is there and can be written to",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unfinished_files_name_their_writer() {
        assert_eq!(writer_of("tune.pdf.1234-Ab12Cd.part"), Some(1234));
        assert_eq!(writer_of("backup.1234-Ab12Cd.part-journal"), Some(1234));
        for name in [
            "tune.part",
            "tune.pdf.part",
            "tune.1234.part",
            "a.1234-Ab12Cd",
            "a.x-Ab12Cd.part",
        ] {
            assert_eq!(writer_of(name), None, "{name}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn only_what_a_dead_program_left_is_cleared() {
        let folder = tempfile::tempdir().unwrap();
        let mut dead = std::process::Command::new("true").spawn().unwrap();
        dead.wait().unwrap();
        let mine = format!("t.{}-abcdef.part", std::process::id());
        let dead = format!("t.{}-abcdef.part", dead.id());
        for name in [&mine, &dead, "t.part"] {
            fs::write(folder.path().join(name), b"").unwrap();
        }
        clear_leftovers(folder.path());
        let there = |name: &str| folder.path().join(name).exists();
        assert!(there(&mine) && there("t.part") && !there(&dead));
    }
}
