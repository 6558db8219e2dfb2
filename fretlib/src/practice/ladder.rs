//! A ladder of tempos, climbed by right passes.

use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

use crate::error::{OutOfRange, ParseError, check_range};

/// A ladder of tempos, in percent of the tune's own: one rung up after a number of right passes, one down after a
/// failed one.
///
/// It never rises by itself: a pass counts when somebody who heard it confirms it. Sources: musicians who practise well
/// change the tempo systematically, and what counts is the share of right trials (R. Duke, A. Simmons, C. Cash, *It's
/// Not How Much; It's How*, Journal of Research in Music Education 56(4), 2009). The size of a rung is a choice.
///
/// ```
/// use fretlib::practice::Ladder;
///
/// let mut ladder = Ladder::new("60-70%".parse()?, 2)?;
/// assert_eq!(ladder.percent(), 60);
/// ladder.judge(true);
/// ladder.judge(true);
/// assert_eq!(ladder.percent(), 65);
/// ladder.judge(false);
/// assert_eq!(ladder.percent(), 60);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Ladder {
    range: LadderRange,
    // Invariant: at least 1.
    passes: u8,
    // Invariant: within the range.
    percent: u16,
    right: u8,
}

/// The first and the last tempo, in percent of the tune's own.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct LadderRange(
    // Invariant: 10 to 200, not empty.
    RangeInclusive<u16>,
);

/// Percent of the tune's tempo from one rung to the next. Common practice is 4 to 6; no source.
const RUNG: u16 = 5;

/// A tempo within this share of the asked one is at tempo. A choice.
pub const AT_TEMPO: f64 = 0.04;

impl Ladder {
    /// A ladder on its lowest rung, with `passes` right passes to a rung.
    ///
    /// # Errors
    ///
    /// When `passes` is outside 1 to 20.
    pub fn new(range: LadderRange, passes: u8) -> Result<Ladder, OutOfRange> {
        check_range("right passes to a rung", passes.into(), 1, 20)?;
        Ok(Ladder {
            percent: *range.0.start(),
            range,
            passes,
            right: 0,
        })
    }

    /// The tempo now, in percent of the tune's own.
    pub fn percent(&self) -> u16 {
        self.percent
    }

    /// The tempo to get to, in percent.
    pub fn top(&self) -> u16 {
        *self.range.0.end()
    }

    /// How many more right passes the next rung needs.
    pub fn missing(&self) -> u8 {
        self.passes - self.right
    }

    /// Whether the highest rung was played right as often as it takes.
    pub fn is_climbed(&self) -> bool {
        self.percent == self.top() && self.missing() == 0
    }

    /// Records the verdict on a pass.
    pub fn judge(&mut self, right: bool) {
        if !right {
            // From the top it goes down to a regular rung, even if the last step up was smaller.
            let lowest = *self.range.0.start();
            let rungs = (self.percent - lowest).saturating_sub(1) / RUNG;
            self.percent = lowest + rungs * RUNG;
            self.right = 0;
        } else if self.missing() > 0 {
            self.right += 1;
            if self.missing() == 0 && self.percent < self.top() {
                self.percent = (self.percent + RUNG).min(self.top());
                self.right = 0;
            }
        }
    }
}

/// The tempo at which a stretch is held, in percent of the tune's own, by the passes through it in order: the tempo of each
/// and whether it was right. 0 before two in a row were right.
///
/// The slower of two right passes in a row is held; a failed pass takes it a rung below its own tempo. Nothing is taken
/// away with time: how fast fingers forget is not known. A choice; [`Ladder`] has the sources.
///
/// ```
/// use fretlib::practice::tempo_held;
///
/// assert_eq!(tempo_held([(60, true)]), 0);
/// assert_eq!(tempo_held([(60, true), (60, true), (65, true), (65, true)]), 65);
/// assert_eq!(tempo_held([(80, true), (80, true), (80, false)]), 75);
/// // Failing faster takes nothing from what is held.
/// assert_eq!(tempo_held([(80, true), (80, true), (90, false)]), 80);
/// ```
pub fn tempo_held(passes: impl IntoIterator<Item = (u16, bool)>) -> u16 {
    let (mut held, mut last_right) = (0, None);
    for (percent, is_right) in passes {
        if is_right {
            held = held.max(last_right.map_or(0, |last: u16| last.min(percent)));
            last_right = Some(percent);
        } else {
            held = held.min(percent.saturating_sub(RUNG));
            last_right = None;
        }
    }
    held
}

impl FromStr for LadderRange {
    type Err = ParseError;

    /// Reads two tempos in percent, such as `60-100%`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || ParseError::unreadable(text, "two tempos in percent such as 60-100%");
        let (low, high) = text.split_once(['-', '–']).ok_or_else(unreadable)?;
        let percent = |word: &str| {
            let digits = word.trim().trim_end_matches('%');
            digits.parse::<u16>().map_err(|_| unreadable())
        };
        let (low, high) = (percent(low)?, percent(high)?);
        for percent in [low, high] {
            check_range("tempo in percent", percent.into(), 10, 200)?;
        }
        if low > high {
            return Err(unreadable());
        }
        Ok(LadderRange(low..=high))
    }
}

impl fmt::Display for LadderRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}%", self.0.start(), self.0.end())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Passes as letters, `r` right and `f` failed; the tempo after each.
    fn check(range: &str, passes: u8, verdicts: &str, expected: &[u16]) {
        let mut ladder = Ladder::new(range.parse().unwrap(), passes).unwrap();
        let found: Vec<u16> = verdicts
            .chars()
            .map(|verdict| {
                ladder.judge(verdict == 'r');
                ladder.percent()
            })
            .collect();
        assert_eq!(found, expected, "{range} {verdicts}");
    }

    #[test]
    fn right_passes_lead_up_and_failed_ones_down() {
        check("60-100%", 2, "rrrr", &[60, 65, 65, 70]);
        check("60-100%", 2, "rfrr", &[60, 60, 60, 65]); // right passes in a row
        check("60-100%", 1, "rrff", &[65, 70, 65, 60]);
        check("60-100%", 2, "fff", &[60, 60, 60]);
        check("90-98%", 1, "rrrf", &[95, 98, 98, 95]); // never past the top
        check("80-80%", 1, "rr", &[80, 80]);
    }

    #[test]
    fn the_top_has_to_be_played_right_too() {
        let mut ladder = Ladder::new("95-100%".parse().unwrap(), 2).unwrap();
        for expected in [false, false, false, true, true] {
            ladder.judge(true);
            assert_eq!(ladder.is_climbed(), expected);
        }
        ladder.judge(false);
        assert!(!ladder.is_climbed() && ladder.percent() == 95);
    }

    #[test]
    fn ranges_are_read_and_checked() {
        for text in ["60-100%", "50-50%", "80-120%"] {
            assert_eq!(text.parse::<LadderRange>().unwrap().to_string(), text);
        }
        assert_eq!(
            "60%-100%".parse::<LadderRange>().unwrap().to_string(),
            "60-100%"
        );
        for text in ["", "60", "100-60%", "0-100%", "60-500%", "a-b", "-60"] {
            assert!(text.parse::<LadderRange>().is_err(), "{text}");
        }
        assert!(Ladder::new("60-70%".parse().unwrap(), 0).is_err());
    }
}
