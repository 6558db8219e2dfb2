//! The click, which differs from any string so that it can be heard through them.

use std::f64::consts::TAU;
use std::fmt;
use std::str::FromStr;

use super::sample_rate::SampleRate;
use crate::error::ParseError;
use crate::melody::Quarters;

/// One click.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Click {
    /// When, in seconds from the start of the performance.
    pub at: f64,
    /// Whether it is the first beat of a bar.
    pub accent: bool,
    /// Whether it belongs to the count-in, which is heard even when the click is off.
    pub count_in: bool,
}

/// Partials in hertz and their shares: above the fundamentals of the neck, and inharmonic. Chosen by ear.
const PARTIALS: [(f64, f64); 3] = [(1_910.0, 0.5), (2_790.0, 0.3), (4_330.0, 0.2)];
/// The factor by which the accent is higher.
const ACCENT: f64 = 1.4;
/// Seconds in which a click falls to 1/e, shorter than the decay of any string.
const FALL: f64 = 0.006;
const LENGTH: f64 = 0.045;
/// Peaks of a click and of an accented one. Chosen so that they stay within 6 dB of a melody.
const PEAK: f64 = 0.25;
const ACCENT_PEAK: f64 = 0.36;

/// The peak of the loudest click.
pub(super) const LOUDEST_CLICK: f64 = ACCENT_PEAK;

/// The samples of a click.
pub(super) fn click_samples(accent: bool, rate: SampleRate) -> Vec<f32> {
    let (height, peak) = if accent {
        (ACCENT, ACCENT_PEAK)
    } else {
        (1.0, PEAK)
    };
    let count = rate.sample_at(LENGTH);
    let sample = |index: u64| {
        let time = rate.seconds(index);
        // The partials begin at once; the last part is faded, so that the end does not crack.
        let tone: f64 = PARTIALS
            .iter()
            .map(|(frequency, share)| share * (TAU * frequency * height * time).cos())
            .sum();
        let fade = ((LENGTH - time) / (LENGTH / 4.0)).min(1.0);
        (peak * tone * (-time / FALL).exp() * fade) as f32
    };
    (0..count).map(sample).collect()
}

/// The beats and bars that are clicked.
///
/// Beats are those of the count, so 1 to 4 in 4/4; in compound meters they are the felt ones, so 1 and 2 in 6/8. All of them
/// are those that the tempo counts: a half note = 60 is clicked in half notes.
///
/// ```
/// use fretlib::sound::ClickPattern;
///
/// let backbeat: ClickPattern = "2-4".parse()?;
/// assert!(backbeat.has_beat(2) && !backbeat.has_beat(3));
/// assert_eq!(backbeat.to_string(), "2-4");
/// let every_other_pair = ClickPattern::ALL.dropped("2+2".parse()?);
/// assert!(every_other_pair.has_bar(1) && !every_other_pair.has_bar(2) && every_other_pair.has_bar(4));
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct ClickPattern {
    /// Bit n − 1 stands for beat n.
    // Invariant: not 0.
    beats: u64,
    drop: Option<ClickDrop>,
}

/// Bars with the click, then bars without.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct ClickDrop {
    // Invariant: 1 to 64 each.
    with: u8,
    without: u8,
}

impl ClickPattern {
    /// Every beat of every bar.
    pub const ALL: ClickPattern = ClickPattern {
        beats: u64::MAX,
        drop: None,
    };

    /// The same beats, left out in some bars.
    #[must_use]
    pub const fn dropped(self, drop: ClickDrop) -> ClickPattern {
        ClickPattern {
            drop: Some(drop),
            ..self
        }
    }

    /// Whether a beat, counted from 1, is clicked.
    pub const fn has_beat(self, beat: u32) -> bool {
        beat >= 1 && beat <= 64 && self.beats >> (beat - 1) & 1 == 1
    }

    /// Whether no beat is left out.
    pub const fn has_all_beats(self) -> bool {
        self.beats == u64::MAX
    }

    /// Whether a bar, counted from 0 at the first full one played, is clicked at all.
    pub const fn has_bar(self, bar: u64) -> bool {
        match self.drop {
            None => true,
            Some(drop) => bar % (drop.with as u64 + drop.without as u64) < drop.with as u64,
        }
    }
}

impl FromStr for ClickPattern {
    type Err = ParseError;

    /// Reads `all`, or beats such as `1`, `2-4` (two and four, as players say it) or `1-3-4`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        if text == "all" {
            return Ok(ClickPattern::ALL);
        }
        let unreadable = || ParseError::unreadable(text, "`all` or beats such as 1 or 2-4");
        let mut beats = 0;
        for word in text.split(['-', ',', '–']) {
            let beat: u8 = word.trim().parse().map_err(|_| unreadable())?;
            if !(1..=64).contains(&beat) {
                return Err(unreadable());
            }
            beats |= 1 << (beat - 1);
        }
        Ok(ClickPattern { beats, drop: None })
    }
}

impl fmt::Display for ClickPattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.has_all_beats() {
            return f.write_str("all");
        }
        let beats: Vec<String> = (1..=64)
            .filter(|beat| self.has_beat(*beat))
            .map(|beat| beat.to_string())
            .collect();
        f.write_str(&beats.join("-"))
    }
}

impl FromStr for ClickDrop {
    type Err = ParseError;

    /// Reads bars with and bars without, such as `2+2`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "bars with and bars without, such as 2+2");
        let (with, without) = text.split_once('+').ok_or_else(unreadable)?;
        let bars = |word: &str| {
            let count: u8 = word.trim().parse().map_err(|_| unreadable())?;
            (1..=64)
                .contains(&count)
                .then_some(count)
                .ok_or_else(unreadable)
        };
        Ok(ClickDrop {
            with: bars(with)?,
            without: bars(without)?,
        })
    }
}

/// Where the beats of a stretch of time lie: number, from 1, and time from its start.
///
/// `phase` is how far into a bar the stretch begins: a pickup does not begin on beat 1.
pub(super) fn beats_of(
    beat: Quarters,
    phase: Quarters,
    length: Quarters,
) -> impl Iterator<Item = (u32, Quarters)> {
    let first = (phase / beat).ceil().to_integer();
    (first..)
        .map(move |number| (number as u32 + 1, Quarters::from(number) * beat - phase))
        .take_while(move |(_, at)| *at < length)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::Meter;

    #[test]
    fn patterns_are_read_and_printed() {
        for text in ["all", "1", "2-4", "1-3-4"] {
            assert_eq!(text.parse::<ClickPattern>().unwrap().to_string(), text);
        }
        for text in ["", "0", "65", "2-", "x", "-1", "none"] {
            assert!(text.parse::<ClickPattern>().is_err(), "{text}");
        }
        for text in ["", "2", "0+2", "2+0", "2+65", "+", "a+b", "999999+1"] {
            assert!(text.parse::<ClickDrop>().is_err(), "{text}");
        }
    }

    #[test]
    fn beats_are_the_felt_ones() {
        let check = |meter: &str, phase: (i64, i64), length: (i64, i64), expected: &str| {
            let phase = Quarters::new(phase.0, phase.1);
            let length = Quarters::new(length.0, length.1);
            let found: Vec<String> =
                beats_of(meter.parse::<Meter>().unwrap().beat(), phase, length)
                    .map(|(number, at)| format!("{number}@{at}"))
                    .collect();
            assert_eq!(found.join(" "), expected, "{meter}");
        };
        check("4/4", (0, 1), (4, 1), "1@0 2@1 3@2 4@3");
        check("4/4", (3, 1), (1, 1), "4@0"); // a pickup of one beat
        check("4/4", (5, 2), (3, 2), "4@1/2"); // a pickup of three eighths
        check("6/8", (0, 1), (3, 1), "1@0 2@3/2");
        check("7/8", (0, 1), (7, 2), "1@0 2@1/2 3@1 4@3/2 5@2 6@5/2 7@3");
        check("3/4", (0, 1), (5, 2), "1@0 2@1 3@2"); // a bar cut short
    }

    #[test]
    fn a_click_is_short_and_ends_quietly() {
        let samples = click_samples(true, SampleRate::CD);
        assert!(samples.len() < 2_000);
        assert!(
            samples
                .iter()
                .all(|it| f64::from(it.abs()) <= LOUDEST_CLICK + 1e-6)
        );
        assert!(samples.last().unwrap().abs() < 1e-5);
        assert!(samples[0] > 0.3);
    }
}
