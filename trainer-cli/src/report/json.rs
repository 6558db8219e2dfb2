//! JSON on standard output.

use std::io::{self, BufWriter, Write};

use fretlib::is_visible;
use serde::Serialize;
use serde_json::Serializer;
use serde_json::ser::{CharEscape, CompactFormatter, Formatter};

use crate::failure::Failure;
use crate::terminal::Streams;

/// Prints a document as one line of JSON.
///
/// Invisible characters are escaped, so that strings keep them without affecting a terminal.
pub fn write_json(streams: &mut Streams, document: &impl Serialize) -> Result<(), Failure> {
    // What the formatter has escaped needs no filter. It writes pieces of a few bytes, which are gathered here, where the
    // compiler sees both ends.
    let mut out = BufWriter::with_capacity(1 << 14, streams.stdout.unfiltered());
    let mut serializer = Serializer::with_formatter(&mut out, Visible(CompactFormatter));
    document
        .serialize(&mut serializer)
        .map_err(io::Error::from)?;
    out.write_all(b"\n")?;
    Ok(out.flush()?)
}

/// A number rounded to this many decimal places, so that documents stay short.
pub fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}

/// A JSON list whose items are made while it is written, so that a long one needs no memory.
pub struct EachOf<'a, T, S> {
    /// The source of the items.
    pub items: &'a [T],
    /// Makes an item, given its index.
    pub item: fn(usize, &'a T) -> S,
}

impl<T, S: Serialize> Serialize for EachOf<'_, T, S> {
    fn serialize<R: serde::Serializer>(&self, serializer: R) -> Result<R::Ok, R::Error> {
        let items = self.items.iter().enumerate();
        serializer.collect_seq(items.map(|(index, it)| (self.item)(index, it)))
    }
}

/// JSON on one line, with escapes for invisible characters.
struct Visible(CompactFormatter);

impl Formatter for Visible {
    fn write_string_fragment<W>(&mut self, out: &mut W, fragment: &str) -> io::Result<()>
    where
        W: ?Sized + Write,
    {
        // Most strings are plain ones.
        if fragment.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
            return out.write_all(fragment.as_bytes());
        }
        let mut rest = fragment;
        while let Some(at) = rest.find(|c| !is_visible(c)) {
            let hidden = rest[at..].chars().next().unwrap_or_default();
            out.write_all(&rest.as_bytes()[..at])?;
            for unit in hidden.encode_utf16(&mut [0; 2]) {
                write!(out, "\\u{unit:04x}")?;
            }
            rest = &rest[at + hidden.len_utf8()..];
        }
        out.write_all(rest.as_bytes())
    }

    fn write_char_escape<W>(&mut self, out: &mut W, escape: CharEscape) -> io::Result<()>
    where
        W: ?Sized + Write,
    {
        self.0.write_char_escape(out, escape)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_keep_invisible_characters() {
        let title = "Pier \u{202e}9\u{1b}[2J\u{9b}\u{e0041} \"♭\"";
        let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
        let mut streams = Streams::captured(&b""[..], &mut stdout, &mut stderr);
        write_json(&mut streams, &[title]).unwrap();
        drop(streams);
        let text = String::from_utf8(stdout).unwrap();
        assert!(text.trim_end().chars().all(is_visible), "{text:?}");
        assert_eq!(serde_json::from_str::<[String; 1]>(&text).unwrap(), [title]);
    }
}
