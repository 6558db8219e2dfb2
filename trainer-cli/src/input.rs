//! Reading files and standard input.

pub mod built_in_tunes;
mod instrument;
pub mod own_fingering;
pub mod settings;
pub mod tune;
pub mod tune_collection;

use std::fs::{File, Metadata};
use std::io::{self, Read, Write};
use std::path::Path;

use fretlib::format::{LARGEST_FILE, ReadError};

use self::built_in_tunes::BUILT_IN;
use crate::failure::Failure;
use crate::report::did_you_mean::nearest;
use crate::terminal::Streams;

/// The bytes of a file or, for `-`, of standard input.
pub fn bytes_of(name: &str, streams: &mut Streams) -> Result<Vec<u8>, Failure> {
    if name != "-" {
        return read_file(name);
    }
    if streams.stdin_is_terminal {
        writeln!(
            streams.stderr,
            "reading a tune from the keyboard; end it with Ctrl-D"
        )?;
    }
    limited(&mut streams.stdin, "standard input")
}

/// The bytes of a file.
pub fn read_file(name: &str) -> Result<Vec<u8>, Failure> {
    let failed = |error: io::Error| {
        let hint = match error.kind() {
            io::ErrorKind::NotFound => {
                let names = BUILT_IN.iter().map(|it| it.name);
                nearest(name, names).map(|near| format!("did you mean the built-in tune `{near}`?"))
            }
            _ => None,
        };
        Failure::Usage {
            problem: format!("cannot read `{name}`: {}", reason(&error)),
            hint: hint.or_else(|| {
                Some("name a file, a built-in tune (`neckline tunes` lists them) or `-`".into())
            }),
        }
    };
    let mut file = open_file(Path::new(name)).map_err(failed)?;
    limited(&mut file, name)
}

/// Opens a file for reading; folders, pipes and devices are refused.
pub fn open_file(path: &Path) -> io::Result<File> {
    // Checked before opening, since opening a pipe waits for a writer.
    refuse_what_is_no_file(&std::fs::metadata(path)?)?;
    let file = File::open(path)?;
    refuse_what_is_no_file(&file.metadata()?)?;
    Ok(file)
}

/// Reads the text of a file with `read`, with the same limits.
pub fn read_text<T>(name: &str, read: impl Fn(&str) -> Result<T, ReadError>) -> Result<T, Failure> {
    let bytes = read_file(name)?;
    let source = String::from_utf8_lossy(&bytes);
    read(&source).map_err(|unreadable| Failure::Unreadable {
        name: name.into(),
        source_bytes: source.as_bytes().to_vec(),
        unreadable,
    })
}

fn limited(from: &mut dyn Read, name: &str) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let failed = |error: io::Error| {
        Failure::usage(
            format!("cannot read `{name}`: {}", reason(&error)),
            "check the file and try again",
        )
    };
    from.take(LARGEST_FILE as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() > LARGEST_FILE {
        return Err(Failure::usage(
            format!("`{name}` is larger than 64 MiB"),
            "no tune is as large as that; if it is a book, split it",
        ));
    }
    Ok(bytes)
}

/// Folders, pipes and devices are not read.
fn refuse_what_is_no_file(there: &Metadata) -> io::Result<()> {
    match there {
        there if there.is_dir() => Err(io::ErrorKind::IsADirectory.into()),
        there if there.is_file() => Ok(()),
        _ => Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "it is not a file; `-` reads standard input",
        )),
    }
}

/// The problem, without the number of the operating system's error.
fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".into(),
        io::ErrorKind::PermissionDenied => "permission denied".into(),
        io::ErrorKind::IsADirectory => "it is a folder".into(),
        _ => error.to_string(),
    }
}
