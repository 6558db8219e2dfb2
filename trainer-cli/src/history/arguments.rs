//! How version 1 of the history stored the request for a tune: as arguments, one on each line.

use std::str::FromStr;

use fretlib::melody::Quarters;

use crate::request::TuneOnInstrument;

/// Reads the arguments of version 1; `None` when one of them is not understood.
///
/// These are the options of the first version of the program. They stay unchanged here, even if the program's options
/// change.
pub(super) fn read(lines: &str) -> Option<TuneOnInstrument> {
    let mut request = TuneOnInstrument::default();
    let TuneOnInstrument { tune, instrument } = &mut request;
    for line in lines.lines() {
        let Some((name, value)) = line.strip_prefix("--").and_then(|it| it.split_once('=')) else {
            tune.source = Some(line.to_owned());
            continue;
        };
        match name {
            "tune" => tune.number = Some(parsed(value)?),
            "voice" => tune.voice = Some(value.to_owned()),
            "part" => tune.part = Some(value.to_owned()),
            "track" => tune.track = Some(value.to_owned()),
            "grid" => tune.grid = Some(parsed::<Quarters>(value)? * 4),
            "octave-shift" => tune.octave_shift = Some(parsed(value)?),
            "key" => tune.key = Some(value.to_owned()),
            "transpose" => tune.transpose = Some(parsed(value)?),
            "to-key" => tune.to_key = Some(parsed(value)?),
            "instrument" => instrument.instrument = Some(value.to_owned()),
            "tuning" => instrument.tuning = Some(value.to_owned()),
            "frets" => instrument.frets = Some(parsed(value)?),
            "capo" => instrument.capo = Some(parsed(value)?),
            _ => return None,
        }
    }
    Some(request)
}

fn parsed<T: FromStr>(value: &str) -> Option<T> {
    value.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arguments_of_version_1_are_what_a_request_is_typed_as() {
        let cases: [&[&str]; 5] = [
            &[],
            &["oars-in-three", "--key=estimate", "--transpose=-m3"],
            &["oars-in-three", "--tune=2", "--voice=V1", "--to-key=Ab"],
            &[
                "my tunes/tune=1.abc",
                "--part=Flute",
                "--instrument=ukulele",
            ],
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
            let request = read(&typed.join("\n")).unwrap();
            assert_eq!(request.as_typed(), typed);
        }
        for line in ["--grid=x", "--frets=many", "--unheard-of=1"] {
            assert_eq!(read(line), None, "{line}");
        }
    }
}
