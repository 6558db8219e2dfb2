//! A file of several tunes, each beginning with an `X:` field.

use std::collections::HashSet;
use std::ops::Range;

use super::source::{LineKind, Lines};
use crate::format::limits::MOST_TUNES;

/// The tunes of a file, by their byte ranges.
#[derive(Clone, Debug)]
pub(super) struct Book {
    /// Fields before the first tune, which apply to all tunes.
    pub header: Range<usize>,
    pub tunes: Vec<Entry>,
}

#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct Entry {
    pub number: u32,
    pub range: Range<usize>,
    /// The file has no `X:` field, and all of it is taken as one tune.
    pub is_unmarked: bool,
}

impl Book {
    /// Finds the tunes; every `X:` field begins one.
    ///
    /// A tune has the number of its `X:` field. If one of the fields has no number, or two have the same, all tunes are
    /// counted from 1. A file without such a field but with a `K:` field is one tune.
    pub fn of(bytes: &[u8]) -> Book {
        let start = if bytes.starts_with(b"\xEF\xBB\xBF") {
            3
        } else {
            0
        };
        let all = start..bytes.len();
        let mut header_end = None;
        let mut starts: Vec<(usize, Option<u32>)> = Vec::new();
        let mut has_key = false;
        for line in Lines::new(bytes, all.clone()) {
            match line.kind() {
                LineKind::Field(field) if field.name == b'X' => {
                    if starts.len() == MOST_TUNES {
                        break;
                    }
                    header_end.get_or_insert(line.start);
                    starts.push((line.start, reference_number(field.value)));
                }
                LineKind::Field(field) => has_key |= field.name == b'K',
                LineKind::Blank => {
                    header_end.get_or_insert(line.start);
                }
                _ => {}
            }
        }
        if starts.is_empty() {
            let whole = Entry {
                number: 1,
                range: all,
                is_unmarked: true,
            };
            let tunes = if has_key { vec![whole] } else { Vec::new() };
            return Book {
                header: start..start,
                tunes,
            };
        }
        let mut taken = HashSet::with_capacity(starts.len());
        let is_numbered = starts
            .iter()
            .all(|(_, number)| number.is_some_and(|number| taken.insert(number)));
        let ends = starts
            .iter()
            .skip(1)
            .map(|(next, _)| *next)
            .chain([bytes.len()]);
        let tunes = (1..)
            .zip(starts.iter().zip(ends))
            .map(|(place, (&(start, number), end))| Entry {
                number: number.filter(|_| is_numbered).unwrap_or(place),
                range: start..end,
                is_unmarked: false,
            })
            .collect();
        Book {
            header: start..header_end.unwrap_or(start),
            tunes,
        }
    }
}

fn reference_number(value: &[u8]) -> Option<u32> {
    std::str::from_utf8(value).ok()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(text: &str) -> Vec<u32> {
        Book::of(text.as_bytes())
            .tunes
            .iter()
            .map(|tune| tune.number)
            .collect()
    }

    #[test]
    fn tunes_go_by_their_numbers() {
        assert_eq!(numbers("X:3\nK:C\nA\n\nX: 12\nK:D\nB\n"), [3, 12]);
        assert_eq!(numbers("X:1\nK:C\n\nX:1\nK:D\n"), [1, 2]); // not told apart by their numbers
        assert_eq!(numbers("X:7\nK:C\n\nX:b\nK:D\n"), [1, 2]);
        assert_eq!(numbers("T:Unmarked\nK:C\nABC\n"), [1]);
        assert!(numbers("Dear all,\nno tune here\n").is_empty());
        assert!(numbers("").is_empty());
        // This is not a tune, because it is in a text block.
        assert_eq!(
            numbers("X:1\n%%begintext\nX marks the spot\n%%endtext\nK:C\n"),
            [1]
        );
    }

    #[test]
    fn fields_ahead_of_the_first_tune_are_the_header_of_the_file() {
        let text = "%abc-2.1\nM:3/4\n\nfree text\n\nX:1\nK:C\n";
        assert_eq!(&text[Book::of(text.as_bytes()).header], "%abc-2.1\nM:3/4\n");
        let text = "\u{feff}M:3/4\nX:1\nK:C\n";
        assert_eq!(&text[Book::of(text.as_bytes()).header], "M:3/4\n");
    }
}
