//! Note values: how long a note lasts.

use crate::error::{OutOfRange, ParseError};
use crate::melody::{Melody, Meter, Quarters, Tempo};

/// The letters of the note values, each half of the one before; the first is a whole note.
const LETTERS: [char; 6] = ['w', 'h', 'q', 'e', 's', 't'];

/// Whether a word stands in the place of a value, readable or not.
pub(super) fn is_value(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit() || LETTERS.contains(&c))
}

/// Reads a value: `q`, `h.`, `e3`, `3/16`.
pub(super) fn parse(word: &str) -> Result<Quarters, ParseError> {
    let unreadable =
        || ParseError::unreadable(word, "a note value such as q, h., e3 (a triplet) or 3/16");
    let letter = LETTERS.iter().position(|letter| word.starts_with(*letter));
    let quarters = match letter {
        Some(halvings) => {
            let rest = &word[1..];
            let undotted = rest.trim_end_matches('.');
            let dots = rest.len() - undotted.len();
            if dots > 3 {
                return Err(unreadable());
            }
            let (count, time) = match undotted {
                "" => (1, 1),
                digits => {
                    let count = whole_number(digits).ok_or_else(unreadable)?;
                    if !(3..=63).contains(&count) || (count as u64).is_power_of_two() {
                        return Err(unreadable());
                    }
                    (count, 1 << count.ilog2())
                }
            };
            // Each dot adds half of what the one before added: 1, 3/2, 7/4, 15/8.
            Quarters::new(4 * ((2 << dots) - 1), (1 << dots) * (1 << halvings))
                * Quarters::new(time, count)
        }
        None => word
            .parse::<Quarters>()
            .ok()
            .filter(|_| word.contains('/'))
            .and_then(|wholes| wholes.checked_mul(Quarters::from(4)))
            .filter(|quarters| quarters.is_positive())
            .ok_or_else(unreadable)?,
    };
    within_limits(quarters).ok_or_else(unreadable)
}

/// Writes a value as a word that [`parse`] reads.
pub(super) fn write(value: Quarters) -> String {
    for (halvings, letter) in LETTERS.iter().enumerate() {
        let plain = Quarters::new(4, 1 << halvings);
        for dots in 0..3 {
            if value == plain * Quarters::new((2 << dots) - 1, 1 << dots) {
                return format!("{letter}{}", ".".repeat(dots));
            }
        }
        for (count, time) in [(3, 2), (5, 4), (7, 4)] {
            if value == plain * Quarters::new(time, count) {
                return format!("{letter}{count}");
            }
        }
    }
    let wholes = wholes(value);
    format!("{}/{}", wholes.numer(), wholes.denom())
}

/// A duration in whole notes, the unit in which meters are written.
pub(super) fn wholes(quarters: Quarters) -> Quarters {
    quarters / Quarters::from(4)
}

/// Adds two values; `None` when the sum is not on a grid that a melody can have.
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
        Some((beat, count)) => (parse(beat.trim()).map_err(|_| unreadable())?, count.trim()),
        None => (Quarters::from(1), text.trim()),
    };
    let count = count.parse().map_err(|_| unreadable())?;
    Ok(Tempo::new(beat, count)?)
}

/// Quarter notes a minute as RON numbers have them, told to a thousandth.
pub(super) fn tempo_of_number(quarters_per_minute: f64) -> Result<Tempo, OutOfRange> {
    // A cast of a float ends at the limits of the integer, and those are out of range.
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

fn whole_number(digits: &str) -> Option<i64> {
    // i64 would also read a sign.
    let is_digits = digits.bytes().all(|byte| byte.is_ascii_digit());
    digits.parse().ok().filter(|_| is_digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_read_and_written() {
        let cases = [
            ("w", 4, 1),
            ("h", 2, 1),
            ("q", 1, 1),
            ("e", 1, 2),
            ("s", 1, 4),
            ("t", 1, 8),
            ("h.", 3, 1),
            ("q.", 3, 2),
            ("q..", 7, 4),
            ("e3", 1, 3),
            ("q3", 2, 3),
            ("s5", 1, 5), // five in the time of four sixteenths, which is a quarter
            ("e7", 2, 7),
            ("5/8", 5, 2),
            ("1/36", 1, 9),
            ("3/1", 12, 1),
        ];
        for (word, numer, denom) in cases {
            let value = Quarters::new(numer, denom);
            assert_eq!(parse(word), Ok(value), "{word}");
            assert_eq!(write(value), word);
        }
        // These have a shorter name.
        for (word, name) in [
            ("e6", "e3"),
            ("q3.", "q"),
            ("1/4", "q"),
            ("2/12", "q3"),
            ("h...", "15/16"),
        ] {
            assert_eq!(write(parse(word).unwrap()), name, "{word}");
        }
    }

    #[test]
    fn what_is_no_value_is_refused() {
        for word in [
            "",
            "z",
            "qq",
            "q-",
            "q....",
            "e2",
            "e4",
            "e1",
            "e0",
            "e99",
            "q3x",
            "4",
            "0/4",
            "1/0",
            "1/-4",
            "+1/4",
            "1/4/4",
            "1/9999999999",
            "9999999999999999999/1",
            "9000000000000000000/1",
        ] {
            assert!(parse(word).is_err(), "{word}");
        }
    }

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
