//! An instrument in JSON: the same keys in every document.

use fretlib::neck::Instrument;
use serde::Serialize;

/// The data of an instrument; string 1 first.
#[derive(Serialize)]
pub struct InstrumentJson {
    name: String,
    strings: Vec<String>,
    frets: u8,
    capo: u8,
}

impl From<&Instrument> for InstrumentJson {
    fn from(it: &Instrument) -> InstrumentJson {
        InstrumentJson {
            name: it.name().to_owned(),
            strings: it.strings().iter().map(ToString::to_string).collect(),
            frets: it.frets(),
            capo: it.capo(),
        }
    }
}
