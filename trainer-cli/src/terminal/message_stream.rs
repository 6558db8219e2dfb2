//! Messages on a terminal, wrapped at words.

use std::io::{self, Write};

use crate::report::wrap::wrap;

/// How the messages begin that are wrapped; anything else, such as a quoted line of a file, is kept as it is.
const HEADS: [&str; 4] = ["note: ", "warning: ", "error: ", "hint: "];

/// A stream that breaks long messages between words. A line is written when it ends, or when the stream is flushed.
pub struct MessageStream<W: Write> {
    stream: W,
    width: usize,
    line: Vec<u8>,
}

impl<W: Write> MessageStream<W> {
    /// Lines of at most `width` columns; a longer word has a line of its own.
    pub fn new(stream: W, width: usize) -> MessageStream<W> {
        MessageStream {
            stream,
            width,
            line: Vec::new(),
        }
    }

    fn end_line(&mut self) -> io::Result<()> {
        let line = std::mem::take(&mut self.line);
        match std::str::from_utf8(&line) {
            Ok(text) if HEADS.iter().any(|head| text.starts_with(head)) => {
                let lines = wrap(text, self.width).join("\n");
                self.stream.write_all(lines.as_bytes())
            }
            _ => self.stream.write_all(&line),
        }
    }
}

impl<W: Write> Write for MessageStream<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        for piece in bytes.split_inclusive(|byte| *byte == b'\n') {
            match piece.strip_suffix(b"\n") {
                Some(end) => {
                    self.line.extend_from_slice(end);
                    self.end_line()?;
                    self.stream.write_all(b"\n")?;
                }
                None => self.line.extend_from_slice(piece),
            }
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.end_line()?;
        self.stream.flush()
    }
}

impl<W: Write> Drop for MessageStream<W> {
    fn drop(&mut self) {
        // Nobody is left to be told of an error.
        let _ = self.flush();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_are_broken_between_words_and_nothing_else_is() {
        let check = |parts: &[&str], expected: &str| {
            let mut written = Vec::new();
            let mut stream = MessageStream::new(&mut written, 20);
            for part in parts {
                stream.write_all(part.as_bytes()).unwrap();
            }
            drop(stream);
            assert_eq!(String::from_utf8(written).unwrap(), expected);
        };
        let wrapped = "note: the boats are\nout on the lake\nnote: so\n";
        check(
            &["note: the boats ", "are out on the lake\nnote: ", "so\n"],
            wrapped,
        );
        let quoted = "  12 | C4 D4 E4 F4 G4 A4 B4 C5\n     |             ^\n";
        check(&[quoted], quoted);
        check(
            &["\rbar 3 of 120, a minute left"],
            "\rbar 3 of 120, a minute left",
        );
    }
}
