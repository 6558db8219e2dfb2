//! JSON on standard output.

use std::io::{self, Write};

use serde::Serialize;

use crate::failure::Failure;
use crate::terminal::Streams;

/// Prints a document as one line of JSON.
pub fn write_json(streams: &mut Streams, document: &impl Serialize) -> Result<(), Failure> {
    serde_json::to_writer(&mut streams.stdout, document).map_err(io::Error::from)?;
    writeln!(streams.stdout)?;
    Ok(())
}
