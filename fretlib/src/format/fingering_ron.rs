//! A fingering kept beside its tune, written in RON and made for hand editing.
//!
//! ```ron
//! (
//!     octave: 0,
//!     home: "V II@9-16",   // as `--home` takes it
//!     positions: "I-IX",   // the only ones allowed
//!     open_strings: "nowhere", // or "first position"
//!     strings: [1, 2, 3], start: "V", end: "II", max_shifts: 4,
//!     notes: [
//!         (note: 1, bar: 1, pitch: "A4", place: "4:7", finger: 3, position: "V"),
//!         (note: 2, bar: 1, pitch: "G4", place: "3:0", position: "V", pin: true), // let it ring
//!     ],
//! )
//! ```
//!
//! A note a line: its number in the tune, string and fret, the finger (none on an open string) and where the hand stands.
//! `pin: true` keeps it there when the other notes are fingered again. Only `note` and `place` must be given: a missing
//! finger, position or line is worked out. `bar` and `pitch` say what stood there, so that a changed tune is noticed.

use std::fmt::Write;

use serde::{Deserialize, Deserializer, de::Error};

use super::ron_changes::{ListEntry, changed, entries};
use super::{Diagnostic, ReadError, ron_source};
use crate::fingering::{BarsHome, KeptFingering, KeptNote, Pin};
use crate::mapping::OpenStrings;
use crate::neck::{Finger, Place, Position, PositionSet, StringNumber};
use crate::theory::{Octave, Pitch};

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Fingering")]
struct FingeringFile {
    #[serde(default, deserialize_with = "octave")]
    octave: Option<Octave>,
    #[serde(default, deserialize_with = "homes")]
    home: Vec<BarsHome>,
    #[serde(default, deserialize_with = "ron_source::word")]
    positions: Option<PositionSet>,
    #[serde(default, deserialize_with = "ron_source::word")]
    open_strings: Option<OpenStrings>,
    #[serde(default, deserialize_with = "strings")]
    strings: Option<Vec<StringNumber>>,
    #[serde(default, deserialize_with = "ron_source::word")]
    start: Option<Position>,
    #[serde(default, deserialize_with = "ron_source::word")]
    end: Option<Position>,
    max_shifts: Option<u8>,
    #[serde(default)]
    notes: Vec<FingeringLine>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FingeringLine {
    note: usize,
    bar: Option<u32>,
    #[serde(default, deserialize_with = "ron_source::word")]
    pitch: Option<Pitch>,
    #[serde(deserialize_with = "place")]
    place: Place,
    #[serde(default, deserialize_with = "finger")]
    finger: Option<Finger>,
    #[serde(default, deserialize_with = "ron_source::word")]
    position: Option<Position>,
    #[serde(default)]
    pin: bool,
}

fn place<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Place, D::Error> {
    let text = String::deserialize(deserializer)?;
    text.parse().map_err(D::Error::custom)
}

fn octave<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Octave>, D::Error> {
    let number: Option<i8> = Option::deserialize(deserializer)?;
    number
        .map(|number| Octave::new(number).map_err(D::Error::custom))
        .transpose()
}

fn finger<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Finger>, D::Error> {
    let number: Option<u8> = Option::deserialize(deserializer)?;
    // 0 is the open string, as in every tablature with fingers.
    number
        .filter(|number| *number != 0)
        .map(|number| Finger::new(number).map_err(D::Error::custom))
        .transpose()
}

fn strings<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<Vec<StringNumber>>, D::Error> {
    let numbers: Vec<u8> = Vec::deserialize(deserializer)?;
    let string = |number| StringNumber::new(number).map_err(D::Error::custom);
    numbers
        .into_iter()
        .map(string)
        .collect::<Result<_, _>>()
        .map(Some)
}

fn homes<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<BarsHome>, D::Error> {
    let text = String::deserialize(deserializer)?;
    text.split_whitespace()
        .map(|word| word.parse().map_err(D::Error::custom))
        .collect()
}

/// The most notes that are read: more than any tune for a player has.
pub const MOST_NOTES: usize = 20_000;

/// Reads a kept fingering.
///
/// # Errors
///
/// When the text is not as above, a word in it cannot be read, a note stands there twice, or there are more than
/// [`MOST_NOTES`].
///
/// ```
/// use fretlib::format::fingering_ron;
///
/// let kept = fingering_ron::read("(notes: [(note: 3, place: \"2:5\", finger: 1)])")?;
/// assert_eq!(kept.notes[0].pin.place.to_string(), "2:5");
/// let error = fingering_ron::read("(\n notes: [\n  (note: 3, place: \"2:x\")])").unwrap_err();
/// assert!(error.to_string().starts_with("line 3, column 21: expected a string and a fret"), "{error}");
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
pub fn read(source: &str) -> Result<KeptFingering, ReadError> {
    let written: FingeringFile = ron_source::read(source).map_err(ReadError::new)?;
    if written.notes.len() > MOST_NOTES {
        return Err(ReadError::new(Diagnostic::of_file(
            format!("there are more than {MOST_NOTES} notes"),
            "keep those that matter",
        )));
    }
    let mut seen = std::collections::BTreeSet::new();
    for (at, note) in written.notes.iter().enumerate() {
        let problem = match note.note {
            0 => "notes are counted from 1".to_owned(),
            number if !seen.insert(number) => format!("note {number} stands here twice"),
            _ => continue,
        };
        let here = entries(source, "notes").get(at).cloned();
        return Err(ReadError::new(Diagnostic {
            at: here.map_or(super::Location::Whole, |here| {
                ron_source::location(source, &source[here])
            }),
            problem,
            hint: Some("the numbers are those of `neckline fingering`".into()),
        }));
    }
    let note = |it: FingeringLine| KeptNote {
        number: it.note,
        bar: it.bar,
        pitch: it.pitch,
        pin: Pin {
            place: it.place,
            finger: it.finger,
            position: it.position,
        },
        is_pinned: it.pin,
    };
    let mut notes: Vec<KeptNote> = written.notes.into_iter().map(note).collect();
    notes.sort_by_key(|note| note.number);
    Ok(KeptFingering {
        octave: written.octave,
        homes: written.home,
        positions: written.positions,
        open_strings: written.open_strings,
        strings: written.strings,
        start: written.start,
        end: written.end,
        max_shifts: written.max_shifts,
        notes,
    })
}

/// Writes a fingering as it is read, a note a line.
pub fn write(kept: &KeptFingering, title: &str) -> String {
    let mut text = format!(
        "// The fingering of {}: edit by hand as you like.\n// Every line holds; the note of one \
         taken out is found anew, near home.\n// `pin: true` holds a note where it is when the others are \
         found anew.\n(\n",
        crate::one_line::one_line(title)
    );
    // Writing to a string does not fail.
    if let Some(octave) = kept.octave {
        let _ = writeln!(text, "    octave: {},", octave.get());
    }
    if !kept.homes.is_empty() {
        let homes: Vec<String> = kept.homes.iter().map(ToString::to_string).collect();
        let _ = writeln!(text, "    home: \"{}\",", homes.join(" "));
    }
    if let Some(positions) = kept.positions {
        let _ = writeln!(text, "    positions: \"{positions}\",");
    }
    if let Some(open_strings) = kept.open_strings {
        let _ = writeln!(text, "    open_strings: \"{open_strings}\",");
    }
    if let Some(strings) = &kept.strings {
        let strings: Vec<String> = strings.iter().map(ToString::to_string).collect();
        let _ = writeln!(text, "    strings: [{}],", strings.join(", "));
    }
    for (name, position) in [("start", kept.start), ("end", kept.end)] {
        if let Some(position) = position {
            let _ = writeln!(text, "    {name}: \"{position}\",");
        }
    }
    if let Some(most) = kept.max_shifts {
        let _ = writeln!(text, "    max_shifts: {most},");
    }
    text.push_str("    notes: [\n");
    for note in &kept.notes {
        let _ = write!(text, "        (note: {}", note.number);
        if let Some(bar) = note.bar {
            let _ = write!(text, ", bar: {bar}");
        }
        if let Some(pitch) = note.pitch {
            let _ = write!(text, ", pitch: \"{pitch}\"");
        }
        let _ = write!(text, ", place: \"{}\"", note.pin.place);
        if let Some(finger) = note.pin.finger {
            let _ = write!(text, ", finger: {finger}");
        }
        if let Some(position) = note.pin.position {
            let _ = write!(text, ", position: \"{position}\"");
        }
        if note.is_pinned {
            text.push_str(", pin: true");
        }
        text.push_str("),\n");
    }
    text.push_str("    ],\n)\n");
    text
}

/// The text of a kept fingering, changed to say this one: comments and whatever need not change stay as they are.
///
/// `None` when that cannot be done.
///
/// ```
/// use fretlib::format::fingering_ron::{read, update};
///
/// let text = "(octave: 0, notes: [\n    (note: 1, place: \"3:2\"), // ring on\n])";
/// let mut kept = read(text)?;
/// kept.notes[0].is_pinned = true;
/// let changed = update(text, &kept).expect("it can be changed");
/// assert_eq!(changed, "(octave: 0, notes: [\n    (note: 1, place: \"3:2\", pin: true), // ring on\n])");
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
pub fn update(text: &str, kept: &KeptFingering) -> Option<String> {
    // The lines as they stand, whatever their order.
    let written: FingeringFile = ron_source::read(text).ok()?;
    let before = read(text).ok()?;
    let line_of = |number: usize| written.notes.iter().position(|note| note.note == number);
    let mut lines = Vec::new();
    for (note, was) in kept.notes.iter().zip(before.same_notes(kept)) {
        let line = was.and_then(|at| Some((line_of(before.notes[at].number)?, &before.notes[at])));
        lines.push(match line {
            Some((line, was)) if was == note => ListEntry::Same(line),
            Some((line, _)) => ListEntry::Changed(line),
            None => ListEntry::New,
        });
    }
    let changed = changed(text, &write(kept, ""), "notes", &lines)?;
    (read(&changed).ok()? == *kept).then_some(changed)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOURCE: &str = r#"
// Sunday
(
    octave: -1, home: "V II@9-16",
    positions: "I-IX", open_strings: "nowhere",
    strings: [2, 3], start: "V", end: "IV", max_shifts: 3,
    notes: [
        (note: 2, place: "3:0", position: "V", pin: true), // let it ring
        // the pickup
        (note: 1, bar: 1, pitch: "A4", place: "4:7", finger: 3, position: "V"),
    ],
)"#;

    #[test]
    fn what_is_written_is_read_back() {
        let kept = read(SOURCE).unwrap();
        assert_eq!((kept.notes.len(), kept.notes[0].number), (2, 1));
        assert!(kept.notes[1].is_pinned);
        assert_eq!(read(&write(&kept, "Lamps\n(")).unwrap(), kept);
        let nothing = KeptFingering::default();
        assert_eq!(read(&write(&nothing, "")).unwrap(), nothing);
        assert_eq!(read("Fingering()").unwrap(), nothing);
    }

    #[test]
    fn comments_stay_and_follow_their_notes() {
        let mut kept = read(SOURCE).unwrap();
        assert_eq!(update(SOURCE, &kept).unwrap(), SOURCE);
        kept.octave = Some(Octave::WRITTEN);
        kept.positions = None;
        kept.max_shifts = Some(2);
        kept.notes[0].pin.finger = Some(Finger::Fourth);
        let changed = update(SOURCE, &kept).unwrap();
        let expected = SOURCE
            .replace("octave: -1", "octave: 0")
            .replace("positions: \"I-IX\", ", "")
            .replace("max_shifts: 3", "max_shifts: 2")
            .replace("finger: 3", "finger: 4");
        assert_eq!(changed, expected);
        // A note before the others: they are found again by their pitches, and their remarks with them.
        let source = "(notes: [\n(note: 1, pitch: \"A4\", place: \"4:7\"), // a\n(note: 2, pitch: \"B4\", place: \"3:4\"), // b\n])";
        let mut kept = read(source).unwrap();
        let first = KeptNote {
            pitch: Some("G4".parse().unwrap()),
            pin: "4:5".parse::<Place>().unwrap().into(),
            ..kept.notes[0].clone()
        };
        kept.notes.iter_mut().for_each(|note| note.number += 1);
        kept.notes.insert(0, first);
        let expected = "(notes: [\n        (note: 1, pitch: \"G4\", place: \"4:5\"),\n(note: 2, pitch: \"A4\", place: \"4:7\"), // a\n(note: 3, pitch: \"B4\", place: \"3:4\"), // b\n])";
        assert_eq!(update(source, &kept).unwrap(), expected);
    }

    #[test]
    fn every_fault_has_its_place() {
        for (source, message) in [
            (
                "(octave: 99)",
                "line 1, column 10: octave 99 is not in the range",
            ),
            ("(home: \"V@\")", "line 1, column 9: expected a position"),
            (
                "(notes: [(note: 1)])",
                "line 1, column 18: the field `place` is missing",
            ),
            (
                "(notes: [\n(note: 1, place: \"2:1\"),\n(note: 1, place: \"2:1\")])",
                "line 3, column 1: note 1 stands here twice",
            ),
            (
                "(notes: [(note: 0, place: \"2:1\")])",
                "line 1, column 10: notes are counted from 1",
            ),
            (
                "(notes: [(note: 1, place: \"2:1\", finger: 5)])",
                "line 1, column 42: finger 5 is not in the range",
            ),
            ("(strings: [1, 0])", "line 1, column "),
            (
                "(choices: [])",
                "line 1, column 2: there is no field `choices` here",
            ),
            ("Arrangement()", "line 1, column "),
        ] {
            let error = read(source).unwrap_err().to_string();
            assert!(error.starts_with(message), "{source}: {error}");
        }
    }

    quickcheck::quickcheck! {
        fn changed_text_says_what_it_is_to_say(before: Vec<(u8, u8, bool)>, now: Vec<(u8, u8, bool)>) -> bool {
            let kept = |notes: &[(u8, u8, bool)]| {
                let note = |(number, (pitch, string, is_pinned)): (usize, &(u8, u8, bool))| KeptNote {
                    number: number + 1,
                    bar: is_pinned.then_some(1),
                    pitch: Some(Pitch::from_midi(crate::theory::MidiNumber::new(60 + pitch % 4).unwrap())),
                    pin: Place {
                        string: crate::neck::StringNumber::new(1 + string % 6).unwrap(),
                        fret: crate::neck::Fret::OPEN,
                    }.into(),
                    is_pinned: *is_pinned,
                };
                KeptFingering { notes: notes.iter().enumerate().map(note).collect(), ..KeptFingering::default() }
            };
            let (before, now) = (kept(&before), kept(&now));
            update(&write(&before, "t"), &now).is_some_and(|text| text.starts_with("// The fingering of t:"))
        }
    }
}
