//! From a request to an instrument.

use fretlib::format::instrument_ron;
use fretlib::neck::{Instrument, InstrumentSpec};

use super::read_text;
use crate::failure::Failure;
use crate::report::did_you_mean::nearest;
use crate::request::InstrumentRequest;

impl InstrumentRequest {
    /// The instrument it describes.
    pub fn open(&self) -> Result<Instrument, Failure> {
        let mut instrument = match &self.instrument {
            None => Instrument::default(),
            Some(name) => named(name)?,
        };
        if let Some(tuning) = &self.tuning {
            instrument = instrument.tuned(tuning).map_err(|error| {
                Failure::usage(
                    format!("the tuning `{tuning}` cannot be: {error}"),
                    "name the open strings from the lowest, as in `--tuning \"D A D G B E\"`",
                )
            })?;
        }
        if self.frets.is_none() && self.capo.is_none() {
            return Ok(instrument);
        }
        let build = InstrumentSpec {
            frets: self.frets.unwrap_or(instrument.frets()),
            capo: self.capo.unwrap_or(instrument.capo()),
            ..instrument.build().clone()
        };
        Instrument::new(build).map_err(|error| {
            Failure::usage(
                error.to_string(),
                "see `--frets` and `--capo`, or leave them out",
            )
        })
    }
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
