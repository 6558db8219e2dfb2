//! Reads a tune in any of the formats and says what it is.
//!
//!     cargo run -p fretlib --all-features --example read_any_format -- tests/data/abc/northumbrian_12_6e53ff2d.abc
#![allow(
    clippy::disallowed_methods,
    reason = "an example is a program of its own and may read files"
)]

use std::error::Error;

use fretlib::format::{Format, Reading, abc, detect, midi, musicxml, tune_ron};

fn read(bytes: &[u8]) -> Result<Reading, Box<dyn Error>> {
    let reading = match detect(bytes).ok_or("the file is in no format that can be read")? {
        Format::TuneRon => tune_ron::read(bytes)?,
        Format::Abc => abc::read(bytes, &abc::AbcOptions::default())?,
        Format::MusicXml | Format::CompressedMusicXml => {
            musicxml::read(bytes, &musicxml::MusicXmlOptions::default())?
        }
        Format::Midi => midi::read(bytes, &midi::MidiOptions::default())?,
    };
    Ok(reading)
}

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args()
        .nth(1)
        .ok_or("name a file with a tune in it")?;
    let Reading { melody, warnings } = read(&std::fs::read(path)?)?;
    let (lowest, highest) = melody.range();
    let key = melody
        .keys()
        .first()
        .map_or("no key".to_owned(), ToString::to_string);
    println!(
        "{}: {key}, {} notes from {lowest} to {highest}",
        melody.title(),
        melody.notes().len()
    );
    for warning in warnings {
        println!("note: {warning}");
    }
    Ok(())
}
