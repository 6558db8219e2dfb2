//! The score for the script in the page: its notes in seconds.

use std::fmt::Write;

use super::page::Sheet;
use crate::sound::{Layer, Manner, StringMaterial, play_through};
use crate::theory::Octave;

/// The melody of a sheet in its playing order, as JSON: number, start and end in seconds, frequency in hertz and decay
/// in dB a second of each note. `None` when it is too long to be played.
pub(super) fn score(sheet: &Sheet<'_>) -> Option<String> {
    let places: Vec<_> = sheet
        .places
        .iter()
        .map(|place| place.map(|it| it.place))
        .collect();
    let manner = Manner::default();
    let played = play_through(
        sheet.melody,
        &places,
        Octave::WRITTEN,
        sheet.instrument,
        &manner,
    )
    .ok()?;
    let nylon = StringMaterial::of(sheet.instrument) == StringMaterial::Nylon;
    let seconds = played.performance.seconds();
    let mut out = format!("{{\"nylon\":{nylon},\"seconds\":{seconds:.6},\"notes\":[");
    let plucks = played.performance.plucks();
    let melody = plucks.filter(|pluck| pluck.layer == Layer::Melody);
    for (index, pluck) in melody.enumerate() {
        let comma = if index > 0 { "," } else { "" };
        // Notes on the page are counted from 1.
        let number = pluck.note.map_or(0, |note| note + 1);
        let (frequency, decay) = (pluck.tone.frequency(), pluck.tone.decay());
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            "{comma}[{number},{:.6},{:.6},{frequency:.4},{decay:.4}]",
            pluck.start, pluck.end
        );
    }
    out.push_str("]}");
    Some(out)
}
