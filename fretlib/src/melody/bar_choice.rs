//! Part of a tune, as a player names it.

use std::fmt;
use std::ops::{Range, RangeInclusive};
use std::str::FromStr;

use super::{FormSign, Melody, Quarters};
use crate::error::ParseError;

/// Which bars: `9-16`, `A` (every section A), `A2` (the second of them), `second ending`.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum BarChoice {
    /// The bars with these numbers.
    Numbers(RangeInclusive<u32>),
    /// The sections of this name, or only the one with this number.
    Section(String),
    /// The endings with this number.
    Ending(u8),
}

const ORDINALS: [&str; 4] = ["first", "second", "third", "fourth"];

impl BarChoice {
    /// The chosen ranges of the melody's time, in written order; empty when it has no such part.
    ///
    /// ```
    /// use fretlib::format::tune_ron;
    /// use fretlib::melody::{BarChoice, Quarters};
    ///
    /// let text = r#"(meter: "2/4", lines: [(notes: "[section A] E4 h |1 F :|2 G | [section B] A")])"#;
    /// let melody = tune_ron::read(text.as_bytes())?.melody;
    /// let choice: BarChoice = "second ending".parse()?;
    /// assert_eq!(choice.stretches(&melody), [Quarters::from(4)..Quarters::from(6)]);
    /// assert_eq!("b".parse::<BarChoice>()?.stretches(&melody), [Quarters::from(6)..Quarters::from(8)]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn stretches(&self, melody: &Melody) -> Vec<Range<Quarters>> {
        match self {
            BarChoice::Numbers(numbers) => {
                let mut bars = melody
                    .bars()
                    .iter()
                    .filter(|bar| numbers.contains(&bar.number));
                let first = bars.next();
                let last = bars.next_back().or(first);
                first
                    .zip(last)
                    .map(|(first, last)| first.onset..last.end)
                    .into_iter()
                    .collect()
            }
            BarChoice::Section(wanted) => sections(melody, wanted),
            BarChoice::Ending(number) => {
                let endings = melody.form().endings(melody.length()).into_iter();
                let endings = endings.filter(|(_, numbers)| numbers.contains((*number).into()));
                // A last ending without a closing sign is no longer than the one before it.
                endings
                    .map(|(span, _)| span.start..open_end(melody, &span))
                    .collect()
            }
        }
    }
}

/// The end of an ending without a closing sign: the end of its section, or of the tune.
fn open_end(melody: &Melody, span: &Range<Quarters>) -> Quarters {
    let mut begun = melody.sections().iter().map(|(onset, _)| onset);
    let is_closed = melody
        .form()
        .at(span.end)
        .iter()
        .any(|(_, sign)| sign.ends() || *sign == FormSign::RepeatStart);
    match begun.find(|onset| *onset > span.start && *onset < span.end) {
        Some(onset) if !is_closed => onset,
        _ => span.end,
    }
}

fn sections(melody: &Melody, wanted: &str) -> Vec<Range<Quarters>> {
    let starts: Vec<(Quarters, &String)> = melody.sections().iter().collect();
    let ends = starts
        .iter()
        .skip(1)
        .map(|(onset, _)| *onset)
        .chain([melody.length()]);
    let all: Vec<(Range<Quarters>, &String)> = starts
        .iter()
        .zip(ends)
        .map(|((start, name), end)| (*start..end, *name))
        .collect();
    let named = |name: &str| -> Vec<Range<Quarters>> {
        let alike = all
            .iter()
            .filter(|(_, it)| it.to_lowercase() == name.to_lowercase());
        alike.map(|(span, _)| span.clone()).collect()
    };
    let found = named(wanted);
    if !found.is_empty() {
        return found;
    }
    let name = wanted.trim_end_matches(|c: char| c.is_ascii_digit());
    let which: Option<usize> = wanted[name.len()..].parse().ok();
    let nth = which.and_then(|which| named(name.trim()).into_iter().nth(which.checked_sub(1)?));
    nth.into_iter().collect()
}

impl fmt::Display for BarChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BarChoice::Numbers(numbers) if numbers.start() == numbers.end() => {
                write!(f, "{}", numbers.start())
            }
            BarChoice::Numbers(numbers) => write!(f, "{}-{}", numbers.start(), numbers.end()),
            BarChoice::Section(name) => f.write_str(name),
            BarChoice::Ending(number) => match ORDINALS.get(usize::from(number.wrapping_sub(1))) {
                Some(ordinal) => write!(f, "{ordinal} ending"),
                None => write!(f, "ending {number}"),
            },
        }
    }
}

impl FromStr for BarChoice {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<BarChoice, ParseError> {
        let text = text.trim();
        let unreadable = || {
            ParseError::unreadable(
                text,
                "bars such as 1-8 or 5, a section such as A or A2, or `second ending`",
            )
        };
        // Notes apps turn a hyphen into an en dash.
        let (first, last) = text.split_once(['-', '–']).unwrap_or((text, text));
        if let (Ok(first), Ok(last)) = (first.trim().parse(), last.trim().parse()) {
            if first > last {
                let expected = "bars such as 1-8, not a range that ends before it begins";
                return Err(ParseError::unreadable(text, expected));
            }
            return Ok(BarChoice::Numbers(first..=last));
        }
        let lower = text.to_lowercase();
        let mut words: Vec<&str> = lower.split_whitespace().collect();
        if let Some(at) = words.iter().position(|word| *word == "ending") {
            words.remove(at);
            let [word] = words[..] else {
                return Err(unreadable());
            };
            let digits = word.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == '.');
            let number = match ORDINALS.iter().position(|ordinal| *ordinal == word) {
                Some(index) => Some(index as u8 + 1),
                None => digits.parse().ok(),
            };
            return number
                .filter(|number| (1..=32).contains(number))
                .map(BarChoice::Ending)
                .ok_or_else(unreadable);
        }
        if text.is_empty() || text.starts_with(|c: char| c.is_ascii_digit() || c == '-') {
            return Err(unreadable());
        }
        Ok(BarChoice::Section(text.to_owned()))
    }
}

impl Melody {
    /// Only these ranges, given in written order and joined from time zero on; `None` when no note begins in them.
    ///
    /// Bars keep their numbers. Notes that sound past the end of a range are cut there, except in the last range.
    pub fn only(&self, stretches: &[Range<Quarters>]) -> Option<Melody> {
        let mut parts = stretches
            .iter()
            .filter_map(|it| Some((it, self.between(it.start, it.end)?)));
        let (first, mut whole) = parts.next()?;
        let mut length = first.end - first.start;
        for (stretch, part) in parts {
            whole.append(part, length);
            length += stretch.end - stretch.start;
        }
        Some(whole)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Endings, Times};

    fn tune() -> Melody {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::ZERO, Some("2/4".parse().unwrap()));
        for (bar, name) in ["A", "", "B", "", "A", ""].iter().enumerate() {
            draft.bar_line();
            if !name.is_empty() {
                draft.sections.set(draft.now, (*name).to_owned());
            }
            let pitch = ["C4", "D4", "E4", "F4", "G4", "A4"][bar];
            draft
                .note(pitch.parse().unwrap(), Quarters::from(2))
                .unwrap();
        }
        let ending = |number| FormSign::Ending(Endings::new([number]).unwrap().unwrap());
        draft.form.add(Quarters::from(2), ending(1));
        draft
            .form
            .add(Quarters::from(4), FormSign::RepeatEnd(Times::TWICE));
        draft.form.add(Quarters::from(4), ending(2));
        draft.form.add(Quarters::from(6), FormSign::DoubleBar);
        Melody::new(draft).unwrap()
    }

    fn check(choice: &str, expected: &str) {
        let melody = tune();
        let choice: BarChoice = choice.parse().unwrap();
        let part = melody.only(&choice.stretches(&melody));
        let said = part.map_or("none".to_owned(), |part| {
            let bars = part.bars().iter().map(|bar| bar.number.to_string());
            let notes = part
                .notes()
                .iter()
                .map(|note| format!("{}@{}", note.pitch, note.onset));
            format!(
                "{} {}",
                bars.collect::<Vec<_>>().join(" "),
                notes.collect::<Vec<_>>().join(" ")
            )
        });
        assert_eq!(said, expected, "{choice}");
    }

    #[test]
    fn parts_are_named_as_players_name_them() {
        check("2-3", "2 3 D4@0 E4@2");
        check("A", "1 2 5 6 C4@0 D4@2 G4@4 A4@6");
        check("a2", "5 6 G4@0 A4@2");
        check("B", "3 4 E4@0 F4@2");
        check("second ending", "3 E4@0");
        check("ending 1", "2 D4@0");
        check("2nd ending", "3 E4@0");
        check("C", "none");
        check("A3", "none");
        check("9", "none");
        for text in ["", "8-1", "x ending y", "ending 0", "-3"] {
            assert!(text.parse::<BarChoice>().is_err(), "{text}");
        }
        for text in ["9-16", "5", "A2", "second ending", "ending 7"] {
            assert_eq!(text.parse::<BarChoice>().unwrap().to_string(), text);
        }
    }
}
