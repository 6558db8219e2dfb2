//! ABC, the letter notation of much of the world's traditional music.
//!
//! The reader follows the ABC music standard 2.1; rules are cited from memory where they matter. It reads what a melody
//! needs and skips the rest: grace notes, decorations, slurs, words and layout.
//!
//! - One tune of a file, the first or the one with a number; one voice, the first or the one named.
//! - Written order: repeats are not played out, and a second ending follows the first.
//! - Of a chord written as stacked notes, the top one.
//! - An accidental holds to the end of the bar, in every octave (`%%propagate-accidentals` can say otherwise), and over
//!   the bar line only for a note that is tied.
//! - A tune ends at an empty line.
//!
//! Files are often untidy, so faults that do not affect the notes are at most warnings. A note, length, unit or key
//! that cannot be read is an error, because a guess would teach a wrong tune.
//!
//! ```
//! use fretlib::format::abc;
//!
//! let text = "X:1\nT:Jetty at Dusk\nM:3/4\nL:1/4\nK:Em\nB,|\"Em\"E>F G|\"Am\"A3-|A2|]\n";
//! let reading = abc::read(text.as_bytes(), &abc::AbcOptions::default())?;
//! assert_eq!(reading.melody.title(), "Jetty at Dusk");
//! assert_eq!(reading.melody.notes()[2].pitch.to_string(), "F#4");
//! assert_eq!(reading.melody.notes()[4].duration, 5.into()); // tied over the bar line
//! # Ok::<(), fretlib::format::ReadError>(())
//! ```

mod accidentals;
mod book;
mod decoding;
mod field;
mod key_field;
mod lexer;
mod music;
mod note_length;
mod problem;
mod source;
mod stack;
mod tune;
mod tuplet_sign;
mod voice;
mod warnings;
mod write_abc;

use book::Book;
use source::{LineKind, Lines};
pub use write_abc::{write, write_fingered};

use super::limits::LARGEST_FILE;
use super::{Diagnostic, ReadError, Reading};
use crate::one_line::one_line;

/// Which tune and which voice to read.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct AbcOptions {
    /// The number of the tune, as listed by [`tunes`]; the first tune when `None`.
    pub tune: Option<u32>,
    /// The id or the name of the voice; the first voice when `None`.
    pub voice: Option<String>,
}

/// A tune in a list of tunes.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct TuneEntry {
    /// The number in its `X:` field, or its place in the file if those numbers are not distinct.
    pub number: u32,
    /// Its title; may be empty.
    pub title: String,
}

/// Reads a tune.
///
/// # Errors
///
/// When the file is larger than [`LARGEST_FILE`] or holds no tune, when the tune or voice is not in it, or when notes,
/// lengths or keys cannot be read; each such place is reported.
pub fn read(bytes: &[u8], options: &AbcOptions) -> Result<Reading, ReadError> {
    if bytes.len() > LARGEST_FILE {
        return Err(whole_file("larger than 64 MiB", "split the file"));
    }
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return Err(whole_file("text in UTF-16", "save the file as UTF-8"));
    }
    let book = Book::of(bytes);
    let chosen = match options.tune {
        None => book.tunes.first(),
        Some(number) => book.tunes.iter().find(|tune| tune.number == number),
    };
    let Some(chosen) = chosen else {
        return Err(match (options.tune, book.tunes.as_slice()) {
            (Some(number), [first, .., last]) => whole_file(
                &format!(
                    "there is no tune {number} among its {} tunes",
                    book.tunes.len()
                ),
                &format!("the first is {}, the last {}", first.number, last.number),
            ),
            (Some(number), [only]) => whole_file(
                &format!("there is no tune {number}"),
                &format!("the only one is {}", only.number),
            ),
            _ => whole_file(
                "there is no tune in it",
                "a tune begins with a line `X:1` and has a key, `K:G`",
            ),
        });
    };
    let mut reading = tune::read(
        bytes,
        book.header.clone(),
        chosen.range.clone(),
        options.voice.as_deref(),
    )?;
    if chosen.is_unmarked {
        reading
            .warnings
            .push("there is no `X:` field, so the file is read as one tune".to_owned());
    }
    if options.tune.is_none() && book.tunes.len() > 1 {
        let remark = format!(
            "the file has {} tunes; this is number {}",
            book.tunes.len(),
            chosen.number
        );
        reading.warnings.push(remark);
    }
    Ok(reading)
}

/// The tunes of a file, in its order; the first 100,000 of them.
///
/// ```
/// use fretlib::format::abc;
///
/// let book = b"X:1\nT:Jetty at Dusk\nK:Em\nEFG|\n\nX:2\nT:Low Water\nK:D\nDEF|\n";
/// let titles: Vec<String> = abc::tunes(book).into_iter().map(|tune| tune.title).collect();
/// assert_eq!(titles, ["Jetty at Dusk", "Low Water"]);
/// ```
pub fn tunes(bytes: &[u8]) -> Vec<TuneEntry> {
    let title = |range| {
        Lines::new(bytes, range)
            .map(|line| line.kind())
            // Titles after the key belong to parts of the tune.
            .take_while(|kind| !matches!(kind, LineKind::Field(field) if field.name == b'K'))
            .find_map(|kind| match kind {
                LineKind::Field(field) if field.name == b'T' => Some(one_line(
                    &decoding::unescape(&decoding::decode(field.value).0),
                )),
                _ => None,
            })
    };
    Book::of(bytes)
        .tunes
        .into_iter()
        .map(|tune| TuneEntry {
            number: tune.number,
            title: title(tune.range).unwrap_or_default(),
        })
        .collect()
}

/// Whether this is likely ABC: it begins with `%abc`, or has a line that begins with `X:`, `T:`, `M:` or `L:`
/// and a later one with `K:`.
pub fn looks_like(bytes: &[u8]) -> bool {
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if text.starts_with(b"%abc") {
        return true;
    }
    let mut fields = Lines::new(text, 0..text.len()).filter_map(|line| match line.kind() {
        LineKind::Field(field) => Some(field.name),
        _ => None,
    });
    fields.any(|name| b"XTML".contains(&name)) && fields.any(|name| name == b'K')
}

fn whole_file(problem: &str, hint: &str) -> ReadError {
    ReadError::new(Diagnostic::of_file(problem, hint))
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOOK: &str = "%abc-2.1\nM:3/4\nL:1/4\n\nTunes for Sunday\n\nX:4\nT:Low Water\nK:D\nDEF|\n\nnotes | between\n\nX:9\nT:Lanterns\nL:1/8\nK:Em\nEFG|\n";

    fn number(tune: Option<u32>) -> Result<Reading, ReadError> {
        read(BOOK.as_bytes(), &AbcOptions { tune, voice: None })
    }

    #[test]
    fn a_tune_of_a_book_is_chosen_by_number() {
        let first = number(None).unwrap();
        assert_eq!(first.melody.title(), "Low Water");
        assert_eq!(first.melody.notes()[0].duration, 1.into()); // from the header of the file
        assert_eq!(first.warnings[1], "the file has 2 tunes; this is number 4");
        let second = number(Some(9)).unwrap();
        assert_eq!(second.melody.title(), "Lanterns");
        assert!(second.warnings.is_empty());
        assert_eq!(
            second.melody.meters().first().unwrap().unwrap().to_string(),
            "3/4"
        );
        let missing = number(Some(5)).unwrap_err();
        assert_eq!(
            missing.to_string(),
            "in the file: there is no tune 5 among its 2 tunes"
        );
        let listed: Vec<_> = tunes(BOOK.as_bytes())
            .into_iter()
            .map(|tune| (tune.number, tune.title))
            .collect();
        assert_eq!(
            listed,
            [(4, "Low Water".to_owned()), (9, "Lanterns".to_owned())]
        );
    }

    #[test]
    fn abc_is_known_by_its_content() {
        let cases = [
            (BOOK, true),
            ("X:1\nK:C\n", true),
            ("\u{feff}Dear all,\n\nX: 1\nT:a\nK:C\n", true),
            ("%abc\n", true),
            ("T:Low Water\nM:3/4\nK:D\nDEF|\n", true),
            ("X:1\n", false),
            ("K:C\nX:1\n", false),
            ("", false),
            ("(title: \"Low Water\", key: \"D\")", false),
            ("<?xml version=\"1.0\"?>", false),
            ("MThd\0\0\0\u{6}", false),
        ];
        for (text, expected) in cases {
            assert_eq!(looks_like(text.as_bytes()), expected, "{text}");
        }
    }

    #[test]
    fn files_without_a_tune_are_refused() {
        let cases: [(&[u8], &str); 5] = [
            (b"", "in the file: there is no tune in it"),
            (b"Dear all\n", "in the file: there is no tune in it"),
            (b"\xFF\xFEX\0:\0", "in the file: text in UTF-16"),
            (b"X:1\nT:Nothing\nK:C\n", "line 1, column 1: no notes found"),
            (
                b"X:1\nM:1/64\nL:1/1\nK:C\nC z900000 C\n",
                "line 1, column 1: there are more than 250000 bars in it",
            ),
        ];
        for (bytes, expected) in cases {
            let diagnostics = read(bytes, &AbcOptions::default()).unwrap_err();
            assert_eq!(diagnostics.to_string(), expected);
        }
        let too_large = vec![b'A'; LARGEST_FILE + 1];
        assert!(read(&too_large, &AbcOptions::default()).is_err());
    }

    /// Files that would need much time or memory without limits.
    #[test]
    fn hostile_files_are_refused_quickly() {
        let many = |piece: &str| format!("X:1\nM:1/64\nL:1/4096\nK:C\n{}", piece.repeat(50_000));
        for piece in [
            "A",
            "Z999",
            "[K:D]z",
            "%%begintext\n",
            "\"",
            "!",
            "+",
            "{",
            "[",
            "é",
            "X:1\n",
            "^c,",
            "(99:1:1000000A",
            "\"x\"A",
            "V:1\n",
            "A-",
            "\\",
            "\u{0}",
        ] {
            let text = many(piece);
            let _ = read(text.as_bytes(), &AbcOptions::default());
            assert!(tunes(text.as_bytes()).len() <= 100_000);
        }
    }

    quickcheck::quickcheck! {
        fn any_bytes_are_taken(bytes: Vec<u8>) -> bool {
            let _ = (read(&bytes, &AbcOptions::default()), tunes(&bytes), looks_like(&bytes));
            true
        }

        fn any_music_is_taken(music: Vec<u8>) -> bool {
            // Random signs of music rather than random bytes, so that most of them are read.
            const SIGNS: &[u8] = b"ABcdez,'^_=/234>-<([])|:\"{}!&~yZ \n\\%KVL1+T.x";
            let signs = music.iter().map(|byte| SIGNS[usize::from(*byte) % SIGNS.len()]);
            let text: Vec<u8> = b"X:1\nM:3/4\nK:D\n".iter().copied().chain(signs).collect();
            match read(&text, &AbcOptions::default()) {
                Ok(reading) => !reading.melody.notes().is_empty(),
                Err(diagnostics) => diagnostics.diagnostics().iter().all(|fault| !fault.problem.is_empty()),
            }
        }
    }
}
