//! Sets of tunes to be ready on a day: a list in the folder of the history, kept as JSON.

use std::fmt;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::failure::Failure;
use crate::output::{Existing, NewFile, Readers};
use crate::request::TuneOnInstrument;
use crate::terminal::clock::day_number;

/// The name of a set or of a player: letters, digits and hyphens.
#[derive(Clone, Debug, Deserialize, Eq, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(try_from = "String", into = "String")]
pub struct ShortName(String);

impl ShortName {
    const LONGEST: usize = 40;

    /// The name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl FromStr for ShortName {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let is_allowed = |c: char| c.is_ascii_alphanumeric() || c == '-';
        let is_name = !text.is_empty()
            && text.len() <= ShortName::LONGEST
            && text.chars().all(is_allowed)
            && !text.starts_with('-');
        match is_name {
            true => Ok(ShortName(text.to_string())),
            false => Err("give a name of letters, digits and hyphens, without spaces".into()),
        }
    }
}

impl TryFrom<String> for ShortName {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<ShortName> for String {
    fn from(name: ShortName) -> String {
        name.0
    }
}

impl fmt::Display for ShortName {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// Tunes to be ready on a day, in the order they are played.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct PracticeSet {
    /// Its name.
    pub name: ShortName,
    /// The day it is played.
    pub by: Option<Date>,
    /// Its tunes.
    pub tunes: Vec<SetTune>,
}

/// A tune of a set.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SetTune {
    /// Its name when it was added.
    pub title: String,
    /// The request that opens it.
    pub request: TuneOnInstrument,
}

/// Every set of a player.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct PracticeSets {
    schema: u8,
    sets: Vec<PracticeSet>,
    #[serde(skip)]
    path: PathBuf,
}

/// Longer files are not read.
const LONGEST_FILE: u64 = 4 << 20;
/// The most sets, and the most tunes of one.
const MOST: usize = 200;

impl PracticeSets {
    const FILE: &'static str = "sets.json";

    /// The sets in a folder; none if there is no file.
    pub fn open(folder: &Path) -> Result<PracticeSets, Failure> {
        let path = folder.join(PracticeSets::FILE);
        let unreadable = |problem: String| {
            Failure::could_not(
                format!("{}: {problem}", path.display()),
                "mend the file, or move it away to begin anew",
            )
        };
        match path.metadata() {
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Ok(PracticeSets {
                    schema: 1,
                    path,
                    ..PracticeSets::default()
                });
            }
            Err(error) => return Err(unreadable(error.to_string())),
            Ok(file) if file.len() > LONGEST_FILE => {
                return Err(unreadable("the file is too long".into()));
            }
            Ok(_) => {}
        }
        let text = fs::read_to_string(&path).map_err(|error| unreadable(error.to_string()))?;
        let mut sets: PracticeSets =
            serde_json::from_str(&text).map_err(|error| unreadable(error.to_string()))?;
        if sets.schema != 1 {
            return Err(unreadable("the file was written by a newer version".into()));
        }
        sets.path = path;
        Ok(sets)
    }

    /// All of them, in the order they were made.
    pub fn all(&self) -> &[PracticeSet] {
        &self.sets
    }

    /// The set of this name.
    pub fn named(&self, name: &ShortName) -> Option<&PracticeSet> {
        self.sets.iter().find(|set| set.name == *name)
    }

    /// The set of this name, or a failure with a hint.
    pub fn expect(&self, name: &ShortName) -> Result<&PracticeSet, Failure> {
        self.named(name).ok_or_else(|| {
            Failure::could_not(
                format!("there is no set `{name}`"),
                format!("make one with `neckline set {name} --by DATE TUNE…`"),
            )
        })
    }

    /// The set that is played next, on this day or after it.
    pub fn next(&self, today: i32) -> Option<&PracticeSet> {
        let is_ahead = |by: Date| day_number(by) >= today;
        let ahead = self.sets.iter().filter(|set| set.by.is_some_and(is_ahead));
        ahead.min_by_key(|set| set.by)
    }

    /// Replaces the set of this name, or adds it at the end.
    ///
    /// # Errors
    ///
    /// When there are too many.
    pub fn put(&mut self, set: PracticeSet) -> Result<(), Failure> {
        if set.tunes.len() > MOST || self.sets.len() >= MOST {
            return Err(Failure::could_not(
                format!("no more than {MOST} sets of {MOST} tunes are kept"),
                "drop some with `--drop` or `--delete`",
            ));
        }
        match self.sets.iter_mut().find(|it| it.name == set.name) {
            Some(place) => *place = set,
            None => self.sets.push(set),
        }
        Ok(())
    }

    /// Removes a set.
    pub fn remove(&mut self, name: &ShortName) {
        self.sets.retain(|set| set.name != *name);
    }

    /// Writes the file, whole or not at all.
    pub fn save(&self) -> Result<(), Failure> {
        let written = || -> std::io::Result<()> {
            if let Some(folder) = self.path.parent() {
                fs::create_dir_all(folder)?;
            }
            let mut file = NewFile::beside(&self.path, Readers::Owner)?;
            file.write(&serde_json::to_vec_pretty(self)?)?;
            file.into_place(Existing::Replace)
        };
        written().map_err(|error| {
            Failure::could_not(
                format!("{}: {error}", self.path.display()),
                "see that the folder can be written, or name another with `--data-dir`",
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_letters_digits_and_hyphens() {
        for name in ["sunday", "Set-2", "a"] {
            assert_eq!(name.parse::<ShortName>().unwrap().as_str(), name);
        }
        for name in ["", "-a", "a b", "..", "a/b", "säng", &"a".repeat(41)] {
            assert!(name.parse::<ShortName>().is_err(), "{name}");
        }
    }
}
