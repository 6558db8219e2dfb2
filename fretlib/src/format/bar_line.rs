//! Bar lines of ABC and of our own tune format: strokes, colons, and the number of an ending.

use crate::melody::{Endings, FormSign, Quarters, Times};

/// A bar line in any of its forms.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct BarLine {
    /// The colons before it: `::|` has two.
    pub ends: u8,
    /// The colons after it.
    pub starts: u8,
    pub style: BarStyle,
    /// The number of the ending that begins at it.
    pub ending: Option<Endings>,
}

/// The strokes of a bar line.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) enum BarStyle {
    #[default]
    Plain,
    /// `||` or `[|`
    Double,
    /// `|]`
    Final,
}

impl BarLine {
    /// Reads strokes and colons.
    ///
    /// Source: ABC 2.1, 4.8 (from memory): `::`, `:|:` and `:||:` end a repeat and begin one, and each further colon
    /// adds one repetition.
    pub fn of(signs: &[u8]) -> BarLine {
        let is_stroke = |sign: &u8| *sign != b':';
        let colons = |count: usize| count.min(20) as u8;
        let Some(first) = signs.iter().position(is_stroke) else {
            let ends = signs.len() / 2;
            return BarLine {
                ends: colons(ends),
                starts: colons(signs.len() - ends),
                ..BarLine::default()
            };
        };
        let last = signs.iter().rposition(is_stroke).unwrap_or(first);
        let style = match &signs[first..=last] {
            b"|]" => BarStyle::Final,
            b"||" | b"[|" => BarStyle::Double,
            _ => BarStyle::Plain,
        };
        BarLine {
            ends: colons(first),
            starts: colons(signs.len() - 1 - last),
            style,
            ending: None,
        }
    }

    /// The signs of the form at this bar line. `times` is kept from one bar line to the next: how often the strain is
    /// played, from `|::`.
    pub fn form_signs(self, times: &mut u8) -> Vec<FormSign> {
        let mut signs = Vec::new();
        if self.ends > 0 {
            let times = (self.ends + 1).max(std::mem::take(times));
            signs.push(FormSign::RepeatEnd(
                Times::new(times).unwrap_or(Times::TWICE),
            ));
        }
        match self.style {
            BarStyle::Plain => {}
            BarStyle::Double => signs.push(FormSign::DoubleBar),
            BarStyle::Final => signs.push(FormSign::FinalBar),
        }
        if self.starts > 0 {
            *times = self.starts + 1;
            signs.push(FormSign::RepeatStart);
        }
        signs.extend(self.ending.map(FormSign::Ending));
        signs
    }
}

/// How many bytes at the start of a text are numbers of an ending: `1`, `2-3`, `1,3`.
pub(super) fn ending_length(text: &[u8]) -> usize {
    let byte = |at: usize| text.get(at).copied().unwrap_or(0);
    let mut at = 0;
    while byte(at).is_ascii_digit()
        || (at > 0 && matches!(byte(at), b',' | b'-' | b'.') && byte(at + 1).is_ascii_digit())
    {
        at += 1;
    }
    at
}

/// Reads the numbers of an ending; `None` when they are not valid.
pub(super) fn parse_endings(text: &[u8]) -> Option<Endings> {
    let mut numbers: Vec<u8> = Vec::new();
    for part in str::from_utf8(text).ok()?.split([',', '.']) {
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let (first, last): (u8, u8) = (first.parse().ok()?, last.parse().ok()?);
        numbers.extend(first..=last);
    }
    Endings::new(numbers).ok().flatten()
}

/// Writes the bar line that draws these signs of the form.
pub(super) fn write_bar_line(signs: &[(Quarters, FormSign)]) -> String {
    let mut line = String::new();
    let (mut stroke, mut starts) = ("|", "");
    for (_, sign) in signs {
        match sign {
            FormSign::RepeatEnd(times) => line = ":".repeat(usize::from(times.get()) - 1),
            FormSign::RepeatStart => starts = ":",
            FormSign::EndingEnd | FormSign::DoubleBar => stroke = "||",
            FormSign::FinalBar => stroke = "|]",
            _ => {}
        }
    }
    if !line.is_empty() || !starts.is_empty() {
        stroke = "|";
    }
    line + stroke + starts
}
