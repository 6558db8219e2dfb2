//! The file beside a tune in which the player's choices are kept.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::format::arrangement_ron::{self, SavedArrangement};

use crate::failure::Failure;
use crate::input::built_in_tunes::built_in;
use crate::input::{read_file, read_text};
use crate::output::{Existing, write_file};
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// A file of choices as it was read.
pub struct ChoiceFile {
    path: PathBuf,
    /// Its bytes; `None` when it was not there.
    read: Option<Vec<u8>>,
    /// What it says.
    pub saved: SavedArrangement,
}

impl ChoiceFile {
    /// The file named by the player, or the one beside the tune; `None` for a tune that lies in no file.
    ///
    /// A file named by the player need not be there yet. The notes of a part of a tune have other numbers: for them there is
    /// none, and that is said.
    pub fn open(
        named: Option<&Path>,
        tune: &TuneRequest,
        streams: &mut Streams,
    ) -> Result<Option<ChoiceFile>, Failure> {
        let Some(path) = named.map(Path::to_owned).or_else(|| beside(tune)) else {
            return Ok(None);
        };
        if tune.bars.is_some() {
            if path.exists() {
                writeln!(
                    streams.stderr,
                    "note: what is kept in `{}` is for the whole tune and left out here",
                    path.display()
                )?;
            }
            return Ok(None);
        }
        if !path.exists() {
            return Ok(Some(ChoiceFile {
                path,
                read: None,
                saved: SavedArrangement::default(),
            }));
        }
        let name = path.to_string_lossy().into_owned();
        let read = read_file(&name)?;
        let saved = read_text(&name, arrangement_ron::read)?;
        Ok(Some(ChoiceFile {
            path,
            read: Some(read),
            saved,
        }))
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes what it says now, unless somebody else changed the file since it was read or written.
    pub fn save(&mut self, title: &str) -> Result<(), Failure> {
        let there = fs::read(&self.path).ok();
        if there != self.read {
            return Err(Failure::could_not(
                format!(
                    "`{}` was changed since it was read; nothing was written",
                    self.path.display()
                ),
                "look at it and run the command again",
            ));
        }
        let existing = match self.read {
            Some(_) => Existing::Replace,
            None => Existing::Keep,
        };
        let text = arrangement_ron::write(&self.saved, title);
        write_file(&self.path, text.as_bytes(), existing)?;
        self.read = Some(text.into_bytes());
        Ok(())
    }
}

/// `tune.abc.arrangement.ron`, or `book.abc#3.arrangement.ron` for the third tune of a book.
fn beside(tune: &TuneRequest) -> Option<PathBuf> {
    let source = tune
        .source
        .as_deref()
        .filter(|name| *name != "-" && built_in(name).is_none())?;
    let number = tune
        .number
        .map(|number| format!("#{number}"))
        .unwrap_or_default();
    Some(PathBuf::from(format!("{source}{number}.arrangement.ron")))
}
