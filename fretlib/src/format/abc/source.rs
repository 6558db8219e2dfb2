//! The lines of an ABC file, and places in it.

use std::ops::Range;

use crate::format::Location;

/// A line without its end.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct SourceLine<'a> {
    /// Where it begins in the file.
    pub start: usize,
    pub text: &'a [u8],
}

/// What a line is for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum LineKind<'a> {
    /// Nothing but white space, which ends a tune.
    Blank,
    /// `% …`, for human readers.
    Comment,
    /// `%%…`, an instruction to a program.
    Directive(&'a [u8]),
    /// `T:…`, an information field.
    Field(Field<'a>),
    /// Anything else: music, or free text outside a tune.
    Music,
}

/// An information field: `K:D dorian`, on a line or inline.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Field<'a> {
    /// The letter before the colon, or `+` for a continuation.
    pub name: u8,
    /// What follows the colon, without comment and outer white space.
    pub value: &'a [u8],
    /// Where it begins in the file.
    pub start: usize,
}

impl<'a> SourceLine<'a> {
    pub fn kind(self) -> LineKind<'a> {
        let text = self.text.trim_ascii_start();
        match text {
            [] => LineKind::Blank,
            [b'%', b'%', directive @ ..] => LineKind::Directive(directive.trim_ascii()),
            [b'%', ..] => LineKind::Comment,
            // A line may begin with a note or rest before a repeat sign: `G:|` is music.
            [b'A'..=b'G' | b'a'..=b'g', b':', b':' | b'|', ..] => LineKind::Music,
            [b'x'..=b'z', b':', ..] => LineKind::Music,
            [name @ (b'A'..=b'Z' | b'a'..=b'z' | b'+'), b':', value @ ..] => {
                LineKind::Field(Field {
                    name: *name,
                    value: without_comment(value).trim_ascii(),
                    start: self.start + self.text.len() - text.len(),
                })
            }
            _ => LineKind::Music,
        }
    }

    /// The line up to its comment.
    pub fn music(self) -> SourceLine<'a> {
        SourceLine {
            text: without_comment(self.text),
            ..self
        }
    }
}

/// Cuts off a comment; `\%` is a percent sign.
fn without_comment(text: &[u8]) -> &[u8] {
    let mut before = 0;
    for (index, &byte) in text.iter().enumerate() {
        if byte == b'%' && before != b'\\' {
            return &text[..index];
        }
        before = byte;
    }
    text
}

/// The lines of part of a file, with any of the three line ends, without typeset text blocks (such as `%%begintext` …
/// `%%endtext`).
#[derive(Clone, Debug)]
pub(super) struct Lines<'a> {
    bytes: &'a [u8],
    at: usize,
    end: usize,
    // No `%%end…` closes a block before this place, so that the search is not repeated.
    unclosed: usize,
}

impl<'a> Lines<'a> {
    pub fn new(bytes: &'a [u8], range: Range<usize>) -> Lines<'a> {
        Lines {
            bytes,
            at: range.start,
            end: range.end,
            unclosed: range.start,
        }
    }

    fn advance(&mut self) -> Option<SourceLine<'a>> {
        let rest = self
            .bytes
            .get(self.at..self.end)
            .filter(|rest| !rest.is_empty())?;
        let length = rest
            .iter()
            .position(|byte| matches!(byte, b'\n' | b'\r'))
            .unwrap_or(rest.len());
        let line = SourceLine {
            start: self.at,
            text: &rest[..length],
        };
        self.at += length
            + match rest[length..] {
                [b'\r', b'\n', ..] => 2,
                [_, ..] => 1,
                [] => 0,
            };
        Some(line)
    }

    /// Moves past the end of a block that begins here; stays when it is never closed in this tune.
    fn skip_block(&mut self) {
        if self.at < self.unclosed {
            return;
        }
        let inside = self.at;
        while let Some(line) = self.advance() {
            if line.text.starts_with(b"%%end") {
                return;
            }
            if line.text.starts_with(b"X:") {
                self.unclosed = line.start;
                self.at = inside;
                return;
            }
        }
        self.unclosed = self.end;
        self.at = inside;
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = SourceLine<'a>;

    fn next(&mut self) -> Option<SourceLine<'a>> {
        let line = self.advance()?;
        if line.text.starts_with(b"%%begin") {
            self.skip_block();
        }
        Some(line)
    }
}

/// The line and column of a byte. Columns count characters, or bytes where the line is not UTF-8.
pub(super) fn location(bytes: &[u8], offset: usize) -> Location {
    let all = 0..bytes.len();
    let mut lines = Lines::new(bytes, all);
    let mut number = 0;
    let mut last = SourceLine {
        start: 0,
        text: &[],
    };
    while lines.at <= offset {
        let Some(line) = lines.advance() else { break };
        number += 1;
        last = line;
    }
    let ahead = &last.text[..offset.saturating_sub(last.start).min(last.text.len())];
    let characters = match std::str::from_utf8(last.text) {
        Ok(_) => ahead.iter().filter(|byte| **byte & 0xC0 != 0x80).count(),
        Err(_) => ahead.len(),
    };
    Location::Text {
        line: number.max(1),
        column: characters + 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<&str> {
        Lines::new(text.as_bytes(), 0..text.len())
            .map(|line| std::str::from_utf8(line.text).unwrap())
            .collect()
    }

    #[test]
    fn lines_end_in_any_of_three_ways() {
        assert_eq!(lines("a\nb\r\nc\rd"), ["a", "b", "c", "d"]);
        assert_eq!(lines("a\n\n\r\rb\n"), ["a", "", "", "", "b"]);
        assert!(lines("").is_empty());
    }

    #[test]
    fn text_blocks_are_left_out() {
        assert_eq!(
            lines("a\n%%begintext\n\nX\n%%endtext\nb"),
            ["a", "%%begintext", "b"]
        );
        // Not closed before the next tune, so only the line itself is left out.
        assert_eq!(
            lines("%%beginps\nq\nX:2\n%%endps"),
            ["%%beginps", "q", "X:2", "%%endps"]
        );
    }

    #[test]
    fn lines_are_classified() {
        let field = |name, value: &'static str, start| {
            LineKind::Field(Field {
                name,
                value: value.as_bytes(),
                start,
            })
        };
        let cases = [
            ("  ", LineKind::Blank),
            ("% said aside", LineKind::Comment),
            (
                "%%MIDI program 24 ",
                LineKind::Directive(b"MIDI program 24"),
            ),
            ("K: Em % from the book", field(b'K', "Em", 0)),
            (" M:6/8", field(b'M', "6/8", 1)),
            ("T:100\\% wool", field(b'T', "100\\% wool", 0)),
            ("+:and on", field(b'+', "and on", 0)),
            ("w:", field(b'w', "", 0)),
            ("GAB c2:|", LineKind::Music),
            ("G:|", LineKind::Music), // a note and a repeat sign
            ("e::", LineKind::Music),
            ("z:|", LineKind::Music),
        ];
        for (text, kind) in cases {
            let line = SourceLine {
                start: 0,
                text: text.as_bytes(),
            };
            assert_eq!(line.kind(), kind, "{text}");
        }
    }

    #[test]
    fn places_are_counted_in_characters() {
        let text = "ab\r\ncéd\n";
        let cases = [(0, 1, 1), (1, 1, 2), (4, 2, 1), (7, 2, 3), (99, 2, 4)];
        for (offset, line, column) in cases {
            assert_eq!(
                location(text.as_bytes(), offset),
                Location::Text { line, column },
                "{offset}"
            );
        }
        let latin_1 = b"c\xE9d";
        assert_eq!(location(latin_1, 2), Location::Text { line: 1, column: 3 });
        assert_eq!(location(b"", 0), Location::Text { line: 1, column: 1 });
    }
}
