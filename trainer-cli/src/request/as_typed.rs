//! A request as it would be typed: what a player can copy into a shell.

use fretlib::melody::Quarters;

use super::TuneOnInstrument;

impl TuneOnInstrument {
    /// The arguments that open this tune on this instrument.
    pub fn as_typed(&self) -> Vec<String> {
        let TuneOnInstrument { tune, instrument } = self;
        let mut arguments: Vec<String> = Vec::new();
        if let Some(name) = &tune.source {
            arguments.push(name.clone());
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
}
