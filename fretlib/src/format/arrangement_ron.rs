//! What a player chose for an arrangement, written in RON beside the tune and made for hand editing.
//!
//! ```ron
//! (
//!     octave: 1,
//!     style: "plucked",
//!     density: "medium",
//!     choices: [
//!         (note: 13, pitch: "D5", chord: "Gm7", shape: "x-10-x-10-11-10", fingers: "1 2 4 3"),
//!         (note: 15, bare: true, remark: "let it breathe"),
//!         (note: 16, at: "2", shape: "x-x-8-9-8-x"), // a chord that comes under a held note
//!         (note: 20, time: 1, bare: true), // bare when the strain is played first
//!     ],
//! )
//! ```
//!
//! A shape is read from the lowest string; `fingers` are those of the strings that sound, from the lowest, 0 for an
//! open string and `T` for the thumb over the neck. All but `note` and one of `shape` and `bare` may be left out. `pitch` and `chord` record the note and
//! its chord, so that a changed tune is noticed.

use std::fmt::Write;
use std::str::FromStr;

use serde::Deserialize;

use super::ron_changes::{ListEntry, changed};
use super::{Diagnostic, Location, ReadError, ron_source};
use crate::arranging::{ArrangementChoice, Chosen, Density, Style, Texture};
use crate::melody::Quarters;
use crate::theory::Octave;

/// The stored choices of an arrangement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SavedArrangement {
    /// The octave it was made in.
    pub octave: Option<Octave>,
    /// The style.
    pub style: Option<Style>,
    /// The density.
    pub density: Option<Density>,
    /// Whether the thumb may come over the neck.
    pub thumb: bool,
    /// The texture.
    pub texture: Option<Texture>,
    /// The choices, in no order.
    pub choices: Vec<ArrangementChoice>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
#[serde(rename = "Arrangement")]
struct ArrangementFile {
    octave: Option<i8>,
    style: Option<String>,
    density: Option<String>,
    texture: Option<String>,
    #[serde(default)]
    thumb: bool,
    #[serde(default)]
    choices: Vec<WrittenChoice>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenChoice {
    note: usize,
    at: Option<String>,
    time: Option<u32>,
    pitch: Option<String>,
    chord: Option<String>,
    shape: Option<String>,
    fingers: Option<String>,
    #[serde(default)]
    bare: bool,
    remark: Option<String>,
}

/// The most choices that are read, more than any tune has notes.
const MOST_CHOICES: usize = 10_000;

/// Reads choices.
///
/// # Errors
///
/// When the text is not as above, a word in it cannot be read, a choice has both a shape and `bare` or neither, or there are
/// more than ten thousand.
///
/// ```
/// use fretlib::format::arrangement_ron;
///
/// let saved = arrangement_ron::read("(choices: [(note: 3, shape: \"x-x-3-4-3-x\")])")?;
/// assert_eq!(saved.choices[0].note, 3);
/// let error = arrangement_ron::read("(\n choices: [\n  (note: 3, shape: \"x-y\")])").unwrap_err();
/// assert!(error.to_string().starts_with("line 3, column 20: expected a shape"));
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
pub fn read(source: &str) -> Result<SavedArrangement, ReadError> {
    let written: ArrangementFile = ron_source::read(source).map_err(ReadError::new)?;
    let words = WordPlaces { source };
    if written.choices.len() > MOST_CHOICES {
        let problem = format!("there are more than {MOST_CHOICES} choices");
        return Err(ReadError::new(Diagnostic::of_file(
            problem,
            "keep those that matter",
        )));
    }
    let octave = written.octave.map(|octave| {
        Octave::new(octave).map_err(|error| words.fault("octave", error.to_string()))
    });
    let choices = written
        .choices
        .iter()
        .map(|choice| words.choice(choice))
        .collect::<Result<_, _>>()?;
    Ok(SavedArrangement {
        octave: octave.transpose()?,
        style: words.read(written.style.as_deref())?,
        density: words.read(written.density.as_deref())?,
        texture: words.read(written.texture.as_deref())?,
        thumb: written.thumb,
        choices,
    })
}

/// The text, to find the place of a word.
struct WordPlaces<'a> {
    source: &'a str,
}

impl WordPlaces<'_> {
    fn fault(&self, word: &str, problem: String) -> ReadError {
        let at = self.source.find(word).map_or(Location::Whole, |at| {
            ron_source::location(self.source, &self.source[at..])
        });
        ReadError::new(Diagnostic {
            at,
            problem,
            hint: None,
        })
    }

    fn read<T: FromStr>(&self, word: Option<&str>) -> Result<Option<T>, ReadError>
    where
        T::Err: ToString,
    {
        let Some(word) = word else { return Ok(None) };
        let read = word
            .parse()
            .map_err(|error: T::Err| self.fault(&format!("\"{word}\""), error.to_string()));
        read.map(Some)
    }

    fn choice(&self, written: &WrittenChoice) -> Result<ArrangementChoice, ReadError> {
        let here = format!("note: {}", written.note);
        let chosen = match (&written.shape, written.bare) {
            (Some(shape), false) => Chosen::Voicing {
                shape: match self.read(Some(shape))? {
                    Some(shape) => shape,
                    None => return Err(self.fault(&here, "the shape is missing".into())),
                },
                fingers: written
                    .fingers
                    .as_deref()
                    .map(|fingers| self.fingers(fingers))
                    .transpose()?,
            },
            (None, true) => Chosen::Bare,
            _ => {
                let problem = format!(
                    "the choice for note {} needs either `shape` or `bare: true`",
                    written.note
                );
                return Err(self.fault(&here, problem));
            }
        };
        Ok(ArrangementChoice {
            note: written.note,
            at: self.read(written.at.as_deref())?.unwrap_or(Quarters::ZERO),
            time: written.time,
            pitch: self.read(written.pitch.as_deref())?,
            chord: self.read(written.chord.as_deref())?,
            chosen,
            remark: written.remark.clone(),
        })
    }

    fn fingers(&self, text: &str) -> Result<Vec<u8>, ReadError> {
        let finger = |word: &str| match word {
            "T" => Some(Chosen::THUMB),
            number => number.parse::<u8>().ok().filter(|finger| *finger <= 4),
        };
        let fingers: Option<Vec<u8>> = text.split_whitespace().map(finger).collect();
        fingers.ok_or_else(|| {
            self.fault(
                &format!("\"{text}\""),
                format!(
                    "expected fingers from the lowest string such as `1 2 4 3`, found `{text}`"
                ),
            )
        })
    }
}

/// Writes choices, one a line.
pub fn write(saved: &SavedArrangement, title: &str) -> String {
    let mut text = format!(
        "// What lies under {}: edit by hand as you like.\n(\n",
        crate::one_line::one_line(title)
    );
    if let Some(octave) = saved.octave {
        let _ = writeln!(text, "    octave: {},", octave.get());
    }
    if let Some(style) = saved.style {
        let _ = writeln!(text, "    style: \"{style}\",");
    }
    if let Some(density) = saved.density {
        let _ = writeln!(text, "    density: \"{density}\",");
    }
    if let Some(texture) = saved.texture {
        let _ = writeln!(text, "    texture: \"{texture}\",");
    }
    if saved.thumb {
        text.push_str("    thumb: true,\n");
    }
    text.push_str("    choices: [\n");
    for choice in &saved.choices {
        let _ = write!(text, "        (note: {}", choice.note);
        if !choice.at.is_zero() {
            let _ = write!(text, ", at: \"{}\"", choice.at);
        }
        if let Some(time) = choice.time {
            let _ = write!(text, ", time: {time}");
        }
        if let Some(pitch) = choice.pitch {
            let _ = write!(text, ", pitch: \"{pitch}\"");
        }
        if let Some(chord) = choice.chord {
            let _ = write!(text, ", chord: \"{chord}\"");
        }
        match &choice.chosen {
            Chosen::Bare => text.push_str(", bare: true"),
            Chosen::Voicing { shape, fingers } => {
                let _ = write!(text, ", shape: \"{shape}\"");
                if let Some(fingers) = fingers {
                    let word = |finger: &u8| match *finger {
                        Chosen::THUMB => "T".to_owned(),
                        number => number.to_string(),
                    };
                    let fingers: Vec<String> = fingers.iter().map(word).collect();
                    let _ = write!(text, ", fingers: \"{}\"", fingers.join(" "));
                }
            }
        }
        if let Some(remark) = &choice.remark {
            // `Debug` escapes quotes and backslashes as RON reads them.
            let _ = write!(text, ", remark: {:?}", crate::one_line::one_line(remark));
        }
        text.push_str("),\n");
    }
    text.push_str("    ],\n)\n");
    text
}

/// The text of choices, changed to say these: comments and whatever need not change stay as they are.
///
/// `None` when that cannot be done.
///
/// ```
/// use fretlib::format::arrangement_ron::{read, update};
///
/// let text = "(choices: [\n    (note: 3, bare: true), // let it breathe\n])";
/// let mut saved = read(text)?;
/// saved.octave = Some("+1".parse()?);
/// let changed = update(text, &saved).expect("it can be changed");
/// assert!(changed.contains("octave: 1") && changed.contains("// let it breathe"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn update(text: &str, saved: &SavedArrangement) -> Option<String> {
    let before = read(text).ok()?;
    let entry = |choice: &ArrangementChoice| {
        let is_there = |it: &&ArrangementChoice| {
            (it.note, it.at, it.time) == (choice.note, choice.at, choice.time)
        };
        match before.choices.iter().position(|it| is_there(&it)) {
            Some(line) if before.choices[line] == *choice => ListEntry::Same(line),
            Some(line) => ListEntry::Changed(line),
            None => ListEntry::New,
        }
    };
    let entries: Vec<ListEntry> = saved.choices.iter().map(entry).collect();
    let changed = changed(text, &write(saved, ""), "choices", &entries)?;
    let by_note = |mut saved: SavedArrangement| {
        saved.choices.sort_by_key(|it| (it.note, it.at, it.time));
        saved
    };
    (by_note(read(&changed).ok()?) == by_note(saved.clone())).then_some(changed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back() {
        let source = r#"(
            octave: 1, style: "shells", density: "full", texture: "broken", thumb: true,
            choices: [
                (note: 13, pitch: "D5", chord: "Gm7", shape: "x-10-x-10-11-10", fingers: "T 2 4 3"),
                (note: 15, bare: true, remark: "let it \"breathe\""),
                (note: 16, at: "3/2", shape: "x-x-8-9-8-x"),
                (note: 17, time: 2, bare: true),
            ],
        )"#;
        let saved = read(source).unwrap();
        assert_eq!(saved.choices.len(), 4);
        assert_eq!(read(&write(&saved, "Lamps")).unwrap(), saved);
        assert_eq!(
            read(&write(&SavedArrangement::default(), "")).unwrap(),
            SavedArrangement::default()
        );
    }

    #[test]
    fn every_fault_has_its_place() {
        for (source, message) in [
            (
                "(choices: [(note: 1)])",
                "line 1, column 13: the choice for note 1 needs either `shape` or `bare: true`",
            ),
            (
                "(octave: 99)",
                "line 1, column 2: octave 99 is not in the range",
            ),
            ("(style: \"jazzy\")", "line 1, column 9: expected a style"),
            (
                "(choices: [(note: 1, shape: \"x\", fingers: \"5\")])",
                "line 1, column 43: expected fingers",
            ),
            (
                "(choices: [(note: 1, at: \"a\", bare: true)])",
                "line 1, column 26: ",
            ),
            (
                "(notes: [])",
                "line 1, column 2: there is no field `notes` here",
            ),
        ] {
            let error = read(source).unwrap_err().to_string();
            assert!(error.starts_with(message), "{source}: {error}");
        }
    }
}
