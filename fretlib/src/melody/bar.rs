//! Bars: where they begin and how they are counted.

use std::fmt;

use super::Quarters;
use super::form::{Form, FormSign};
use super::meter::Meter;
use super::timeline::Timeline;
use super::{Melody, MelodyError};

/// The time between two bar lines.
///
/// Bars are numbered as in print. A pickup is bar 0. A bar split by a repeat sign or a double bar line counts once:
/// both parts have its number, and `offset` of the second tells how far into the bar it begins. A pickup inside the
/// tune belongs to the bar before it; if that bar is already full, the pickup is shown as `8+`. A second ending
/// continues the count; one that begins with a pickup, or where the first one begins inside a bar, shares the number of
/// the bar before it. Common practice, no source.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Bar {
    /// Its number, as a player counts.
    pub number: u32,
    /// True for a pickup after a full bar, which has that bar's number.
    pub is_extra: bool,
    /// When it begins.
    pub onset: Quarters,
    /// When it ends.
    pub end: Quarters,
    /// How far into a full bar it begins; a pickup ends where a full bar would.
    pub offset: Quarters,
}

impl Bar {
    /// Its length.
    pub fn length(&self) -> Quarters {
        self.end - self.onset
    }

    /// Whether it continues the bar before it.
    pub fn continues(&self) -> bool {
        self.number > 0 && !self.offset.is_zero()
    }

    /// The same bar, so much later.
    pub(super) fn moved(self, by: Quarters) -> Bar {
        Bar {
            onset: self.onset + by,
            end: self.end + by,
            ..self
        }
    }
}

impl fmt::Display for Bar {
    /// The number as shown: `8`, or `8+` for a pickup after the full bar 8.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.number, if self.is_extra { "+" } else { "" })
    }
}

/// Bar lines from the meters in force, up to the end of the tune.
pub(super) fn bars_by_meter(
    meters: &Timeline<Option<Meter>>,
    length: Quarters,
) -> Result<Vec<Quarters>, MelodyError> {
    let mut bars = Vec::new();
    let mut onset = Quarters::ZERO;
    while onset < length {
        // A tiny file can ask for billions of empty bars.
        if bars.len() == Melody::MOST_BARS {
            return Err(MelodyError::TooManyBars);
        }
        bars.push(onset);
        match meters.at(onset) {
            Some(Some(meter)) => onset += meter.bar_length(),
            _ => break,
        }
    }
    Ok(bars)
}

/// Where the first ending of a group begins.
#[derive(Default)]
struct FirstEnding {
    /// The number of the bar.
    number: u32,
    /// How far into that bar.
    offset: Quarters,
}

/// Numbers bars as in print.
pub(super) fn number_bars(
    onsets: &[Quarters],
    meters: &Timeline<Option<Meter>>,
    form: &Form,
    length: Quarters,
) -> Result<Vec<Bar>, MelodyError> {
    let mut bars: Vec<Bar> = Vec::with_capacity(onsets.len());
    let mut first_ending = FirstEnding::default();
    for (index, &onset) in onsets.iter().enumerate() {
        let end = onsets.get(index + 1).copied().unwrap_or(length);
        let mut bar = Bar {
            number: bars.last().map_or(1, |ahead| ahead.number + 1),
            is_extra: false,
            onset,
            end,
            offset: Quarters::ZERO,
        };
        if end < onset || (end == onset && index + 1 < onsets.len()) {
            return Err(MelodyError::BarOrder { number: bar.number });
        }
        let full = meters.at(onset).copied().flatten().map(Meter::bar_length);
        let ending = form.at(onset).iter().find_map(|(_, sign)| match sign {
            FormSign::Ending(numbers) => Some(numbers.first()),
            _ => None,
        });
        if let Some(full) = full.filter(|full| bar.length() < *full) {
            match bars.last() {
                None if onsets.len() > 1 => {
                    bar.number = 0;
                    bar.offset = full - bar.length();
                }
                // An ending of one short bar.
                Some(_)
                    if ending.is_some_and(|number| number > 1)
                        && first_ending.offset.is_zero()
                        && (form.parts_bar(end) || end == length) => {}
                // The first ending begins inside the bar ahead, which this one completes, too.
                Some(ahead)
                    if ending.is_some_and(|number| number > 1)
                        && !first_ending.offset.is_zero()
                        && first_ending.number == ahead.number =>
                {
                    bar.number = ahead.number;
                    bar.is_extra = ahead.is_extra;
                    bar.offset = first_ending.offset;
                }
                Some(ahead)
                    if form.parts_bar(onset) || (ending.is_some() && is_short(ahead, full)) =>
                {
                    let filled = ahead.offset + ahead.length();
                    bar.number = ahead.number;
                    bar.is_extra = ahead.is_extra || filled + bar.length() > full;
                    // If the bar is split twice, the part continues from the middle; otherwise it
                    // ends with the bar.
                    let goes_on =
                        !bar.is_extra && filled + bar.length() < full && form.parts_bar(end);
                    bar.offset = if goes_on { filled } else { full - bar.length() };
                }
                _ => {}
            }
        }
        if let Some(start) = form.first_ending_within(onset, end) {
            first_ending = FirstEnding {
                number: bar.number,
                offset: bar.offset + (start - onset),
            };
        }
        bars.push(bar);
    }
    Ok(bars)
}

/// Whether a bar is short enough for the next part to complete it.
fn is_short(bar: &Bar, full: Quarters) -> bool {
    bar.offset + bar.length() < full
}
