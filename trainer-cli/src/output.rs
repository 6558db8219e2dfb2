//! Files written whole or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::{NamedTempFile, TempPath};

use crate::failure::Failure;
use crate::report::count::count;

/// What to do when a file already exists.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Existing {
    /// It is left as it is.
    Keep,
    /// It is replaced, and its permissions are kept.
    Replace,
}

impl Existing {
    /// The choice made by `--replace`.
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
    /// Everyone who can read new files by the system's rules.
    Usual,
    /// The player alone.
    Owner,
}

/// A file that is written beside its place, and moved there when it is complete. Nobody ever sees half of it.
#[derive(Debug)]
pub struct NewFile {
    file: NamedTempFile,
    place: PathBuf,
}

impl NewFile {
    /// An empty file beside its target. Leftovers of killed programs are removed.
    pub fn beside(place: &Path, readers: Readers) -> io::Result<NewFile> {
        clear_leftovers(folder_of(place));
        NewFile::in_cleared_folder(place, readers)
    }

    fn in_cleared_folder(place: &Path, readers: Readers) -> io::Result<NewFile> {
        let mut prefix = place.file_name().unwrap_or_default().to_os_string();
        prefix.push(format!(".{}-", std::process::id()));
        let mut builder = tempfile::Builder::new();
        builder.prefix(&prefix).suffix(LEFTOVER);
        // The umask applies as for any new file.
        #[cfg(unix)]
        let usual = std::os::unix::fs::PermissionsExt::from_mode(0o666);
        #[cfg(unix)]
        if readers == Readers::Usual {
            builder.permissions(usual);
        }
        #[cfg(not(unix))]
        let _ = readers;
        Ok(NewFile {
            file: builder.tempfile_in(folder_of(place))?,
            place: place.to_owned(),
        })
    }

    /// Its temporary path.
    pub fn path(&self) -> &Path {
        self.file.path()
    }

    /// Writes its contents.
    pub fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)
    }

    /// Has its contents written, and gives it the permissions of the one it takes the place of.
    fn filled(
        mut self,
        contents: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> io::Result<NewFile> {
        let mut buffer = BufWriter::new(&mut self.file);
        contents(&mut buffer)?;
        buffer.flush()?;
        drop(buffer);
        if let Ok(there) = fs::metadata(&self.place) {
            fs::set_permissions(self.path(), there.permissions())?;
        }
        Ok(self)
    }

    /// Closes it, for a batch to put into its place.
    fn closed(self) -> io::Result<TempPath> {
        // Only Linux has a call that waits for all files of a folder.
        #[cfg(not(target_os = "linux"))]
        self.file.as_file().sync_all()?;
        Ok(self.file.into_temp_path())
    }

    /// Moves it into its place, once it has reached the disk.
    ///
    /// # Errors
    ///
    /// `AlreadyExists` when there is a file to be kept.
    pub fn into_place(self, existing: Existing) -> io::Result<()> {
        self.file.as_file().sync_all()?;
        move_into_place(self.file.into_temp_path(), &self.place, existing)?;
        sync_folder(folder_of(&self.place));
        Ok(())
    }
}

fn move_into_place(file: TempPath, place: &Path, existing: Existing) -> io::Result<()> {
    match existing {
        Existing::Keep => file.persist_noclobber(place),
        Existing::Replace => file.persist(place),
    }
    .map_err(|error| error.error)
}

/// A move has reached the disk when its folder has; not every system can say so.
fn sync_folder(folder: &Path) {
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}

/// Many files for one folder, each written whole or not at all.
///
/// They wait beside their places until all are written. One wait for the disk is then enough for all of them, where a
/// file on its own has one to itself.
pub struct FileBatch<'a> {
    folder: &'a Path,
    existing: Existing,
}

/// A file of a batch, beside its place; `None` when what stands at its place had to be written at once.
pub struct WaitingFile(Option<(TempPath, PathBuf)>);

impl<'a> FileBatch<'a> {
    /// No file yet. What killed programs left in the folder is cleared.
    pub fn new(folder: &'a Path, existing: Existing) -> FileBatch<'a> {
        clear_leftovers(folder);
        FileBatch { folder, existing }
    }

    /// Writes a file of the folder beside its place.
    ///
    /// What is no plain file there, a link or a device, is written at once, as [`write_file_with`] does.
    pub fn write(
        &self,
        path: &Path,
        contents: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<WaitingFile, Failure> {
        if fs::symlink_metadata(path).is_ok_and(|there| !there.is_file()) {
            write_file_with(path, self.existing, contents)?;
            return Ok(WaitingFile(None));
        }
        refuse_existing(&[path], self.existing)?;
        let file = NewFile::in_cleared_folder(path, Readers::Usual)
            .and_then(|file| file.filled(contents))
            .and_then(NewFile::closed)
            .map_err(|error| cannot_write(path, &error))?;
        Ok(WaitingFile(Some((file, path.to_owned()))))
    }

    /// Waits until all that was written has reached the disk, and only then puts the files into their places.
    ///
    /// # Errors
    ///
    /// When the disk did not take the files: none is put into its place. What is wrong with one file alone is its own result.
    pub fn into_place(
        self,
        files: impl IntoIterator<Item = WaitingFile>,
    ) -> Result<Vec<Result<(), Failure>>, Failure> {
        #[cfg(target_os = "linux")]
        fs::File::open(self.folder)
            .and_then(|folder| Ok(rustix::fs::syncfs(folder)?))
            .map_err(|error| cannot_write(self.folder, &error))?;
        let moved = files.into_iter().map(|WaitingFile(file)| {
            let Some((file, place)) = file else {
                return Ok(());
            };
            move_into_place(file, &place, self.existing).map_err(|error| not_placed(&place, &error))
        });
        let moved = moved.collect();
        sync_folder(self.folder);
        Ok(moved)
    }
}

/// The ending of incomplete files.
const LEFTOVER: &str = ".part";

/// Removes the unfinished files of programs that are gone. Any that cannot be removed do no harm.
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

/// The process that writes a file of this name, which ends in `.1234-Ab12Cd.part`, or a log of it.
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
    // A process of another user exists, although it cannot be signalled.
    id.is_some_and(|id| rustix::process::test_kill_process(id) != Err(rustix::io::Errno::SRCH))
}

#[cfg(not(unix))]
fn is_running(_: u32) -> bool {
    true
}

/// The folder of a path.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Creates a folder and its missing parents, readable only by the player.
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

/// Writes a file whole or not at all, as [`write_file_with`] does.
pub fn write_file(path: &Path, bytes: &[u8], existing: Existing) -> Result<(), Failure> {
    write_file_with(path, existing, |out| out.write_all(bytes))
}

/// Writes a file whole or not at all; its contents come piece by piece.
///
/// Follows symlinks. Pipes and devices are written in place, since a rename would replace them.
pub fn write_file_with(
    path: &Path,
    existing: Existing,
    contents: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), Failure> {
    refuse_existing(&[path], existing)?;
    if fs::metadata(path).is_ok_and(|there| !there.is_file()) {
        return OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|there| {
                let mut there = BufWriter::new(there);
                contents(&mut there)?;
                there.flush()
            })
            .map_err(|error| cannot_write(path, &error));
    }
    let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    NewFile::beside(&place, Readers::Usual)
        .and_then(|file| file.filled(contents))
        .and_then(|file| file.into_place(existing))
        .map_err(|error| not_placed(path, &error))
}

/// Refuses to write any of these files when an existing one would be lost.
///
/// A dangling link counts as existing. A file with several names (hard links) cannot be replaced without separating
/// them.
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

fn not_placed(path: &Path, error: &io::Error) -> Failure {
    match error.kind() {
        io::ErrorKind::AlreadyExists => is_there(&[path]),
        _ => cannot_write(path, error),
    }
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

    #[test]
    fn a_batch_puts_nothing_into_place_before_all_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let place = |name: &str| folder.path().join(name);
        fs::write(place("there.abc"), b"old").unwrap();
        let batch = FileBatch::new(folder.path(), Existing::Keep);
        let write = |name, bytes| batch.write(&place(name), |out| out.write_all(bytes));
        let first = write("first.abc", b"one").unwrap();
        let second = write("second.abc", b"two").unwrap();
        assert!(write("there.abc", b"new").is_err());
        assert!(!place("first.abc").exists());
        // Somebody else was faster.
        fs::write(place("second.abc"), b"theirs").unwrap();
        let placed = batch.into_place([first, second]).unwrap();
        assert!(placed[0].is_ok() && placed[1].is_err());
        let contents = |name: &str| fs::read_to_string(place(name)).unwrap();
        let all = ["first.abc", "second.abc", "there.abc"].map(contents);
        assert_eq!(all, ["one", "theirs", "old"]);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3);
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
