//! From options to an instrument.

use fretlib::format::instrument_ron;
use fretlib::neck::{Instrument, InstrumentSpec};

use crate::args::InstrumentArgs;
use crate::failure::Failure;
use crate::tune::read_text;

/// The instrument the options describe.
pub fn instrument(args: &InstrumentArgs) -> Result<Instrument, Failure> {
    let mut instrument = match &args.instrument {
        None => Instrument::default(),
        Some(name) => named(name)?,
    };
    if let Some(tuning) = &args.tuning {
        instrument = instrument.tuned(tuning).map_err(|error| {
            Failure::usage(
                format!("the tuning `{tuning}` cannot be: {error}"),
                "name the open strings from the lowest, as in `--tuning \"D A D G B E\"`",
            )
        })?;
    }
    if args.frets.is_none() && args.capo.is_none() {
        return Ok(instrument);
    }
    let build = InstrumentSpec {
        frets: args.frets.unwrap_or(instrument.frets()),
        capo: args.capo.unwrap_or(instrument.capo()),
        ..instrument.build().clone()
    };
    Instrument::new(build).map_err(|error| {
        Failure::usage(
            error.to_string(),
            "see `--frets` and `--capo`, or leave them out",
        )
    })
}

fn named(name: &str) -> Result<Instrument, Failure> {
    if let Some(instrument) = Instrument::built_in(name) {
        return Ok(instrument.clone());
    }
    if !std::path::Path::new(name).exists() {
        let all = Instrument::all_built_in().iter().map(Instrument::name);
        let hint = match nearest(name, all) {
            Some(near) => format!("did you mean `{near}`? `neckline instruments` lists them all"),
            None => {
                "`neckline instruments` lists the built-in ones; a file may describe another".into()
            }
        };
        return Err(Failure::usage(
            format!("there is no instrument and no file called `{name}`"),
            hint,
        ));
    }
    read_text(name, instrument_ron::read)
}

/// The name most like `typed`, when one is like it at all: at most a third of the letters differ.
pub fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let typed = typed.to_lowercase();
    names
        .map(|name| {
            (
                strsim::damerau_levenshtein(&typed, &name.to_lowercase()),
                name,
            )
        })
        .min_by_key(|(edits, _)| *edits)
        .filter(|(edits, name)| 3 * edits <= name.chars().count().max(3))
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_key_finds_the_name_meant() {
        let names = || ["guitar", "ukulele", "mandolin"].into_iter();
        assert_eq!(nearest("ukelele", names()), Some("ukulele"));
        assert_eq!(nearest("Guitra", names()), Some("guitar"));
        assert_eq!(nearest("harp", names()), None);
    }
}
