//! Answers as players type them.

use std::fmt;

use thiserror::Error;

use super::spoken::{degree_from, interval_from, name_from};
use super::words::{Word, words};
use crate::neck::{Fret, Instrument, Place, StringNumber};
use crate::theory::{Degree, Direction, Interval, PitchClass};

/// What a player answered.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Answer {
    /// A string and a fret.
    Place(Place),
    /// A note, its octave left out.
    Name(PitchClass),
    /// A note and its degree of the key.
    NameAndDegree(PitchClass, Degree),
    /// A degree of the key.
    Degree(Degree),
    /// An interval, and which way it leads when the player said so.
    Interval {
        /// Its size, upwards.
        size: Interval,
        /// The way it leads.
        direction: Option<Direction>,
    },
    /// It is one of the scale's seven notes; which, when the player said so.
    Inside(Option<Degree>),
    /// It is none of the scale's seven notes, but this.
    Outside(Degree),
}

impl fmt::Display for Answer {
    /// The answer in the form that [`Answer`]s are usually typed.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Answer::Place(place) if place.fret == Fret::OPEN => {
                write!(f, "string {} open", place.string)
            }
            Answer::Place(place) => write!(f, "string {} fret {}", place.string, place.fret),
            Answer::Name(class) => write!(f, "{class}"),
            Answer::NameAndDegree(class, degree) => write!(f, "{class} {degree}"),
            Answer::Degree(degree) => write!(f, "{degree}"),
            Answer::Interval { size, direction } => match direction {
                Some(Direction::Up) => write!(f, "{} up", size.name()),
                Some(Direction::Down) => write!(f, "{} down", size.name()),
                Some(Direction::Same) | None => f.write_str(&size.name()),
            },
            Answer::Inside(None) => f.write_str("yes"),
            Answer::Inside(Some(degree)) => write!(f, "yes, {degree}"),
            Answer::Outside(degree) => write!(f, "no, {degree}"),
        }
    }
}

/// Why an answer was not understood; the question is put again and nothing is counted.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum Unclear {
    /// The text is not an answer of this sort.
    #[error("expected {0}")]
    Expected(&'static str),
    /// The text can be read in two ways.
    #[error("that can be read in two ways: put a comma between the note and its degree")]
    TwoWays,
    /// An interval without its quality.
    #[error("of which kind is it, major or minor?")]
    Quality,
    /// "No" without a degree.
    #[error("and which degree is it, such as #4?")]
    WhichDegree,
    /// A string the instrument does not have.
    #[error("there is no string {0} here")]
    NoString(u32),
    /// A fret the instrument does not have.
    #[error("there is no fret {0} here")]
    NoFret(u32),
}

/// Reads a place: `3 5`, `s3 f5`, `string 3 fret 5`, `3rd string 5th fret`, `f5 s3`, `3:5`, `2 open`.
///
/// # Errors
///
/// When there are not exactly a string and a fret, or the instrument lacks one of them.
pub fn read_place(text: &str, instrument: &Instrument) -> Result<Place, Unclear> {
    const EXPECTED: Unclear = Unclear::Expected("a string and a fret, such as 3 5");
    #[derive(PartialEq)]
    enum Label {
        String,
        Fret,
    }
    let mut labels = Vec::new();
    let mut numbers = Vec::new();
    let mut open = false;
    let mut label_first = None;
    for word in words(text) {
        match word {
            Word::Number(number) => {
                label_first.get_or_insert(false);
                numbers.push(number);
            }
            Word::Letters(letters) => match letters.to_lowercase().as_str() {
                "s" | "str" | "string" => {
                    label_first.get_or_insert(true);
                    labels.push(Label::String);
                }
                "f" | "fr" | "fret" => {
                    label_first.get_or_insert(true);
                    labels.push(Label::Fret);
                }
                "open" => open = true,
                "st" | "nd" | "rd" | "th" if !numbers.is_empty() => {}
                "the" | "on" | "at" | "in" | "and" => {}
                _ => return Err(EXPECTED),
            },
            Word::Sign('-' | ',' | ':' | '/' | '.' | ';') => {}
            Word::Sign(_) => return Err(EXPECTED),
        }
    }
    let (string, fret) = match (numbers.as_slice(), labels.as_slice(), open) {
        ([string], [] | [Label::String], true) => (*string, 0),
        ([first, second], [], false) => (*first, *second),
        ([first, second], [Label::String, Label::Fret], false) => (*first, *second),
        ([first, second], [Label::Fret, Label::String], false) => (*second, *first),
        ([first, second], [Label::String], false) if label_first == Some(true) => (*first, *second),
        _ => return Err(EXPECTED),
    };
    let string_number = u8::try_from(string)
        .ok()
        .and_then(|number| StringNumber::new(number).ok())
        .filter(|number| number.index() < instrument.strings().len())
        .ok_or(Unclear::NoString(string))?;
    let fret_number = u8::try_from(fret)
        .ok()
        .and_then(|number| Fret::new(number).ok())
        .filter(|number| *number <= instrument.highest_fret())
        .ok_or(Unclear::NoFret(fret))?;
    Ok(Place {
        string: string_number,
        fret: fret_number,
    })
}

/// Reads a note without its octave: `Eb`, `e flat`, `F♯`, `f-sharp`, `B double flat`, `c natural`.
///
/// # Errors
///
/// When the text is no note name, or names an octave too.
pub fn read_name(text: &str) -> Result<PitchClass, Unclear> {
    name_from(&words(text)).ok_or(Unclear::Expected(
        "a note name without its octave, such as Eb",
    ))
}

/// Reads a degree: `b3`, `flat 3`, `flat third`, `♯4`, `root`, or the interval above the tonic, `minor third`.
///
/// # Errors
///
/// When the text is not a degree.
pub fn read_degree(text: &str) -> Result<Degree, Unclear> {
    degree_from(&words(text)).ok_or(Unclear::Expected("a scale degree, such as b3 or #4"))
}

/// Reads a note and its degree, in either order: `Eb b3`, `e flat, flat 3`, `5 Bb`.
///
/// A comma parts the two for certain, else white space may, else any place in the text that makes sense of both sides.
///
/// # Errors
///
/// When one of the two is missing, or there is more than one way to share the text between them.
pub fn read_name_and_degree(text: &str) -> Result<(PitchClass, Degree), Unclear> {
    let text = text.trim();
    let parts_at = |sign: fn(char) -> bool| -> Vec<usize> {
        text.char_indices()
            .filter(|(_, c)| sign(*c))
            .map(|(index, _)| index)
            .collect()
    };
    const EXPECTED: Unclear = Unclear::Expected("a note and its degree, such as Eb b3");
    let mut splits = parts_at(|c| matches!(c, ',' | ';' | '/'));
    if splits.is_empty() {
        splits = parts_at(char::is_whitespace);
    }
    if splits.is_empty() {
        // `b3` is half an answer rather than B and 3.
        if read_degree(text).is_ok() {
            return Err(EXPECTED);
        }
        splits = parts_at(|_| true);
    }
    let mut readings: Vec<(PitchClass, Degree)> = Vec::new();
    for split in splits {
        let (first, second) = text.split_at(split);
        let second = second.trim_start_matches([',', ';', '/']);
        for (name, degree) in [(first, second), (second, first)] {
            if let (Ok(name), Ok(degree)) = (read_name(name), read_degree(degree))
                && !readings.contains(&(name, degree))
            {
                readings.push((name, degree));
            }
        }
    }
    match readings.as_slice() {
        [reading] => Ok(*reading),
        [] => Err(EXPECTED),
        _ => Err(Unclear::TwoWays),
    }
}

/// Reads an interval: `m3`, `minor third`, `maj 7`, `P5 down`, `-M2`, `octave`, `half step`, `tritone`.
///
/// Capital and small letters differ: `M3` is major, `m3` minor. Fourths, fifths and octaves need no quality.
///
/// # Errors
///
/// When the text is no interval, or a second, third, sixth or seventh without a quality.
pub fn read_interval(text: &str) -> Result<(Interval, Option<Direction>), Unclear> {
    const EXPECTED: Unclear = Unclear::Expected("an interval, such as m3, P5 or major second");
    let mut direction = None;
    let mut rest = Vec::new();
    for (index, word) in words(text).into_iter().enumerate() {
        let way = match &word {
            Word::Sign('+') if index == 0 => Some(Direction::Up),
            Word::Sign('-') if index == 0 => Some(Direction::Down),
            Word::Letters(letters) => match letters.to_lowercase().as_str() {
                "up" | "upward" | "upwards" | "rising" | "ascending" | "higher" => {
                    Some(Direction::Up)
                }
                "down" | "downward" | "downwards" | "falling" | "descending" | "lower" => {
                    Some(Direction::Down)
                }
                _ => None,
            },
            _ => None,
        };
        match way {
            Some(_) if direction.is_some() => return Err(EXPECTED),
            Some(_) => direction = way,
            None => rest.push(word),
        }
    }
    match interval_from(&rest) {
        Some(Ok(size)) => Ok((size, direction)),
        Some(Err(())) => Err(Unclear::Quality),
        None => Err(EXPECTED),
    }
}

/// Reads whether a note is in the scale: `yes`, `in`, `yes 5`; `no #4`, `out b3`, `not in the scale, #4`, `#4`.
///
/// A degree alone says neither yes nor no, which the caller settles: the degrees of the scale are known there.
///
/// # Errors
///
/// When the text says nothing of the sort, or "no" without a degree.
pub fn read_scale(text: &str) -> Result<(Option<bool>, Option<Degree>), Unclear> {
    let mut inside = None;
    let mut rest = Vec::new();
    for word in words(text) {
        let said = match &word {
            Word::Letters(letters) => match letters.to_lowercase().as_str() {
                "y" | "yes" => Some(true),
                "n" | "no" | "not" | "out" | "outside" | "chromatic" => Some(false),
                "in" | "inside" | "scale" => Some(inside.unwrap_or(true)),
                "the" | "it" | "is" | "of" => continue,
                _ => None,
            },
            Word::Sign(',' | ':' | ';' | '.' | '-') => continue,
            _ => None,
        };
        match said {
            Some(said) if inside.is_some_and(|before| before != said) => {
                return Err(Unclear::Expected("either yes, or no and the degree"));
            }
            Some(said) => inside = Some(said),
            None => rest.push(word),
        }
    }
    if rest.is_empty() {
        return match inside {
            Some(true) => Ok((inside, None)),
            Some(false) => Err(Unclear::WhichDegree),
            None => Err(Unclear::Expected(
                "yes, or no and the degree, such as no #4",
            )),
        };
    }
    let degree = degree_from(&rest).ok_or(Unclear::Expected(
        "yes, or no and the degree, such as no #4",
    ))?;
    Ok((inside, Some(degree)))
}

#[cfg(test)]
mod tests;
