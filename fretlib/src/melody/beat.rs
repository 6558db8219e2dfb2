//! Beats of a bar, as players count them.

use std::fmt;

use super::{Bar, Melody, Meter, Quarters};

/// A moment of a bar, as players count it.
///
/// The count follows the unit of the meter, in compound meters too (6/8: 1 to 6), and the quarter note in free meter.
/// Parts of a beat have the usual syllables: `3`, `3&`, `3e`, `3a`; thirds `3+1/3`, `3+2/3`; anything else as a
/// fraction, `3+5/24`. A pickup counts from the end of its bar. Common practice, no source.
///
/// ```
/// use fretlib::format::abc::{AbcOptions, read};
///
/// let tune = read(b"X:1\nM:3/4\nL:1/8\nK:G\n^c2|GA/B/ (3cde f2|", &AbcOptions::default())?.melody;
/// let said: Vec<String> = tune
///     .notes()
///     .iter()
///     .map(|note| tune.beat_at(note.onset))
///     .map(|beat| format!("bar {}, beat {beat}", beat.bar))
///     .collect();
/// assert_eq!(said[0], "bar 0, beat 3");
/// assert_eq!(said[3], "bar 1, beat 1a");
/// assert_eq!(said[5], "bar 1, beat 2+1/3");
/// # Ok::<(), fretlib::format::ReadError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Beat {
    /// The bar; it displays its number.
    pub bar: Bar,
    /// The current beat, counted from 1.
    pub number: i64,
    /// How much of it has passed, from 0 to below 1.
    pub part: Quarters,
}

impl Melody {
    /// The beat at `onset`.
    pub fn beat_at(&self, onset: Quarters) -> Beat {
        let bar = self.bar_at(onset);
        let meter = self.meters().at(bar.onset).copied().flatten();
        let passed =
            (bar.offset + (onset - bar.onset)) / meter.map_or(Quarters::ONE, Meter::unit_length);
        let whole = passed.floor();
        Beat {
            bar,
            number: whole.to_integer() + 1,
            part: passed - whole,
        }
    }
}

impl fmt::Display for Beat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.number)?;
        match (self.part.numer(), self.part.denom()) {
            (0, _) => Ok(()),
            (1, 2) => f.write_str("&"),
            (1, 4) => f.write_str("e"),
            (3, 4) => f.write_str("a"),
            _ => write!(f, "+{}", self.part),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::melody::{Draft, FormSign, Melody, Quarters, Times};

    /// The beats of a tune of eighth notes.
    fn said(meter: &str, bars: &[i64], form: &[(i64, FormSign)]) -> Vec<String> {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::ZERO, Some(meter.parse().unwrap()));
        for notes in bars {
            draft.bar_line();
            for _ in 0..*notes {
                draft
                    .note("C4".parse().unwrap(), Quarters::new(1, 2))
                    .unwrap();
            }
        }
        for (eighth, sign) in form {
            draft.form.add(Quarters::new(*eighth, 2), *sign);
        }
        let melody = Melody::new(draft).unwrap();
        let beats = melody.notes().iter().map(|note| melody.beat_at(note.onset));
        beats.map(|beat| format!("{}:{beat}", beat.bar)).collect()
    }

    #[test]
    fn the_unit_of_the_meter_is_counted() {
        assert_eq!(said("6/8", &[1, 6], &[])[0..3], ["0:6", "1:1", "1:2"]);
        assert_eq!(
            said("2/2", &[4, 4], &[])[0..4],
            ["0:2", "0:2e", "0:2&", "0:2a"]
        );
        assert_eq!(said("3/4", &[6], &[])[0..3], ["1:1", "1:1&", "1:2"]);
    }

    #[test]
    fn the_count_continues_in_a_split_bar() {
        let repeat = |at| {
            [
                (at, FormSign::RepeatEnd(Times::TWICE)),
                (at, FormSign::RepeatStart),
            ]
        };
        let form: Vec<_> = repeat(12)
            .into_iter()
            .chain([(24, FormSign::RepeatEnd(Times::TWICE))])
            .collect();
        let beats = said("6/8", &[1, 6, 5, 1, 6, 5], &form);
        assert_eq!(beats[11], "2:5");
        assert_eq!(beats[12], "2:6");
        assert_eq!(beats[13], "3:1");
        assert_eq!(beats[23], "4:5");
    }

    #[test]
    fn a_pickup_after_a_full_bar_counts_from_the_end() {
        let form = [
            (8, FormSign::RepeatEnd(Times::TWICE)),
            (8, FormSign::RepeatStart),
            (17, FormSign::RepeatEnd(Times::TWICE)),
        ];
        let beats = said("4/4", &[8, 1, 8], &form);
        assert_eq!(beats[8], "1+:4&");
        assert_eq!(beats[9], "2:1");
    }
}
