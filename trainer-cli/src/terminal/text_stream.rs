//! Writing text to a stream safely.

use std::io::{self, Write};

use fretlib::is_visible;
use owo_colors::Style;

/// A stream for text from anywhere, including files and history, that removes invisible characters.
///
/// Escape sequences, characters that change the direction of writing and other invisible characters never reach the
/// stream, so callers need not filter them. [`TextStream::styled`] writes colours, and [`TextStream::bytes`] writes
/// binary data.
pub struct TextStream<'a> {
    stream: Box<dyn Write + 'a>,
    // The first bytes of an incomplete character.
    begun: Vec<u8>,
}

impl<'a> TextStream<'a> {
    pub fn new(stream: impl Write + 'a) -> TextStream<'a> {
        TextStream {
            stream: Box::new(stream),
            begun: Vec::new(),
        }
    }

    /// Writes text in a style.
    pub fn styled(&mut self, style: Style, text: &str) -> io::Result<()> {
        write!(self.stream, "{}", style.style(cleaned(text)))
    }

    /// Writes bytes unchanged: a file requested on standard output.
    pub fn bytes(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.stream.write_all(bytes)
    }

    /// The stream itself, for the bytes of a file that is made while it is written.
    pub fn unfiltered(&mut self) -> &mut (dyn Write + 'a) {
        &mut *self.stream
    }

    /// Writes text from a library that colours it: only escape sequences for colours are kept.
    pub fn coloured(&mut self, text: &str) -> io::Result<()> {
        let mut parts = text.split('\u{1b}');
        self.write_all(parts.next().unwrap_or_default().as_bytes())?;
        for part in parts {
            let length = style_length(part);
            if length > 0 {
                write!(self.stream, "\u{1b}{}", &part[..length])?;
            }
            self.write_all(&part.as_bytes()[length..])?;
        }
        Ok(())
    }
}

/// The length of a style sequence after an escape character, such as `[1m`.
fn style_length(text: &str) -> usize {
    let Some(inner) = text.strip_prefix('[') else {
        return 0;
    };
    let parameters = inner
        .bytes()
        .take_while(|byte| byte.is_ascii_digit() || *byte == b';')
        .count();
    match inner.as_bytes().get(parameters) {
        Some(b'm') => parameters + 2,
        _ => 0,
    }
}

/// Text without invisible characters; line breaks and tabs stay.
fn cleaned(text: &str) -> String {
    text.chars()
        .filter(|c| is_visible(*c) || matches!(c, '\n' | '\t'))
        .collect()
}

impl Write for TextStream<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // Most of what is written: a long list as JSON is millions of pieces of a few bytes.
        let is_plain = |byte: &u8| matches!(byte, b' '..=b'~' | b'\n' | b'\t');
        // Without a way out in the middle, the compiler looks at many bytes at once.
        let is_all_plain = bytes.iter().fold(true, |all, byte| all & is_plain(byte));
        if self.begun.is_empty() && is_all_plain {
            self.stream.write_all(bytes)?;
            return Ok(bytes.len());
        }
        let mut all = std::mem::take(&mut self.begun);
        all.extend_from_slice(bytes);
        let mut rest = all.as_slice();
        while !rest.is_empty() {
            let (valid, invalid) = match std::str::from_utf8(rest) {
                Ok(text) => (text, None),
                Err(error) => {
                    let (valid, rest) = rest.split_at(error.valid_up_to());
                    let valid = std::str::from_utf8(valid).unwrap_or_default();
                    (valid, Some((error.error_len(), rest)))
                }
            };
            self.stream.write_all(cleaned(valid).as_bytes())?;
            rest = match invalid {
                None => &[],
                // The rest of a character may come with the next bytes.
                Some((None, end)) => {
                    self.begun = end.to_vec();
                    &[]
                }
                Some((Some(length), wrong)) => {
                    self.stream.write_all("\u{fffd}".as_bytes())?;
                    &wrong[length..]
                }
            };
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.stream.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(write: impl FnOnce(&mut TextStream) -> io::Result<()>) -> String {
        let mut bytes = Vec::new();
        let mut stream = TextStream::new(&mut bytes);
        write(&mut stream).unwrap();
        drop(stream);
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn invisible_characters_are_removed() {
        let cases = [
            ("Jetty\u{1b}[2J\n", "Jetty[2J\n"),
            ("a\u{9b}31mb\u{7}\r", "a31mb"),
            ("\u{202e}abc.pdf\u{2066}", "abc.pdf"),
            ("a\u{200b}b\u{feff}c\u{ad}d\u{fffe}", "abcd"),
            ("\u{e0041}tag", "tag"),
            ("Café ♭ 湖\tx", "Café ♭ 湖\tx"),
        ];
        for (text, expected) in cases {
            assert_eq!(written(|it| it.write_all(text.as_bytes())), expected);
        }
    }

    #[test]
    fn characters_may_come_in_parts() {
        let text = "♭é湖\u{202e}!".as_bytes();
        for cut in 0..text.len() {
            let parts = written(|it| {
                it.write_all(&text[..cut])?;
                it.write_all(&text[cut..])
            });
            assert_eq!(parts, "♭é湖!", "{cut}");
        }
        assert_eq!(
            written(|it| it.write_all(b"a\xffb\xc3(")),
            "a\u{fffd}b\u{fffd}("
        );
    }

    #[test]
    fn intended_colours_are_kept() {
        let bold = written(|it| it.styled(Style::new().bold(), "a\u{1b}[31mb"));
        assert_eq!(bold, "\u{1b}[1ma[31mb\u{1b}[0m");
        let help = written(|it| it.coloured("\u{1b}[1;4mUsage\u{1b}[0m\u{1b}[2J\u{1b}]0;x\u{7}"));
        assert_eq!(help, "\u{1b}[1;4mUsage\u{1b}[0m[2J]0;x");
        assert_eq!(written(|it| it.bytes(b"\x1b[2J")), "\u{1b}[2J");
    }
}
