//! Conversion between musical time and seconds.

use crate::melody::{Quarters, Swing, Tempo};

/// When each moment of a performance sounds.
///
/// Musical time is counted in quarter notes from the start, in the order in which the bars sound.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoMap {
    // Invariant: not empty; both times rise; the first is at quarter note 0.
    stretches: Vec<Stretch>,
    // Invariant: starts rise.
    bars: Vec<BarGrid>,
    swing: Option<Swing>,
}

/// Music in one tempo.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stretch {
    start: f64,
    seconds: f64,
    seconds_a_quarter: f64,
}

/// The start of a bar, and its offset in a full bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BarGrid {
    pub(super) start: Quarters,
    pub(super) phase: Quarters,
    /// Whether its notes are swung; compound meters are not, since they already divide in threes.
    pub(super) swings: bool,
}

impl TempoMap {
    /// A map that begins at `seconds`, with the tempos and their onsets.
    pub(super) fn new(
        lead_in: f64,
        tempos: &[(Quarters, Tempo)],
        speed: f64,
        bars: Vec<BarGrid>,
        swing: Option<Swing>,
    ) -> TempoMap {
        let mut stretches: Vec<Stretch> = Vec::with_capacity(tempos.len().max(1));
        for (start, tempo) in tempos {
            let start = start.to_f64();
            let seconds = stretches.last().map_or(lead_in, |it| it.at(start));
            stretches.push(Stretch {
                start,
                seconds,
                seconds_a_quarter: tempo.seconds(Quarters::from(1)) / speed,
            });
        }
        if stretches.is_empty() {
            stretches.push(Stretch {
                start: 0.0,
                seconds: lead_in,
                seconds_a_quarter: Tempo::DEFAULT.seconds(Quarters::from(1)) / speed,
            });
        }
        TempoMap {
            stretches,
            bars,
            swing,
        }
    }

    /// When a written moment sounds, in seconds: swung where the tune swings.
    pub fn seconds(&self, time: Quarters) -> f64 {
        self.seconds_at(self.swung(time))
    }

    /// When a moment of the beat sounds, in seconds: the click does not swing.
    pub fn seconds_on_the_grid(&self, time: Quarters) -> f64 {
        self.seconds_at(time.to_f64())
    }

    /// The moment of the beat at a time in seconds, in quarter notes; negative in the count-in.
    pub fn quarters(&self, seconds: f64) -> f64 {
        let after = self.stretches.partition_point(|it| it.seconds <= seconds);
        let stretch = &self.stretches[after.saturating_sub(1)];
        stretch.start + (seconds - stretch.seconds) / stretch.seconds_a_quarter
    }

    /// When a moment of the beat sounds, in seconds; the moment is a number of quarter notes.
    pub fn seconds_at(&self, time: f64) -> f64 {
        let after = self.stretches.partition_point(|it| it.start <= time);
        self.stretches[after.saturating_sub(1)].at(time)
    }

    fn swung(&self, time: Quarters) -> f64 {
        let after = self.bars.partition_point(|bar| bar.start <= time);
        match (
            self.swing,
            after.checked_sub(1).map(|index| self.bars[index]),
        ) {
            (Some(swing), Some(bar)) if bar.swings => {
                let in_bar = swing.played(time - bar.start + bar.phase);
                in_bar - bar.phase.to_f64() + bar.start.to_f64()
            }
            _ => time.to_f64(),
        }
    }
}

impl Stretch {
    fn at(&self, time: f64) -> f64 {
        self.seconds + (time - self.start) * self.seconds_a_quarter
    }
}
