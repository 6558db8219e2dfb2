//! What opens a tune again that was drilled before.

use clap::Parser;
use fretlib::melody::Quarters;

use super::{Part, deck};
use crate::args::{InstrumentArgs, TuneArgs};
use crate::failure::Failure;
use crate::history::TuneEntry;
use crate::session::Deck;
use crate::streams::Streams;

/// The arguments that open a tune on an instrument, as the history keeps them.
#[derive(Debug, Parser)]
#[command(name = "neckline", no_binary_name = true)]
struct Opening {
    #[command(flatten)]
    tune: TuneArgs,
    #[command(flatten)]
    instrument: InstrumentArgs,
}

/// Opens a tune of the history on its instrument again.
pub fn reopen(entry: &TuneEntry, streams: &mut Streams) -> Result<Deck, Failure> {
    let opening = Opening::try_parse_from(&entry.arguments)
        .ok()
        .filter(|opening| opening.tune.tune.as_deref() != Some("-"))
        .ok_or_else(|| {
            Failure::could_not(
                "it can no longer be opened",
                "drill it once from its file to put it on record again",
            )
        })?;
    deck(
        &opening.tune,
        &opening.instrument,
        &Part::default(),
        streams,
    )
}

/// What opens this tune on this instrument again, as it would be typed.
pub(super) fn arguments(tune: &TuneArgs, instrument: &InstrumentArgs) -> Vec<String> {
    let mut arguments: Vec<String> = Vec::new();
    if let Some(name) = &tune.tune {
        // A file is found again from any folder.
        let path = std::path::absolute(name).ok().filter(|path| path.is_file());
        let is_built_in = crate::tune::built_in(name).is_some();
        arguments.push(match path {
            Some(path) if !is_built_in => path.to_string_lossy().into_owned(),
            _ => name.clone(),
        });
    }
    let mut option = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            arguments.push(format!("--{name}={value}"));
        }
    };
    option("tune", tune.number.map(|number| number.to_string()));
    option("voice", tune.voice.clone());
    option("part", tune.part.clone());
    option("track", tune.track.clone());
    let grid = tune.grid.map(|grid| Quarters::from(1) / (grid / 4));
    option("grid", grid.map(|parts| format!("1/{parts}")));
    option(
        "octave-shift",
        tune.octave_shift.map(|octaves| octaves.to_string()),
    );
    option("key", tune.key.clone());
    option(
        "transpose",
        tune.transpose.map(|interval| interval.to_string()),
    );
    option("to-key", tune.to_key.map(|tonic| tonic.to_string()));
    option("instrument", instrument.instrument.clone());
    option("tuning", instrument.tuning.clone());
    option("frets", instrument.frets.map(|frets| frets.to_string()));
    option("capo", instrument.capo.map(|capo| capo.to_string()));
    arguments
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_that_chose_the_tune_is_kept() {
        let cases: [&[&str]; 5] = [
            &[],
            &["oars-in-three", "--transpose=-m3", "--key=estimate"],
            &["oars-in-three", "--to-key=Ab", "--tune=2", "--voice=V1"],
            &["oars-in-three", "--part=Flute", "--instrument=ukulele"],
            &[
                "oars-in-three",
                "--track=2",
                "--grid=1/12",
                "--octave-shift=-1",
                "--tuning=D A D G B E",
                "--frets=19",
                "--capo=2",
            ],
        ];
        for typed in cases {
            let first = Opening::try_parse_from(typed).unwrap();
            let again = arguments(&first.tune, &first.instrument);
            let second = Opening::try_parse_from(again).unwrap();
            assert_eq!(format!("{first:?}"), format!("{second:?}"), "{typed:?}");
        }
    }
}
