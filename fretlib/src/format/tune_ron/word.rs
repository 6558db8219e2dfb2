//! The words of a line of music.

/// A piece of a line of notes; every piece is a slice of the file, so that its place can be told.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Piece<'a> {
    /// A bar line.
    BarLine(&'a str),
    /// A comma.
    Breath,
    /// What stands between square brackets.
    Mark(&'a str),
    /// An opening bracket that is not closed, and what follows.
    Unclosed(&'a str),
    /// Anything else.
    Word(&'a str),
}

/// Parts a line of notes.
pub(super) fn pieces(text: &str) -> impl Iterator<Item = Piece<'_>> {
    let mut rest = text;
    std::iter::from_fn(move || {
        rest = rest.trim_start();
        let first = rest.chars().next()?;
        let (piece, length) = match first {
            '|' => (Piece::BarLine(&rest[..1]), 1),
            ',' => (Piece::Breath, 1),
            '[' => match rest.find(']') {
                Some(end) => (Piece::Mark(&rest[1..end]), end + 1),
                None => (Piece::Unclosed(rest), rest.len()),
            },
            _ => {
                let end = rest
                    .find(|c: char| c.is_whitespace() || matches!(c, '|' | ',' | '['))
                    .unwrap_or(rest.len());
                (Piece::Word(&rest[..end]), end)
            }
        };
        rest = &rest[length..];
        Some(piece)
    })
}

/// Parts a line of chords into bars; a bar line at the very start or end parts nothing.
pub(super) fn chord_bars(text: &str) -> Vec<&str> {
    let text = text.trim();
    let text = text.strip_prefix('|').unwrap_or(text);
    let text = text.strip_suffix('|').unwrap_or(text);
    if text.trim().is_empty() {
        return Vec::new();
    }
    text.split('|').map(str::trim).collect()
}
