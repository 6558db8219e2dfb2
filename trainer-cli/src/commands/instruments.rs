//! `neckline instruments`: the built-in instruments.

use std::io::Write;

use fretlib::neck::Instrument;

use crate::failure::Failure;
use crate::terminal::Streams;

/// Prints a line for each instrument: name, open strings as written from the lowest, frets, scale length, how it sounds.
pub fn run(streams: &mut Streams) -> Result<(), Failure> {
    let all = Instrument::all_built_in();
    let strings = |it: &Instrument| {
        let names: Vec<String> = it.strings().iter().rev().map(ToString::to_string).collect();
        names.join(" ")
    };
    let name_width = all.iter().map(|it| it.name().len()).max().unwrap_or(0);
    let strings_width = all.iter().map(|it| strings(it).len()).max().unwrap_or(0);
    let out = &mut streams.stdout;
    writeln!(
        out,
        "{:name_width$}  {:strings_width$}  frets  scale (mm)  sounds",
        "instrument", "open strings, as written"
    )?;
    for it in all {
        let sounds = match it.sounding().semitones() {
            0 => "as written".to_owned(),
            _ => it.sounding().to_string(),
        };
        writeln!(
            out,
            "{:name_width$}  {:strings_width$}  {:>5}  {:>10}  {sounds}",
            it.name(),
            strings(it),
            it.frets(),
            it.scale_length(),
        )?;
    }
    Ok(())
}
