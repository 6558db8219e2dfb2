//! Every tune of a folder or a tune book.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use fretlib::fingering::Player;
use fretlib::format::{abc, detect};

use super::own_fingering::OwnFingering;
use super::read_file;
use super::tune::{Tune, read_bytes, settled};
use crate::failure::Failure;
use crate::kept_file::{KeptFile, is_kept_file};
use crate::request::TuneRequest;

/// One of the tunes: where it is, and what it is called.
#[derive(Clone, Debug)]
pub struct CollectedTune {
    /// The file.
    pub source: PathBuf,
    /// Which tune of a book.
    pub number: Option<u32>,
    /// What to call it when something is said of it.
    pub name: String,
    // What a file made of it is called; each once, whatever the system makes of capitals.
    stem: String,
}

impl CollectedTune {
    /// The file to make of it.
    pub fn file(&self, folder: &Path, ending: &str) -> PathBuf {
        folder.join(format!("{}.{ending}", self.stem))
    }

    /// The request for this tune, all else as it is asked.
    pub fn request(&self, request: &TuneRequest) -> TuneRequest {
        TuneRequest {
            source: Some(self.source.to_string_lossy().into_owned()),
            number: self.number.or(request.number),
            ..request.clone()
        }
    }

    /// Reads it as a request asks; returns what the reader remarked as well.
    pub fn read(&self, request: &TuneRequest) -> Result<(Tune, Vec<String>), Failure> {
        let request = self.request(request);
        let name = self.source.to_string_lossy();
        let reading = read_bytes(&name, read_file(&name)?, &request)?;
        Ok((settled(reading.melody, &request)?, reading.warnings))
    }
}

impl CollectedTune {
    /// The fingering kept with it, once it is read, and what is to be said of that.
    ///
    /// `folder` is the player's own.
    pub fn own_fingering(
        &self,
        request: &TuneRequest,
        tune: &Tune,
        player: Player,
        folder: Option<&Path>,
    ) -> Result<(Option<OwnFingering>, Vec<String>), Failure> {
        let file = KeptFile::beside(&self.request(request), folder)?;
        let Some(file) = file.filter(KeptFile::is_there) else {
            return Ok((None, Vec::new()));
        };
        let whole = match request.bars {
            Some(_) => Some(self.read(&request.whole())?.0.melody),
            None => None,
        };
        Ok(request.fitted(file, &tune.melody, whole.as_ref(), player))
    }
}

/// The tunes of a folder, by name, or those of a tune book.
///
/// # Errors
///
/// When the folder or the book cannot be read, or there is no tune in it.
pub fn tunes_of(source: &Path) -> Result<Vec<CollectedTune>, Failure> {
    let mut names = HashSet::new();
    let mut free_stem = |stem: &str| {
        (1..)
            .map(|number| {
                if number == 1 {
                    stem.to_owned()
                } else {
                    format!("{stem}-{number}")
                }
            })
            .find(|name| names.insert(name.to_lowercase()))
            .unwrap_or_default()
    };
    let mut tunes = Vec::new();
    if source.is_dir() {
        let failed = |error: std::io::Error| {
            Failure::usage(
                format!("cannot read the folder `{}`: {error}", source.display()),
                "check the folder and try again",
            )
        };
        let entries: Result<Vec<_>, _> = std::fs::read_dir(source).map_err(failed)?.collect();
        let mut paths: Vec<PathBuf> = entries
            .map_err(failed)?
            .into_iter()
            .map(|entry| entry.path())
            .filter(|path| path.is_file() && !is_kept_file(path))
            .collect();
        paths.sort();
        for path in paths {
            // What neither is called a tune nor looks like one is left out; a tune that cannot be read is reported when its
            // turn comes.
            if !is_called_a_tune(&path)
                && read_file(&path.to_string_lossy()).is_ok_and(|bytes| detect(&bytes).is_none())
            {
                continue;
            }
            let in_words = |name: Option<&std::ffi::OsStr>| {
                name.map(|name| name.to_string_lossy().into_owned())
                    .unwrap_or_default()
            };
            tunes.push(CollectedTune {
                stem: free_stem(&in_words(path.file_stem())),
                name: in_words(path.file_name()),
                source: path,
                number: None,
            });
        }
    } else if !source.exists() {
        return Err(Failure::usage(
            format!("there is no folder or tune book `{}`", source.display()),
            "give a folder of tunes, or a tune book in ABC",
        ));
    } else {
        let bytes = read_file(&source.to_string_lossy())?;
        for entry in abc::tunes(&bytes) {
            tunes.push(CollectedTune {
                stem: free_stem(&file_name(&entry.title)),
                name: format!("tune {} ({})", entry.number, entry.title),
                source: source.to_owned(),
                number: Some(entry.number),
            });
        }
    }
    if tunes.is_empty() {
        return Err(Failure::usage(
            format!("there is no tune in `{}`", source.display()),
            "give a folder of tunes, or a tune book in ABC",
        ));
    }
    Ok(tunes)
}

/// Whether a file has an ending of the formats that can be read. Other things than tunes end in `.xml`.
fn is_called_a_tune(path: &Path) -> bool {
    const ENDINGS: [&str; 6] = ["abc", "mid", "midi", "musicxml", "mxl", "ron"];
    path.extension()
        .is_some_and(|ending| ENDINGS.iter().any(|it| ending.eq_ignore_ascii_case(it)))
}

/// A title as a name for a file: small letters, figures and hyphens.
fn file_name(title: &str) -> String {
    let plain: String = title
        .to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .take(80)
        .collect();
    let name = plain.split_whitespace().collect::<Vec<_>>().join("-");
    if name.is_empty() { "tune".into() } else { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_become_names_of_files() {
        let cases = [
            ("Jetty at Dusk", "jetty-at-dusk"),
            ("../../Gull's  Egg!", "gull-s-egg"),
            ("", "tune"),
            ("///", "tune"),
        ];
        for (title, name) in cases {
            assert_eq!(file_name(title), name);
        }
    }
}
