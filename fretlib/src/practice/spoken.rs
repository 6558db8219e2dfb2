//! Note names, degrees and intervals in the words of players: `e flat`, `flat third`, `doubly diminished seventh`.

use super::words::Word;
use crate::theory::{Degree, Interval, Letter, PitchClass};

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

pub(super) fn name_from(words: &[Word]) -> Option<PitchClass> {
    let (Word::Letters(first), rest) = words.split_first()? else {
        return None;
    };
    // `Eb`, `bb` and `eflat` are one run of letters: the first is the note, the rest its accidental.
    let letter = Letter::from_char(first.chars().next()?)?;
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

pub(super) fn degree_from(words: &[Word]) -> Option<Degree> {
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
pub(super) fn interval_from(words: &[Word]) -> Option<Result<Interval, ()>> {
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
