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
/// continues the count. Common practice, no source.
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

/// Numbers bars as in print.
pub(super) fn number_bars(
    onsets: &[Quarters],
    meters: &Timeline<Option<Meter>>,
    form: &Form,
    length: Quarters,
) -> Result<Vec<Bar>, MelodyError> {
    let mut bars: Vec<Bar> = Vec::with_capacity(onsets.len());
    // Where in its bar the first ending of a group begins; the others begin there too.
    let mut ending_offset = Quarters::ZERO;
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
                Some(_) if ending.is_some_and(|number| number > 1) => bar.offset = ending_offset,
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
        if ending == Some(1) {
            ending_offset = bar.offset;
        }
        bars.push(bar);
    }
    Ok(bars)
}

/// Whether a bar is short enough for the next part to complete it.
fn is_short(bar: &Bar, full: Quarters) -> bool {
    bar.offset + bar.length() < full
}
