//! Answers as players type them.

use std::fmt;

use thiserror::Error;

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
    /// The text is no answer of this sort.
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
/// When the text is no degree.
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

/// How many semitones an accidental in a word or a sign stands for.
fn accidental(word: &Word) -> Option<i8> {
    match word {
        Word::Sign('#' | '♯') => Some(1),
        Word::Sign('♭') => Some(-1),
        Word::Sign('𝄪') => Some(2),
        Word::Sign('𝄫') => Some(-2),
        Word::Sign('♮') => Some(0),
        Word::Letters(letters) => match letters.to_lowercase().as_str() {
            "sharp" => Some(1),
            "flat" => Some(-1),
            "natural" => Some(0),
            "x" => Some(2),
            flats if flats.chars().all(|c| c == 'b') && flats.len() <= 3 => {
                Some(-(flats.len() as i8))
            }
            _ => None,
        },
        _ => None,
    }
}

/// Adds up accidentals: all of one direction, with `double` and `triple` before the word they multiply.
fn alteration_from(words: &[Word]) -> Option<i8> {
    let mut total = 0i8;
    let mut times = 1;
    for word in words {
        match word {
            Word::Letters(letters) if letters.eq_ignore_ascii_case("double") => times = 2,
            Word::Letters(letters) if letters.eq_ignore_ascii_case("triple") => times = 3,
            Word::Sign('-') => {}
            _ => {
                let step = accidental(word)? * times;
                if total.signum() * step < 0 {
                    return None;
                }
                total = total.checked_add(step).filter(|sum| sum.abs() <= 4)?;
                times = 1;
            }
        }
    }
    (times == 1).then_some(total)
}

fn name_from(words: &[Word]) -> Option<PitchClass> {
    let (Word::Letters(first), rest) = words.split_first()? else {
        return None;
    };
    // `Eb`, `bb` and `eflat` are one run of letters: the first is the note, the rest its accidental.
    let letter = crate::theory::Letter::from_char(first.chars().next()?)?;
    let tail = &first[1..];
    let mut accidentals = Vec::with_capacity(rest.len() + 1);
    if !tail.is_empty() {
        accidentals.push(Word::Letters(tail));
    }
    accidentals.extend_from_slice(rest);
    PitchClass::new(letter, alteration_from(&accidentals)?).ok()
}

/// The number of a scale step or an interval, in figures or as a word; ordinal endings are passed over.
fn number_from<'a>(words: &'a [Word<'a>]) -> Option<(u32, &'a [Word<'a>])> {
    const ORDINALS: [&str; 15] = [
        "unison",
        "second",
        "third",
        "fourth",
        "fifth",
        "sixth",
        "seventh",
        "octave",
        "ninth",
        "tenth",
        "eleventh",
        "twelfth",
        "thirteenth",
        "fourteenth",
        "fifteenth",
    ];
    let (last, before) = words.split_last()?;
    match last {
        Word::Number(number) => Some((*number, before)),
        Word::Letters(letters) => {
            let word = letters.to_lowercase();
            if let ("st" | "nd" | "rd" | "th", Some((Word::Number(number), before))) =
                (word.as_str(), before.split_last())
            {
                return Some((*number, before));
            }
            let index = ORDINALS.iter().position(|ordinal| *ordinal == word)?;
            Some((index as u32 + 1, before))
        }
        Word::Sign(_) => None,
    }
}

fn degree_from(words: &[Word]) -> Option<Degree> {
    if let [Word::Letters(word)] = words
        && ["root", "tonic"].contains(&word.to_lowercase().as_str())
    {
        return Some(Degree::TONIC);
    }
    let plain = || {
        let (number, before) = number_from(words)?;
        let alteration = alteration_from(before)?;
        if !(1..=7).contains(&number) {
            return None;
        }
        let natural = (2 * (number as i8 - 1) + 1).rem_euclid(7) - 1;
        Degree::from_fifths(natural + 7 * alteration).ok()
    };
    // "Minor third" as the distance above the tonic.
    let above_tonic = || {
        let interval = interval_from(words)?.ok()?;
        Degree::from_fifths(interval.fifths().try_into().ok()?).ok()
    };
    plain().or_else(above_tonic)
}

/// An interval without its direction; `Some(Err(()))` when only its quality is missing.
fn interval_from(words: &[Word]) -> Option<Result<Interval, ()>> {
    let mut words: Vec<Word> = words
        .iter()
        .filter(|word| !matches!(word, Word::Sign('-' | '.')))
        .copied()
        .collect();
    // "A perfect fifth", but "A 4" is an augmented fourth.
    if let [Word::Letters("a" | "A" | "an"), Word::Letters(_), ..] = words[..] {
        words.remove(0);
    }
    let letters: Vec<String> = words
        .iter()
        .filter_map(|word| match word {
            Word::Letters(letters) => Some(letters.to_lowercase()),
            _ => None,
        })
        .collect();
    if letters.len() == words.len() {
        let named = match letters.iter().map(String::as_str).collect::<Vec<_>>()[..] {
            ["semitone" | "halfstep"] | ["half", "step" | "tone"] => Some("m2"),
            ["tone" | "wholestep"] | ["whole", "step" | "tone"] => Some("M2"),
            ["tritone"] => Some("A4"),
            ["same"] | ["same", "note"] => Some("P1"),
            _ => None,
        };
        if let Some(name) = named {
            return name.parse().ok().map(Ok);
        }
    }
    let (number, before) = number_from(&words)?;
    let is_perfect = |number: u32| number >= 1 && matches!((number - 1) % 7, 0 | 3 | 4);
    let mut quality = String::new();
    let mut times = 1;
    for word in before {
        let Word::Letters(letters) = word else {
            return None;
        };
        let sign = match letters.to_lowercase().as_str() {
            "double" | "doubly" => {
                times = 2;
                continue;
            }
            "perfect" | "perf" | "per" => "P",
            "major" | "maj" | "ma" => "M",
            "minor" | "min" | "mi" => "m",
            "augmented" | "aug" => "A",
            "diminished" | "dim" => "d",
            _ => match *letters {
                "p" => "P",
                "a" => "A",
                exact => exact,
            },
        };
        quality.push_str(&sign.repeat(times));
        times = 1;
    }
    if quality.is_empty() {
        if !is_perfect(number) {
            return Some(Err(()));
        }
        quality.push('P');
    }
    format!("{quality}{number}").parse().ok().map(Ok)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_generously() {
        let cases = [
            ("Eb", "Eb"),
            ("e flat", "Eb"),
            ("E♭", "Eb"),
            ("e-flat", "Eb"),
            ("eflat", "Eb"),
            ("b", "B"),
            ("bb", "Bb"),
            ("B flat", "Bb"),
            ("f double sharp", "F##"),
            ("fx", "F##"),
            ("C natural", "C"),
            (" c# ", "C#"),
            ("B double flat", "Bbb"),
        ];
        for (text, name) in cases {
            assert_eq!(read_name(text), Ok(name.parse().unwrap()), "{text}");
        }
        for text in [
            "",
            "h",
            "Eb4",
            "c sharp flat",
            "c double",
            "flat",
            "E b b b b b",
            "é",
        ] {
            assert!(read_name(text).is_err(), "{text}");
        }
    }

    #[test]
    fn degrees_are_read_generously() {
        let cases = [
            ("b3", "b3"),
            ("flat 3", "b3"),
            ("flat third", "b3"),
            ("Flat 3rd", "b3"),
            ("♭3", "b3"),
            ("minor third", "b3"),
            ("m3", "b3"),
            ("#4", "#4"),
            ("sharp four", ""),
            ("root", "1"),
            ("5", "5"),
            ("5th", "5"),
            ("perfect fifth", "5"),
            ("augmented fourth", "#4"),
            ("bb7", "bb7"),
            ("diminished seventh", "bb7"),
            ("octave", "1"),
            ("8b", ""),
            ("0", ""),
            ("b", ""),
        ];
        for (text, name) in cases {
            assert_eq!(read_degree(text).ok(), name.parse().ok(), "{text}");
        }
    }

    #[test]
    fn a_note_and_its_degree_come_in_either_order() {
        let cases = [
            ("Eb b3", "Eb", "b3"),
            ("b3 Eb", "Eb", "b3"),
            ("e flat, flat 3", "Eb", "b3"),
            ("b b3", "B", "b3"),
            ("bb 3", "Bb", "3"),
            ("e5", "E", "5"),
            ("5e", "E", "5"),
            ("3 eb", "Eb", "3"),
            ("B flat / root", "Bb", "1"),
        ];
        for (text, name, degree) in cases {
            let expected = (name.parse().unwrap(), degree.parse().unwrap());
            assert_eq!(read_name_and_degree(text), Ok(expected), "{text}");
        }
        // B and b3, or Bb and 3?
        for text in ["b flat 3", "Eb5"] {
            assert_eq!(read_name_and_degree(text), Err(Unclear::TwoWays), "{text}");
        }
        for text in ["", "Eb", "b3", "Eb,", ",3", "q 3", "日 3"] {
            assert!(
                matches!(read_name_and_degree(text), Err(Unclear::Expected(_))),
                "{text}"
            );
        }
    }

    #[test]
    fn intervals_are_read_generously() {
        let cases = [
            ("m3", "m3", None),
            ("M3", "M3", None),
            ("minor third", "m3", None),
            ("Minor 3rd", "m3", None),
            ("maj 7", "M7", None),
            ("min7", "m7", None),
            ("P5 down", "P5", Some(Direction::Down)),
            ("down a perfect fifth", "P5", Some(Direction::Down)),
            ("falling fifth", "P5", Some(Direction::Down)),
            ("+m2", "m2", Some(Direction::Up)),
            ("-P8", "P8", Some(Direction::Down)),
            ("octave up", "P8", Some(Direction::Up)),
            ("half step", "m2", None),
            ("half-step down", "m2", Some(Direction::Down)),
            ("whole tone", "M2", None),
            ("tritone", "A4", None),
            ("dim 5", "d5", None),
            ("aug4", "A4", None),
            ("doubly diminished seventh", "dd7", None),
            ("unison", "P1", None),
            ("same note", "P1", None),
            ("major tenth", "M10", None),
            ("up down m3", "", None),
            ("P3", "", None),
            ("mm3", "", None),
        ];
        for (text, name, direction) in cases {
            let expected = name.parse().ok().map(|size: Interval| (size, direction));
            assert_eq!(read_interval(text).ok(), expected, "{text}");
        }
        assert_eq!(read_interval("third"), Err(Unclear::Quality));
        assert_eq!(read_interval("7 down"), Err(Unclear::Quality));
    }

    #[test]
    fn the_scale_is_a_yes_or_a_no_with_a_degree() {
        let degree = |name: &str| Some(name.parse().unwrap());
        let cases = [
            ("yes", Some(true), None),
            ("y", Some(true), None),
            ("in the scale", Some(true), None),
            ("yes, 5", Some(true), degree("5")),
            ("no #4", Some(false), degree("#4")),
            ("No: sharp 4", Some(false), degree("#4")),
            ("not in the scale, b3", Some(false), degree("b3")),
            ("out b3", Some(false), degree("b3")),
            ("#4", None, degree("#4")),
        ];
        for (text, inside, degree) in cases {
            assert_eq!(read_scale(text), Ok((inside, degree)), "{text}");
        }
        assert_eq!(read_scale("no"), Err(Unclear::WhichDegree));
        for text in ["", "maybe", "yes no", "yes #"] {
            assert!(read_scale(text).is_err(), "{text}");
        }
    }
}
