//! Roles to colours.

use std::io::{self, Write};

use fretlib::text::{Role, StyledText};
use owo_colors::Style;

use super::Streams;

/// Writes text, coloured by role if the stream takes colour.
///
/// Only the sixteen colours of the terminal are used, so that the player's theme holds; marks carry the same meaning.
pub fn write(streams: &mut Streams, text: &StyledText) -> io::Result<()> {
    for line in text.lines() {
        for span in line.spans() {
            if streams.color {
                streams.stdout.styled(style_of(span.role), &span.text)?;
            } else {
                write!(streams.stdout, "{}", span.text)?;
            }
        }
        writeln!(streams.stdout)?;
    }
    Ok(())
}

fn style_of(role: Role) -> Style {
    let plain = Style::new();
    match role {
        // Dimmed text can hardly be read on a light background, nor can cyan: these stand out by a mark alone.
        Role::Plain | Role::Faint => plain,
        // A word in green is faint there too.
        Role::Heading | Role::Right => plain.bold(),
        Role::Tonic => plain.green().bold(),
        Role::Outside => plain.magenta().bold(),
        Role::Raised => plain.underline(),
        Role::Wrong => plain.red(),
    }
}
