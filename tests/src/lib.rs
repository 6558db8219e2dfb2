//! Shared by the tests in `it/`: finding and reading the data, and running the program.

pub mod agreement;
pub mod arrangement_judge;
pub mod editions;
pub mod golden;
pub mod harmonised;

use std::path::{Path, PathBuf};

/// Written MIDI numbers of a guitar's open strings, string 1 first. Common practice, no source.
pub const GUITAR: [i64; 6] = [76, 71, 67, 62, 57, 52];

/// A file or folder below `tests/data`.
pub fn data(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("data")
        .join(name)
}

/// The lines of a JSON Lines file below `tests/data`.
///
/// # Panics
///
/// When the file is missing or a line is not the JSON that `T` expects.
pub fn json_lines<T: serde::de::DeserializeOwned>(name: &str) -> Vec<T> {
    let path = data(name);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    text.lines()
        .enumerate()
        .map(|(index, line)| {
            serde_json::from_str(line)
                .unwrap_or_else(|error| panic!("{}:{}: {error}", path.display(), index + 1))
        })
        .collect()
}

/// A JSON file below `tests/data`.
///
/// # Panics
///
/// When the file is missing or is not the JSON that `T` expects.
pub fn json<T: serde::de::DeserializeOwned>(name: &str) -> T {
    let path = data(name);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The outcome of a run of the program.
#[derive(Debug)]
pub struct Run {
    /// The exit code.
    pub code: u8,
    /// Results.
    pub stdout: String,
    /// Messages.
    pub stderr: String,
}

/// Runs `neckline` with these arguments and this input, 80 columns wide and without colour.
pub fn neckline(args: &[&str], stdin: &[u8]) -> Run {
    neckline_on(args, stdin, 80)
}

/// Like [`neckline`], on another width.
pub fn neckline_on(args: &[&str], stdin: &[u8], width: usize) -> Run {
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    let mut streams = trainer_cli::Streams::captured(stdin, &mut stdout, &mut stderr);
    streams.width = width;
    let args = std::iter::once("neckline")
        .chain(args.iter().copied())
        .map(Into::into);
    let code = trainer_cli::run(args, &mut streams);
    drop(streams);
    Run {
        code,
        stdout: String::from_utf8_lossy(&stdout).into_owned(),
        stderr: String::from_utf8_lossy(&stderr).into_owned(),
    }
}

/// A temporary folder for a test, removed when the test ends.
#[derive(Debug)]
pub struct Folder(tempfile::TempDir);

impl Folder {
    /// An empty folder.
    ///
    /// # Panics
    ///
    /// When it cannot be made.
    #[allow(
        clippy::new_without_default,
        reason = "each one is another folder on the disk"
    )]
    pub fn new() -> Folder {
        Folder(tempfile::tempdir().expect("the folder for temporary files can be written"))
    }

    /// Its path.
    pub fn path(&self) -> &Path {
        self.0.path()
    }

    /// Its path as an argument.
    pub fn text(&self) -> &str {
        self.path()
            .to_str()
            .expect("the folder for temporary files has a name in Unicode")
    }

    /// The path of a file in it as an argument, whether or not the file exists.
    pub fn file(&self, name: &str) -> String {
        format!("{}/{name}", self.text())
    }

    /// Writes a file in it and returns its path as an argument.
    ///
    /// # Panics
    ///
    /// When it cannot be written.
    pub fn write(&self, name: &str, contents: impl AsRef<[u8]>) -> String {
        let path = self.file(name);
        std::fs::write(&path, contents).expect("the folder for temporary files can be written");
        path
    }
}
