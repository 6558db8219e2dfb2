//! Note values: how long a note lasts.

use crate::error::{OutOfRange, ParseError};
use crate::melody::{Melody, Meter, NoteValue, Quarters, Tempo};

/// Whether a word looks like a value, valid or not.
pub(super) fn is_value(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, 'w' | 'h' | 'q' | 'e' | 's' | 't'))
}

/// A duration in whole notes, the unit in which meters are written.
pub(super) fn wholes(quarters: Quarters) -> Quarters {
    quarters / Quarters::from(4)
}

/// Adds two values; `None` when the sum is finer than a melody can hold.
pub(super) fn sum(one: Quarters, other: Quarters) -> Option<Quarters> {
    within_limits(one.checked_add(other)?)
}

fn within_limits(value: Quarters) -> Option<Quarters> {
    (value.denom() <= Melody::FINEST && value <= Quarters::from(Melody::LONGEST)).then_some(value)
}

/// Reads a tempo: `104` quarter notes a minute, or another value, `q. = 70`.
pub(super) fn parse_tempo(text: &str) -> Result<Tempo, ParseError> {
    let unreadable = || {
        ParseError::unreadable(
            text,
            "a tempo such as 104 (quarter notes a minute) or q. = 70",
        )
    };
    let (beat, count) = match text.split_once('=') {
        Some((beat, count)) => (
            NoteValue::read_duration(beat.trim()).map_err(|_| unreadable())?,
            count.trim(),
        ),
        None => (Quarters::from(1), text.trim()),
    };
    let count = count.parse().map_err(|_| unreadable())?;
    Ok(Tempo::new(beat, count)?)
}

/// Quarter notes a minute from a RON number, to a thousandth.
pub(super) fn tempo_of_number(quarters_per_minute: f64) -> Result<Tempo, OutOfRange> {
    // A cast of a float saturates at the limits of the integer, which are out of range.
    let thousandths = (quarters_per_minute * 1000.0).round() as i64;
    Tempo::new(Quarters::from(1), Quarters::new(thousandths, 1000))
}

/// Writes a tempo so that [`parse_tempo`] reads it.
pub(super) fn write_tempo(tempo: Tempo) -> String {
    let count = tempo.quarters_per_minute();
    if count.is_integer() {
        count.to_string()
    } else {
        format!("q = {count}")
    }
}

/// Reads a meter or `free`.
pub(super) fn parse_meter(text: &str) -> Result<Option<Meter>, ParseError> {
    match text {
        "free" => Ok(None),
        _ => text.parse().map(Some),
    }
}

/// Writes a meter so that [`parse_meter`] reads it.
pub(super) fn write_meter(meter: Option<Meter>) -> String {
    meter.map_or_else(|| "free".to_owned(), |meter| meter.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tempos_are_read_and_written() {
        let cases = [
            ("104", 104, 1, "104"),
            ("92.5", 185, 2, "q = 185/2"),
            ("q. = 70", 105, 1, "105"),
            ("h=60", 120, 1, "120"),
            ("e = 61", 61, 2, "q = 61/2"),
        ];
        for (text, numer, denom, written) in cases {
            let tempo = parse_tempo(text).unwrap();
            assert_eq!(tempo.quarters_per_minute(), Quarters::new(numer, denom));
            assert_eq!(write_tempo(tempo), written);
            assert_eq!(parse_tempo(written), Ok(tempo));
        }
        for text in [
            "",
            "fast",
            "-3",
            "0",
            "1001",
            "q = ",
            "= 60",
            "w = 9223372036854775807",
            "1.2345678",
        ] {
            assert!(parse_tempo(text).is_err(), "{text}");
        }
        for number in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300] {
            assert!(tempo_of_number(number).is_err());
        }
    }
}
