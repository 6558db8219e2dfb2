//! The words of a line of music.

use crate::format::bar_line::{BarLine, ending_length, parse_endings};
use crate::melody::Endings;

/// A token of a line of notes: a slice of the file, so that its place is known.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Piece<'a> {
    /// A bar line in any of its forms: `|`, `:|`, `|1`.
    BarLine(&'a str, BarLine),
    /// `[1`: an ending.
    Ending(&'a str, Option<Endings>),
    /// A comma.
    Breath,
    /// The text between square brackets.
    Mark(&'a str),
    /// An opening bracket that is not closed, and the text after it.
    Unclosed(&'a str),
    /// Anything else.
    Word(&'a str),
}

/// Splits a line of notes into words.
pub(super) fn pieces(text: &str) -> impl Iterator<Item = Piece<'_>> {
    let mut rest = text;
    std::iter::from_fn(move || {
        rest = rest.trim_start();
        let first = rest.chars().next()?;
        let (piece, length) = match first {
            '|' | ':' => bar_line(rest),
            ',' => (Piece::Breath, 1),
            '[' if rest[1..].starts_with(|c: char| c.is_ascii_digit()) => {
                let length = 1 + ending_length(&rest.as_bytes()[1..]);
                let numbers = parse_endings(&rest.as_bytes()[1..length]);
                (Piece::Ending(&rest[..length], numbers), length)
            }
            '[' => match rest.find(']') {
                Some(end) => (Piece::Mark(&rest[1..end]), end + 1),
                None => (Piece::Unclosed(rest), rest.len()),
            },
            _ => {
                let end = rest
                    .find(|c: char| c.is_whitespace() || matches!(c, '|' | ':' | ',' | '['))
                    .unwrap_or(rest.len());
                (Piece::Word(&rest[..end]), end)
            }
        };
        rest = &rest[length..];
        Some(piece)
    })
}

/// A bar line at the start of a text, with the number of the ending that begins at it.
fn bar_line(text: &str) -> (Piece<'_>, usize) {
    let bytes = text.as_bytes();
    let mut length = bytes
        .iter()
        .take_while(|byte| matches!(byte, b'|' | b':' | b']'))
        .count();
    let mut line = BarLine::of(&bytes[..length]);
    let numbers = ending_length(&bytes[length..]);
    line.ending = parse_endings(&bytes[length..length + numbers]);
    if line.ending.is_some() {
        length += numbers;
    }
    (Piece::BarLine(&text[..length], line), length)
}

/// Splits a line of chords into bars; a bar line at the very start or end separates nothing.
///
/// Signs of repeats and endings are allowed here, but read only with the notes.
pub(super) fn chord_bars(text: &str) -> Vec<&str> {
    let mut bars = Vec::new();
    let mut rest = text.trim();
    while !rest.trim().is_empty() {
        let end = rest.find(['|', ':']).unwrap_or(rest.len());
        let (bar, line) = rest.split_at(end);
        let after = line.trim_start_matches(['|', ':', ']']);
        let digits = if line.is_empty() {
            0
        } else {
            ending_length(after.as_bytes())
        };
        if !(bar.trim().is_empty() && bars.is_empty()) {
            bars.push(without_ending(bar.trim()));
        }
        rest = &after[digits..];
    }
    bars
}

/// A bar of chords without the `[1` before it.
fn without_ending(bar: &str) -> &str {
    match bar.strip_prefix('[') {
        Some(rest) => rest[ending_length(rest.as_bytes())..].trim_start(),
        None => bar,
    }
}
