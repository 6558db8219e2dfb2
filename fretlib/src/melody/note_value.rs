//! Note values (whole, half, quarter and so on) and durations written with them.

use std::fmt;
use std::str::FromStr;

use super::{Melody, Quarters};
use crate::error::{OutOfRange, ParseError, check_range};

/// A note value with its dots.
///
/// ```
/// use fretlib::melody::{NoteValue, Quarters};
///
/// let value: NoteValue = "q.".parse()?;
/// assert_eq!(value.duration(), Quarters::new(3, 2));
/// assert_eq!(NoteValue::write_duration(Quarters::new(1, 3)), "e3");
/// assert_eq!(NoteValue::write_duration(Quarters::new(5, 2)), "h+e");
/// assert_eq!(NoteValue::read_duration("h+e")?, Quarters::new(5, 2));
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct NoteValue {
    // Invariant: -1 to 8.
    power: i8,
    // Invariant: at most 4.
    dots: u8,
}

/// The letters of the note values, each half of the one before; the first is a whole note.
const LETTERS: [char; 6] = ['w', 'h', 'q', 'e', 's', 't'];

impl NoteValue {
    /// A double whole note.
    pub const BREVE: NoteValue = NoteValue::plain(-1);
    /// A whole note.
    pub const WHOLE: NoteValue = NoteValue::plain(0);
    /// A half note.
    pub const HALF: NoteValue = NoteValue::plain(1);
    /// A quarter note.
    pub const QUARTER: NoteValue = NoteValue::plain(2);
    /// An eighth note, the longest that is beamed.
    pub const EIGHTH: NoteValue = NoteValue::plain(3);
    /// A 64th note, the shortest that is drawn.
    pub const SHORTEST: NoteValue = NoteValue::plain(6);

    pub(crate) const fn plain(power: i8) -> NoteValue {
        NoteValue { power, dots: 0 }
    }

    /// A value by its power of two: 0 is a whole note, 2 a quarter, −1 a breve.
    ///
    /// # Errors
    ///
    /// When `power` is outside −1 to 8 or there are more than four dots.
    pub const fn new(power: i8, dots: u8) -> Result<NoteValue, OutOfRange> {
        if let Err(error) = check_range("power of two of a note value", power as i64, -1, 8) {
            return Err(error);
        }
        if let Err(error) = check_range("dots", dots as i64, 0, 4) {
            return Err(error);
        }
        Ok(NoteValue { power, dots })
    }

    /// The power of two.
    pub const fn power(self) -> i8 {
        self.power
    }

    /// How many dots follow it.
    pub const fn dots(self) -> u8 {
        self.dots
    }

    /// How many flags or beams it has.
    pub const fn flags(self) -> u8 {
        if self.power > 2 {
            self.power as u8 - 2
        } else {
            0
        }
    }

    /// How long it lasts.
    pub fn duration(self) -> Quarters {
        let plain = match self.power {
            ..=2 => Quarters::from(1 << (2 - self.power)),
            _ => Quarters::new(1, 1 << (self.power - 2)),
        };
        // Each dot adds half of what the one before added: 1, 3/2, 7/4, 15/8.
        plain * Quarters::new((2 << self.dots) - 1, 1 << self.dots)
    }

    /// What it is called: `dotted quarter note`.
    pub fn name(self) -> String {
        let dots = match self.dots {
            0 => "",
            1 => "dotted ",
            2 => "double-dotted ",
            _ => "triple-dotted ",
        };
        let plain = match self.power {
            ..=-1 => "double whole note",
            0 => "whole note",
            1 => "half note",
            2 => "quarter note",
            3 => "eighth note",
            4 => "sixteenth note",
            5 => "thirty-second note",
            6.. => "sixty-fourth note",
        };
        format!("{dots}{plain}")
    }

    /// The value that lasts this long, with at most three dots; `None` for any other length.
    pub fn of(duration: Quarters) -> Option<NoteValue> {
        (0..=3)
            .flat_map(|dots| (-1..=6).map(move |power| NoteValue { power, dots }))
            .find(|value| value.duration() == duration)
    }

    /// The longest undotted value that is not longer than this, or the shortest value of all.
    pub fn within(duration: Quarters) -> NoteValue {
        (-1..6)
            .map(NoteValue::plain)
            .find(|value| value.duration() <= duration)
            .unwrap_or(NoteValue::SHORTEST)
    }

    /// Writes a duration: `q.`, `e3` for a triplet, `h+e` for tied values, or a fraction of a whole note where nothing
    /// else fits.
    pub fn write_duration(duration: Quarters) -> String {
        if let Some(word) = one_word(duration) {
            return word;
        }
        // Tied values, the longest first.
        let mut words = Vec::new();
        let mut rest = duration;
        while rest.is_positive() && words.len() < 4 {
            let longest = LETTERS
                .iter()
                .zip(0..)
                .find(|(_, power)| NoteValue::plain(*power).duration() <= rest);
            let Some((letter, power)) = longest else {
                break;
            };
            words.push(letter.to_string());
            rest -= NoteValue::plain(power).duration();
        }
        if rest.is_zero() && !words.is_empty() {
            return words.join("+");
        }
        let wholes = duration / 4;
        format!("{}/{}", wholes.numer(), wholes.denom())
    }

    /// Reads what [`NoteValue::write_duration`] writes: `q`, `h.`, `e3`, `h+e`, `3/16`.
    ///
    /// # Errors
    ///
    /// When the text is none of these, or longer or finer than a melody can hold.
    pub fn read_duration(text: &str) -> Result<Quarters, ParseError> {
        let mut sum = Quarters::ZERO;
        for word in text.split('+') {
            let duration = read_word(word).and_then(|duration| sum.checked_add(duration));
            let in_limits = |it: &Quarters| {
                it.denom() <= Melody::FINEST && *it <= Quarters::from(Melody::LONGEST)
            };
            sum = duration.filter(in_limits).ok_or_else(|| {
                ParseError::unreadable(
                    text,
                    "a note value such as q, h., e3 (a triplet), h+e (tied) or 3/16",
                )
            })?;
        }
        Ok(sum)
    }
}

/// A duration written as one letter, with dots or a tuplet number.
fn one_word(duration: Quarters) -> Option<String> {
    let said = |duration| NoteValue::of(duration).filter(|value| (0..6).contains(&value.power()));
    if let Some(value) = said(duration) {
        return Some(value.to_string());
    }
    [3i64, 5, 7, 9, 11, 13].iter().find_map(|count| {
        let time_of = 1 << count.ilog2();
        let value = said(duration * *count / time_of).filter(|value| value.dots() < 2)?;
        let letter = LETTERS.get(usize::try_from(value.power()).ok()?)?;
        Some(format!(
            "{letter}{count}{}",
            ".".repeat(value.dots().into())
        ))
    })
}

fn read_word(word: &str) -> Option<Quarters> {
    let Some(power) = LETTERS.iter().position(|letter| word.starts_with(*letter)) else {
        let wholes: Quarters = word.parse().ok().filter(|_| word.contains('/'))?;
        return wholes
            .checked_mul(Quarters::from(4))
            .filter(|it| it.is_positive());
    };
    let digits = word[1..].trim_end_matches('.');
    let dots = u8::try_from(word.len() - 1 - digits.len()).ok()?;
    let value = NoteValue::new(power as i8, dots)
        .ok()
        .filter(|_| dots <= 3)?;
    if digits.is_empty() {
        return Some(value.duration());
    }
    let (count, time_of) = tuplet_of(digits)?;
    Some(value.duration() * Quarters::new(time_of, count))
}

/// The tuplet of a word such as `q3`: how many notes, in the time of how many.
#[cfg(feature = "formats")]
pub(crate) fn tuplet_of_word(word: &str) -> Option<(i64, i64)> {
    let digits = word.strip_prefix(LETTERS)?.trim_end_matches('.');
    tuplet_of(digits)
}

/// `3`: three in the time of two, the power of two below.
fn tuplet_of(digits: &str) -> Option<(i64, i64)> {
    let count: i64 = digits.parse().ok()?;
    let is_tuplet = digits.bytes().all(|byte| byte.is_ascii_digit())
        && (3..=63).contains(&count)
        && !(count as u64).is_power_of_two();
    is_tuplet.then(|| (count, 1 << count.ilog2()))
}

impl fmt::Display for NoteValue {
    /// `q`, `h.`; a fraction of a whole note for a breve and for values shorter than a 32nd.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match usize::try_from(self.power)
            .ok()
            .and_then(|power| LETTERS.get(power))
        {
            Some(letter) => write!(f, "{letter}{}", ".".repeat(self.dots.into())),
            None => write!(f, "{}", self.duration() / 4),
        }
    }
}

impl FromStr for NoteValue {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<NoteValue, ParseError> {
        let letter = text.trim_end_matches('.');
        let power = LETTERS.iter().position(|it| letter.chars().eq([*it]));
        let dots = text.len() - letter.len();
        let value = power
            .filter(|_| dots <= 3)
            .and_then(|power| NoteValue::new(power as i8, dots as u8).ok());
        value.ok_or_else(|| ParseError::unreadable(text, "a note value such as q, h. or e"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_are_written_and_read() {
        for (word, numer, denom) in [
            ("w", 4, 1),
            ("h", 2, 1),
            ("q", 1, 1),
            ("e", 1, 2),
            ("s", 1, 4),
            ("t", 1, 8),
            ("h.", 3, 1),
            ("h...", 15, 4),
            ("q.", 3, 2),
            ("q..", 7, 4),
            ("e.", 3, 4),
            ("e3", 1, 3),
            ("q3", 2, 3),
            ("s3", 1, 6),
            ("e5.", 3, 5),
            ("s5", 1, 5), // five in the time of four sixteenths, which is a quarter
            ("e7", 2, 7),
            ("t9", 1, 9),
            ("h+e", 5, 2),
            ("w+q", 5, 1),
            ("w+w", 8, 1),
            ("1/256", 1, 64),
            ("1/68", 1, 17),
            ("17/1", 68, 1),
        ] {
            let duration = Quarters::new(numer, denom);
            assert_eq!(NoteValue::write_duration(duration), word);
            assert_eq!(NoteValue::read_duration(word), Ok(duration), "{word}");
        }
        // These have a shorter name.
        for (word, name) in [
            ("e6", "e3"),
            ("q3.", "q"),
            ("1/4", "q"),
            ("2/12", "q3"),
            ("q+e", "q."),
        ] {
            let said = NoteValue::read_duration(word).map_or("?".into(), NoteValue::write_duration);
            assert_eq!(said, name, "{word}");
        }
    }

    #[test]
    fn values_and_their_lengths_belong_together() {
        for power in -1..=6 {
            for dots in 0..=3 {
                let value = NoteValue::new(power, dots).unwrap();
                assert_eq!(NoteValue::of(value.duration()), Some(value));
            }
        }
        assert_eq!(NoteValue::of(Quarters::new(5, 4)), None);
        assert_eq!(NoteValue::within(Quarters::new(5, 4)), NoteValue::QUARTER);
        assert!(NoteValue::new(9, 0).is_err() && NoteValue::new(0, 5).is_err());
    }

    #[test]
    fn invalid_durations_are_refused() {
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
            "q+",
            "+q",
            "h+x",
        ] {
            assert!(NoteValue::read_duration(word).is_err(), "{word}");
        }
    }
}
