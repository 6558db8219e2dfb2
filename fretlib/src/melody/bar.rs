//! Bars: where they begin and how they are counted.

use super::Quarters;
use super::melody::{Melody, MelodyError};
use super::meter::Meter;
use super::timeline::Timeline;

/// A stretch between two bar lines.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Bar {
    /// The number the player counts: a pickup is bar 0, the first full bar is bar 1.
    pub number: u32,
    /// When it begins.
    pub onset: Quarters,
}

/// Bar lines by the meters in force, until the tune has ended.
pub(super) fn bars_by_meter(
    meters: &Timeline<Option<Meter>>,
    length: Quarters,
) -> Result<Vec<Quarters>, MelodyError> {
    let mut bars = Vec::new();
    let mut onset = Quarters::from(0);
    while onset < length {
        // Two notes with weeks between them are a few bytes in a file.
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

/// Counts bars: a first one shorter than its meter is a pickup, bar 0.
pub(super) fn number_bars(
    onsets: &[Quarters],
    meters: &Timeline<Option<Meter>>,
    length: Quarters,
) -> Result<Vec<Bar>, MelodyError> {
    let first_end = onsets.get(1).copied().unwrap_or(length);
    let is_pickup = onsets.len() > 1
        && meters
            .at(onsets[0])
            .copied()
            .flatten()
            .is_some_and(|meter| first_end - onsets[0] < meter.bar_length());
    let first_number = if is_pickup { 0 } else { 1 };
    let mut bars: Vec<Bar> = Vec::with_capacity(onsets.len());
    for (number, &onset) in (first_number..).zip(onsets) {
        if bars.last().is_some_and(|ahead| ahead.onset >= onset) {
            return Err(MelodyError::BarOrder { number });
        }
        bars.push(Bar { number, onset });
    }
    Ok(bars)
}
