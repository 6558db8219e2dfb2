//! Files kept beside a tune: text for the player to edit, which commands read and add to.
//!
//! Such a file is named after the whole name of the tune's file and the tune in it: `book.abc#3.fingering.ron`. A built-in
//! tune has it in the player's folder for configuration. Comments stay; a file that was changed since it was read is not
//! written over; only a file of the same kind is ever replaced.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use fretlib::fingering::KeptFingering;
use fretlib::format::arrangement_ron::{self, SavedArrangement};
use fretlib::format::{ReadError, abc, fingering_ron};

use crate::failure::Failure;
use crate::input::built_in_tunes::{BUILT_IN, built_in};
use crate::input::read_file;
use crate::output::{Existing, write_file};
use crate::request::TuneRequest;

/// What can be kept beside a tune.
pub trait Kept: Clone + Default {
    /// The word in the name of its files.
    const KIND: &'static str;

    /// Reads the text of such a file.
    fn read(text: &str) -> Result<Self, ReadError>;

    /// The text of a new file.
    fn write(&self, title: &str) -> String;

    /// The text of a file, changed to say this with the comments in it; `None` when that cannot be done.
    fn update(&self, text: &str) -> Option<String>;
}

impl Kept for KeptFingering {
    const KIND: &'static str = "fingering";

    fn read(text: &str) -> Result<Self, ReadError> {
        fingering_ron::read(text)
    }

    fn write(&self, title: &str) -> String {
        fingering_ron::write(self, title)
    }

    fn update(&self, text: &str) -> Option<String> {
        fingering_ron::update(text, self)
    }
}

impl Kept for SavedArrangement {
    const KIND: &'static str = "arrangement";

    fn read(text: &str) -> Result<Self, ReadError> {
        arrangement_ron::read(text)
    }

    fn write(&self, title: &str) -> String {
        arrangement_ron::write(self, title)
    }

    fn update(&self, text: &str) -> Option<String> {
        arrangement_ron::update(text, self)
    }
}

/// A file kept beside a tune, as it was read.
#[derive(Clone, Debug)]
pub struct KeptFile<T> {
    path: PathBuf,
    /// Its text; `None` when it was not there.
    read: Option<String>,
    /// What it says.
    pub kept: T,
}

impl<T: Kept> KeptFile<T> {
    /// The file that belongs to a tune, whether it is there or not; `None` for a tune on standard input, which has no place.
    ///
    /// `folder` is the player's own, for built-in tunes.
    pub fn beside(
        tune: &TuneRequest,
        folder: Option<&Path>,
    ) -> Result<Option<KeptFile<T>>, Failure> {
        let Some(path) = path_beside(tune, T::KIND, folder) else {
            return Ok(None);
        };
        // The first tune of a book may be asked for with its number or without: it is the same tune.
        let other = || {
            let also = as_asked_otherwise(tune)?;
            path_beside(&also, T::KIND, folder).filter(|path| path.exists())
        };
        let path = match path.exists() {
            true => path,
            false => other().unwrap_or(path),
        };
        KeptFile::open(path).map(Some)
    }

    /// A file, whether it is there or not.
    pub fn open(path: PathBuf) -> Result<KeptFile<T>, Failure> {
        let is_there = match fs::symlink_metadata(&path) {
            Ok(_) => true,
            Err(error) => error.kind() != ErrorKind::NotFound,
        };
        if !is_there {
            return Ok(KeptFile {
                path,
                read: None,
                kept: T::default(),
            });
        }
        let name = path.to_string_lossy().into_owned();
        let source_bytes = read_file(&name)?;
        let Ok(text) = String::from_utf8(source_bytes) else {
            return Err(Failure::usage(
                format!("`{name}` is not text in UTF-8"),
                format!("mend it, or move it away to begin a new {}", T::KIND),
            ));
        };
        match T::read(&text) {
            Ok(kept) => Ok(KeptFile {
                path,
                read: Some(text),
                kept,
            }),
            Err(unreadable) => Err(Failure::Unreadable {
                name,
                source_bytes: text.into_bytes(),
                unreadable,
            }),
        }
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether it was there.
    pub fn is_there(&self) -> bool {
        self.read.is_some()
    }

    /// Whether somebody else has changed the file since it was read.
    pub fn has_changed(&self) -> Result<bool, Failure> {
        let there = match fs::read(&self.path) {
            Ok(bytes) => Some(bytes),
            Err(error) if error.kind() == ErrorKind::NotFound => None,
            Err(error) => {
                return Err(Failure::could_not(
                    format!("cannot read `{}` again: {error}", self.path.display()),
                    "nothing was written; see that it can be read",
                ));
            }
        };
        Ok(there.as_deref() != self.read.as_deref().map(str::as_bytes))
    }

    /// Takes the text as it is now for the one that was read; what is to be kept stays as it is here.
    pub fn read_again(&mut self) -> Result<(), Failure> {
        self.read = KeptFile::<T>::open(self.path.clone())?.read;
        Ok(())
    }

    /// Writes what it says now, unless somebody else changed the file since it was read, or it is named as no such file.
    pub fn save(&mut self, title: &str) -> Result<(), Failure> {
        let name = self.path.display();
        if !is_kept_as(&self.path, T::KIND) {
            return Err(Failure::usage(
                format!("`{name}` is not named as a kept {}", T::KIND),
                format!("end the name in `.{}.ron`", T::KIND),
            ));
        }
        if self.has_changed()? {
            return Err(Failure::could_not(
                format!("nothing was written: `{name}` was changed since it was read"),
                "look at it and run the command again",
            ));
        }
        let (text, existing) = match &self.read {
            None => (self.kept.write(title), Existing::Keep),
            Some(text) => match self.kept.update(text) {
                Some(text) => (text, Existing::Replace),
                None => {
                    return Err(Failure::could_not(
                        format!("`{name}` cannot be changed without losing what else stands in it"),
                        "nothing was written; move the file away to begin a new one",
                    ));
                }
            },
        };
        if self.read.as_ref() == Some(&text) {
            return Ok(());
        }
        if let Some(folder) = self.path.parent() {
            fs::create_dir_all(folder).map_err(|error| {
                Failure::could_not(
                    format!("cannot make the folder `{}`: {error}", folder.display()),
                    "see that it can be made",
                )
            })?;
        }
        write_file(&self.path, text.as_bytes(), existing)?;
        self.read = Some(text);
        Ok(())
    }
}

/// Whether a file is named as one kept beside a tune, which readers of folders pass over.
pub fn is_kept_file(path: &Path) -> bool {
    is_kept_as(path, KeptFingering::KIND) || is_kept_as(path, SavedArrangement::KIND)
}

fn is_kept_as(path: &Path, kind: &str) -> bool {
    let name = path.file_name().map(|name| name.to_string_lossy());
    name.is_some_and(|name| name.ends_with(&format!(".{kind}.ron")))
}

/// Where a tune has its file of a kind: `tune.abc.fingering.ron`, `book.abc#3.fingering.ron` for the third tune of a book.
fn path_beside(tune: &TuneRequest, kind: &str, folder: Option<&Path>) -> Option<PathBuf> {
    let source = tune.source.as_deref().unwrap_or(BUILT_IN[0].name);
    if source == "-" {
        return None;
    }
    let mut name = match built_in(source) {
        Some(built_in) => folder?.join(built_in.name).into_os_string(),
        None => source.into(),
    };
    let number = tune.number.map(|number| number.to_string());
    let words = [&number, &tune.part, &tune.track, &tune.voice];
    for word in words.into_iter().flatten() {
        name.push("#");
        name.push(in_a_name(word));
    }
    name.push(format!(".{kind}.ron"));
    Some(name.into())
}

/// The first tune of a tune book with its number where none was given, or without it; `None` for another tune.
fn as_asked_otherwise(tune: &TuneRequest) -> Option<TuneRequest> {
    let source = tune.source.as_deref().filter(|it| *it != "-")?;
    let first = abc::tunes(&read_file(source).ok()?).first()?.number;
    let number = match tune.number {
        None => Some(first),
        Some(number) if number == first => None,
        Some(_) => return None,
    };
    Some(TuneRequest {
        number,
        ..tune.clone()
    })
}

/// The name of a part or a voice as it can stand in the name of a file.
fn in_a_name(word: &str) -> String {
    const LONGEST: usize = 40;
    let sign = |c: char| if c.is_alphanumeric() { c } else { '-' };
    word.chars().take(LONGEST).map(sign).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_named_after_the_tune() {
        let own = Path::new("/home/ada/neckline");
        let check =
            |source: Option<&str>, number, voice: Option<&str>, folder, expected: Option<&str>| {
                let tune = TuneRequest {
                    source: source.map(str::to_owned),
                    number,
                    voice: voice.map(str::to_owned),
                    ..TuneRequest::default()
                };
                assert_eq!(
                    path_beside(&tune, "fingering", folder),
                    expected.map(PathBuf::from)
                );
            };
        check(
            Some("a/tune.abc"),
            None,
            None,
            None,
            Some("a/tune.abc.fingering.ron"),
        );
        check(
            Some("book.abc"),
            Some(3),
            None,
            Some(own),
            Some("book.abc#3.fingering.ron"),
        );
        check(
            Some("x.abc"),
            None,
            Some("../V 1"),
            None,
            Some("x.abc#---V-1.fingering.ron"),
        );
        check(Some("-"), None, None, Some(own), None);
        check(None, None, None, None, None);
        check(
            Some("pedalo"),
            None,
            None,
            Some(own),
            Some("/home/ada/neckline/pedalo-blues.fingering.ron"),
        );
        check(
            None,
            None,
            None,
            Some(own),
            Some("/home/ada/neckline/lamps-along-the-jetty.fingering.ron"),
        );
        for name in ["tune.fingering.ron", "a/tune.abc.arrangement.ron"] {
            assert!(is_kept_file(Path::new(name)), "{name}");
        }
        assert!(!is_kept_file(Path::new("fingering.ron")));
    }

    #[test]
    fn what_somebody_else_wrote_meanwhile_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("tune.abc.fingering.ron");
        let open = || KeptFile::<KeptFingering>::open(path.clone()).unwrap();
        let mut first = open();
        let mut second = open();
        second.kept.octave = Some(fretlib::theory::Octave::WRITTEN);
        second.save("Bell").unwrap();
        let written = fs::read(&path).unwrap();
        let refused = first.save("Bell").unwrap_err();
        assert!(format!("{refused:?}").contains("was changed since it was read"));
        assert_eq!(fs::read(&path).unwrap(), written);
        // Whoever takes it as it is now may write too; comments stay.
        fs::write(&path, [&b"// let it ring\n"[..], &written].concat()).unwrap();
        assert!(first.has_changed().unwrap());
        first.read_again().unwrap();
        first.kept.octave = second.kept.octave;
        first.kept.max_shifts = Some(3);
        first.save("Bell").unwrap();
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("// let it ring\n") && text.contains("max_shifts: 3"));
        // Whoever has read it may write.
        let mut third = open();
        third.kept.open_strings = Some(fretlib::mapping::OpenStrings::Nowhere);
        third.save("Bell").unwrap();
        assert_eq!(open().kept, third.kept);
        let mut misnamed = KeptFile::<KeptFingering>::open(folder.path().join("tune.ron")).unwrap();
        assert!(misnamed.save("Bell").is_err() && !folder.path().join("tune.ron").exists());
    }
}
