//! Note values: how long a note lasts.

use crate::error::{OutOfRange, ParseError};
use crate::melody::{Melody, Meter, Quarters, Tempo};

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

/// Quarter notes a minute from a RON number, to a thousandth.
pub(super) fn tempo_of_number(quarters_per_minute: f64) -> Result<Tempo, OutOfRange> {
    // A cast of a float saturates at the limits of the integer, which are out of range.
    let thousandths = (quarters_per_minute * 1000.0).round() as i64;
    Tempo::new(Quarters::from(1), Quarters::new(thousandths, 1000))
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
    fn numbers_that_are_no_tempo_are_refused() {
        for number in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300] {
            assert!(tempo_of_number(number).is_err());
        }
    }
}
