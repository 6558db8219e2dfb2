//! Tempos, in the note value they are counted in.

use std::fmt;
use std::str::FromStr;

use super::Quarters;
use super::meter::Meter;
use super::note_value::NoteValue;
use crate::error::{OutOfRange, ParseError, check_range};

/// A tempo: a note value, and how many of it per minute.
///
/// Two tempos of one speed that count in different values are not equal: a jig is counted in dotted quarters.
///
/// ```
/// use fretlib::melody::{Quarters, Tempo};
///
/// let jig: Tempo = "q. = 120".parse()?;
/// assert_eq!(jig.unit(), Quarters::new(3, 2));
/// assert_eq!(jig.quarters_per_minute(), Quarters::from(180));
/// assert_eq!(jig.to_string(), "q. = 120");
/// assert_eq!("104".parse::<Tempo>()?.to_string(), "q = 104"); // quarter notes where nothing else is said
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Tempo {
    // Invariant: both are positive, and make at most 1000 quarter notes a minute.
    unit: Quarters,
    count: Quarters,
}

impl Tempo {
    /// Assumed when a tune declares no tempo: 120 quarter notes a minute.
    pub const DEFAULT: Tempo = Tempo {
        unit: Quarters::from_integer(1),
        count: Quarters::from_integer(120),
    };

    /// `count` notes of length `unit` to the minute.
    ///
    /// # Errors
    ///
    /// When that is not between 1 and 1000 quarter notes a minute.
    pub fn new(unit: Quarters, count: Quarters) -> Result<Tempo, OutOfRange> {
        let quarters = match unit.is_positive() {
            true => unit.checked_mul(count).unwrap_or(Quarters::from(i64::MAX)),
            false => Quarters::ZERO,
        };
        // Rounded up, so that anything above the limit is out of range; the numerator is positive where it matters.
        let whole = match quarters.numer() {
            numer @ 1.. => (numer - 1) / quarters.denom() + 1,
            _ => 0,
        };
        check_range("quarter notes a minute", whole, 1, 1000)?;
        Ok(Tempo { unit, count })
    }

    /// The note value that is counted.
    pub fn unit(self) -> Quarters {
        self.unit
    }

    /// How many of its unit there are in a minute.
    pub fn count(self) -> Quarters {
        self.count
    }

    /// Quarter notes a minute.
    pub fn quarters_per_minute(self) -> Quarters {
        self.unit * self.count
    }

    /// The same speed, counted in another note value; itself when `unit` is no length or nothing that can be told exactly.
    #[must_use]
    pub fn counted_in(self, unit: Quarters) -> Tempo {
        let count = unit
            .is_positive()
            .then(|| self.quarters_per_minute().checked_div(unit))
            .flatten();
        count.map_or(self, |count| Tempo { unit, count })
    }

    /// What is counted, for people: `dotted quarter notes`.
    pub fn unit_in_words(self) -> String {
        match NoteValue::of(self.unit) {
            Some(value) => format!("{}s", value.name()),
            None => format!("beats of {} quarter notes", self.unit),
        }
    }

    /// Seconds that a duration lasts.
    pub fn seconds(self, duration: Quarters) -> f64 {
        60.0 * duration.to_f64() / self.quarters_per_minute().to_f64()
    }

    /// The beat that is clicked in a meter: the unit of the tempo where it goes into the bar and with the felt beat, and
    /// is no shorter than what the meter counts; else the felt beat.
    ///
    /// So 4/4 in half notes is clicked in two and a slow 6/8 in eighths in six; a tempo of a 6/8 in quarter notes, as programs
    /// write it, is clicked in two.
    pub fn beat_in(self, meter: Meter) -> Quarters {
        let goes_into = |short: Quarters, long: Quarters| (long / short).is_integer();
        let (unit, felt) = (self.unit, meter.beat());
        let is_counted = unit >= meter.unit_length()
            && goes_into(unit, meter.bar_length())
            && (goes_into(unit, felt) || goes_into(felt, unit));
        if is_counted { unit } else { felt }
    }
}

impl fmt::Display for Tempo {
    /// As it is read: `q. = 120`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = NoteValue::write_duration(self.unit);
        write!(f, "{unit} = {}", self.count)
    }
}

impl FromStr for Tempo {
    type Err = ParseError;

    /// Reads `104`, which are quarter notes a minute, or another value, `q. = 70`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || {
            ParseError::unreadable(
                text,
                "a tempo such as 104 (quarter notes a minute) or q. = 70",
            )
        };
        let (unit, count) = match text.split_once('=') {
            Some((unit, count)) => (
                NoteValue::read_duration(unit.trim()).map_err(|_| unreadable())?,
                count.trim(),
            ),
            None => (Quarters::ONE, text.trim()),
        };
        let count = count.parse().map_err(|_| unreadable())?;
        Ok(Tempo::new(unit, count)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tempo_counts_in_quarter_notes() {
        let jig = Tempo::new(Quarters::new(3, 2), Quarters::from(120)).unwrap();
        assert_eq!(jig.quarters_per_minute(), Quarters::from(180));
        assert_eq!(jig.unit_in_words(), "dotted quarter notes");
        assert_eq!(Tempo::DEFAULT.seconds(Quarters::from(2)), 1.0);
        for count in [0, -4, 1001, i64::MAX] {
            assert!(Tempo::new(Quarters::from(1), Quarters::from(count)).is_err());
        }
        assert!(Tempo::new(Quarters::from(-1), Quarters::from(-120)).is_err());
    }

    #[test]
    fn tempos_are_read_and_written() {
        let cases = [
            ("104", 104, 1, "q = 104"),
            ("92.5", 185, 2, "q = 185/2"),
            ("q. = 70", 105, 1, "q. = 70"),
            ("h=60", 120, 1, "h = 60"),
            ("e = 61", 61, 2, "e = 61"),
        ];
        for (text, numer, denom, written) in cases {
            let tempo: Tempo = text.parse().unwrap();
            assert_eq!(tempo.quarters_per_minute(), Quarters::new(numer, denom));
            assert_eq!(tempo.to_string(), written);
            assert_eq!(written.parse(), Ok(tempo));
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
            assert!(text.parse::<Tempo>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_tempo_can_be_counted_in_another_value() {
        let reel: Tempo = "208".parse().unwrap();
        assert_eq!(reel.counted_in(Quarters::from(2)).to_string(), "h = 104");
        assert_eq!(reel.counted_in(Quarters::ZERO), reel);
        assert_ne!(reel.counted_in(Quarters::from(2)), reel);
    }

    // Common practice, no source: a metronome set to half notes clicks half notes.
    #[test]
    fn what_is_clicked_is_what_the_tempo_counts_where_that_fits_the_meter() {
        for (tempo, meter, beat) in [
            ("q = 120", "4/4", "q"),
            ("h = 60", "4/4", "h"),
            ("w = 30", "4/4", "w"),
            ("e = 120", "4/4", "q"),  // no shorter than the meter counts
            ("q. = 80", "4/4", "q"),  // does not go into the bar
            ("h. = 60", "3/4", "h."), // a waltz in one
            ("h = 60", "3/4", "q"),
            ("q. = 120", "6/8", "q."),
            ("e = 120", "6/8", "e"),
            ("q = 180", "6/8", "q."), // as programs write it
            ("h. = 60", "6/8", "h."),
            ("q = 200", "2/2", "h"),
            ("q = 100", "6/4", "q"),
            ("e = 200", "7/8", "e"),
            ("q = 100", "7/8", "e"),
        ] {
            let tempo: Tempo = tempo.parse().unwrap();
            let clicked = NoteValue::write_duration(tempo.beat_in(meter.parse().unwrap()));
            assert_eq!(clicked, beat, "{tempo} in {meter}");
        }
    }
}
