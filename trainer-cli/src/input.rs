//! Files and standard input, and what is made of them.

pub mod built_in_tunes;
mod hand;
mod instrument;
pub mod tune;

use std::fs::File;
use std::io::{self, Read, Write};

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
            problem: format!("cannot read `{}`: {}", printable(name), reason(&error)),
            hint: hint.or_else(|| {
                Some("name a file, a built-in tune (`neckline tunes` lists them) or `-`".into())
            }),
        }
    };
    let mut file = File::open(name).map_err(failed)?;
    if file.metadata().map_err(failed)?.is_dir() {
        return Err(failed(io::ErrorKind::IsADirectory.into()));
    }
    limited(&mut file, name)
}

/// What `read` makes of the text of a file, with the same limits.
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
            format!("cannot read `{}`: {}", printable(name), reason(&error)),
            "check the file and try again",
        )
    };
    from.take(LARGEST_FILE as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() > LARGEST_FILE {
        return Err(Failure::usage(
            format!("`{}` is larger than 64 MiB", printable(name)),
            "a tune of 100,000 notes takes about 1 MiB; split the file",
        ));
    }
    Ok(bytes)
}

/// What went wrong, without the number of the operating system's error.
fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".into(),
        io::ErrorKind::PermissionDenied => "permission denied".into(),
        io::ErrorKind::IsADirectory => "it is a folder".into(),
        _ => error.to_string(),
    }
}

/// A name without control characters, fit for a terminal.
pub fn printable(name: &str) -> String {
    name.chars().filter(|c| !c.is_control()).collect()
}
