//! The score for the script in the page: what sounds, in seconds.

use std::fmt::{self, Write};

use super::page::Sheet;
use crate::sound::{Layer, Manner, Performance, StringMaterial, play_through};
use crate::theory::Octave;

/// The melody of a sheet in its playing order, at its own tempo and with its own feel, as JSON: `notes`, each with its
/// number, start and end in seconds, frequency in hertz and decay in dB a second; `chords`, each pluck with the same but the
/// number; `clicks`, each with its time and whether it is accented; the strength of chords, the gain of all; and what the
/// tempo counts, in words. `None` when it is too long to be played.
pub(super) fn score(sheet: &Sheet<'_>) -> Option<String> {
    let places: Vec<_> = sheet
        .tune
        .places
        .iter()
        .map(|place| place.map(|it| it.place))
        .collect();
    let manner = Manner::of(sheet.tune.melody);
    let played = play_through(
        sheet.tune.melody,
        &places,
        Octave::WRITTEN,
        sheet.tune.instrument,
        &manner,
    )
    .ok()?;
    let nylon = StringMaterial::of(sheet.tune.instrument) == StringMaterial::Nylon;
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write_score(&mut out, &played.performance, nylon, sheet);
    Some(out)
}

fn write_score(
    out: &mut String,
    performance: &Performance,
    nylon: bool,
    sheet: &Sheet<'_>,
) -> fmt::Result {
    let tempo = sheet.tune.melody.first_tempo();
    write!(
        out,
        "{{\"nylon\":{nylon},\"seconds\":{:.6},\"gain\":{:.4},\"count\":{},\"unit\":\"{}\",\"notes\":[",
        performance.seconds(),
        performance.gain(),
        tempo.count().to_f64(),
        tempo.unit_in_words(),
    )?;
    let of_layer = |layer| performance.plucks().filter(move |it| it.layer == layer);
    for (index, pluck) in of_layer(Layer::Melody).enumerate() {
        let comma = if index > 0 { "," } else { "" };
        // Notes on the page are counted from 1.
        let number = pluck.note.map_or(0, |note| note + 1);
        let (frequency, decay) = (pluck.tone.frequency(), pluck.tone.decay());
        write!(
            out,
            "{comma}[{number},{:.6},{:.6},{frequency:.4},{decay:.4}]",
            pluck.start, pluck.end
        )?;
    }
    let strength = of_layer(Layer::Chords).next();
    let strength = strength.map_or(0.0, |pluck| pluck.strength.amplitude());
    write!(out, "],\"strength\":{strength:.4},\"chords\":[")?;
    for (index, pluck) in of_layer(Layer::Chords).enumerate() {
        let comma = if index > 0 { "," } else { "" };
        let (frequency, decay) = (pluck.tone.frequency(), pluck.tone.decay());
        write!(
            out,
            "{comma}[{:.6},{:.6},{frequency:.4},{decay:.4}]",
            pluck.start, pluck.end
        )?;
    }
    out.push_str("],\"clicks\":[");
    for (index, click) in performance.clicks().iter().enumerate() {
        let comma = if index > 0 { "," } else { "" };
        write!(out, "{comma}[{:.6},{}]", click.at, click.accent)?;
    }
    out.push_str("]}");
    Ok(())
}
