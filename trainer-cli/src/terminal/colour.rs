//! Roles to colours.

use std::io;

use fretlib::text::{Role, StyledText};
use owo_colors::OwoColorize;

use super::Streams;

/// Writes text, coloured by role where the stream takes colour.
///
/// Only the sixteen colours of the terminal, so that the player's own theme holds; what a colour says, a mark says too.
pub fn write(streams: &mut Streams, text: &StyledText) -> io::Result<()> {
    let color = streams.color;
    let out = &mut streams.stdout;
    for line in text.lines() {
        for span in line.spans() {
            if !color {
                write!(out, "{}", span.text)?;
                continue;
            }
            match span.role {
                Role::Plain => write!(out, "{}", span.text)?,
                Role::Heading => write!(out, "{}", span.text.bold())?,
                Role::Faint => write!(out, "{}", span.text.dimmed())?,
                Role::Tonic => write!(out, "{}", span.text.green().bold())?,
                Role::Outside => write!(out, "{}", span.text.magenta().bold())?,
                Role::Raised => write!(out, "{}", span.text.cyan())?,
                Role::Right => write!(out, "{}", span.text.green())?,
                Role::Wrong => write!(out, "{}", span.text.red())?,
            }
        }
        writeln!(out)?;
    }
    Ok(())
}
