//! Lines of text in spans with roles; the printer chooses colours by role.

use std::fmt;

/// The role of a span. No meaning is carried by the role alone: the text has its own mark.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Role {
    /// Plain text.
    #[default]
    Plain,
    /// A title or the head of a table.
    Heading,
    /// Scaffolding: strings, bar lines, fret numbers.
    Faint,
    /// The tonic.
    Tonic,
    /// A note outside the scale.
    Outside,
    /// A raised sixth or seventh of a minor key.
    Raised,
    /// A right answer.
    Right,
    /// A wrong answer.
    Wrong,
}

/// Part of a line.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct StyledSpan {
    /// The text.
    pub text: String,
    /// Its role.
    pub role: Role,
}

/// One line.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct StyledLine {
    // Invariant: no span is empty; neighbours differ in role.
    spans: Vec<StyledSpan>,
    length: usize,
}

impl StyledLine {
    /// Adds text at the end.
    pub fn push(&mut self, text: &str, role: Role) {
        self.length += text.chars().count();
        match self.spans.last_mut() {
            _ if text.is_empty() => {}
            Some(last) if last.role == role => last.text.push_str(text),
            _ => self.spans.push(StyledSpan {
                text: text.into(),
                role,
            }),
        }
    }

    /// Adds `text` until the line is `column` characters long.
    pub fn fill_to(&mut self, column: usize, text: &str, role: Role) {
        let missing = column.saturating_sub(self.length);
        self.push(&text.repeat(missing), role);
    }

    /// The number of characters.
    pub fn length(&self) -> usize {
        self.length
    }

    /// The spans.
    pub fn spans(&self) -> &[StyledSpan] {
        &self.spans
    }

    fn trim_end(&mut self) {
        while let Some(last) = self.spans.last_mut() {
            let kept = last.text.trim_end().len();
            self.length -= last.text[kept..].chars().count();
            last.text.truncate(kept);
            if kept > 0 {
                return;
            }
            self.spans.pop();
        }
    }
}

impl From<&str> for StyledLine {
    fn from(text: &str) -> StyledLine {
        let mut line = StyledLine::default();
        line.push(text, Role::Plain);
        line
    }
}

/// Lines of text with roles.
///
/// ```
/// use fretlib::text::{StyledLine, Role, StyledText};
///
/// let mut line = StyledLine::default();
/// line.push("Jetty at Dusk", Role::Heading);
/// let mut text = StyledText::default();
/// text.push(line);
/// assert_eq!(text.to_string(), "Jetty at Dusk\n");
/// ```
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct StyledText {
    lines: Vec<StyledLine>,
}

impl StyledText {
    /// Adds a line, without the white space at its end.
    pub fn push(&mut self, line: impl Into<StyledLine>) {
        let mut line = line.into();
        line.trim_end();
        self.lines.push(line);
    }

    /// The same text with this many spaces before each line.
    pub fn indented(self, columns: usize) -> StyledText {
        let mut text = StyledText::default();
        for line in self.lines {
            let mut indented = StyledLine::from(" ".repeat(columns).as_str());
            for span in line.spans() {
                indented.push(&span.text, span.role);
            }
            text.push(indented);
        }
        text
    }

    /// Adds all lines of another text.
    pub fn append(&mut self, other: StyledText) {
        self.lines.extend(other.lines);
    }

    /// The lines.
    pub fn lines(&self) -> &[StyledLine] {
        &self.lines
    }
}

impl fmt::Display for StyledText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for line in &self.lines {
            for span in &line.spans {
                f.write_str(&span.text)?;
            }
            f.write_str("\n")?;
        }
        Ok(())
    }
}
