//! A performance: plucks and clicks in seconds.

use thiserror::Error;

use super::body::MOST_GAIN;
use super::click::{Click, LOUDEST_CLICK};
use super::plucked_string::FULL_PEAK;
use super::renderer::Renderer;
use super::sample_rate::SampleRate;
use super::tone::Tone;
use crate::error::{OutOfRange, check_range};
use crate::neck::StringNumber;
use std::sync::Arc;

/// How strongly a string is plucked, in percent of the strongest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength(
    // Invariant: above 0, at most 1.
    f32,
);

impl Strength {
    /// As strong as can be.
    pub const FULL: Strength = Strength(1.0);
    /// The default strength of a melody.
    pub const MELODY: Strength = Strength(0.7);

    /// A percentage of the strongest pluck.
    ///
    /// # Errors
    ///
    /// When `percent` is outside 1 to 100.
    pub const fn percent(percent: u8) -> Result<Strength, OutOfRange> {
        match check_range("strength in percent", percent as i64, 1, 100) {
            Ok(()) => Ok(Strength(percent as f32 / 100.0)),
            Err(error) => Err(error),
        }
    }

    /// Softer by this many dB, down to 120 dB below the strongest.
    #[must_use]
    pub fn softer(self, decibels: f64) -> Strength {
        let amplitude = f64::from(self.0) * 10f64.powf(-decibels.max(0.0) / 20.0);
        Strength((amplitude as f32).max(1e-6))
    }

    /// The share of the strongest amplitude, above 0 and at most 1.
    pub const fn amplitude(self) -> f32 {
        self.0
    }
}

/// A layer, which can be turned up or down on its own.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Layer {
    /// The tune.
    Melody,
    /// The accompaniment.
    Chords,
    /// The click.
    Click,
}

/// A string that is plucked and later damped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pluck {
    /// How the string sounds.
    pub tone: Tone,
    /// The string, which sounds one note at a time: the next pluck on it in the same layer ends this one.
    pub string: StringNumber,
    /// Its layer.
    pub layer: Layer,
    /// When it is plucked, in seconds from the start of the performance.
    pub start: f64,
    /// When it is damped, in seconds.
    pub end: f64,
    /// How strongly.
    pub strength: Strength,
    /// The melody's note it plays, counted from 0, if it plays one.
    pub note: Option<usize>,
}

impl Pluck {
    /// A note of a melody.
    pub const fn new(tone: Tone, string: StringNumber, start: f64, end: f64) -> Pluck {
        Pluck {
            tone,
            string,
            layer: Layer::Melody,
            start,
            end,
            strength: Strength::MELODY,
            note: None,
        }
    }
}

/// Why plucks and clicks do not make a performance.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum PerformanceError {
    /// A time is before the start, too late or not a number.
    #[error(
        "a time of {seconds} seconds is not in the range 0 to {}",
        Performance::LONGEST
    )]
    Time {
        /// The time.
        seconds: f64,
    },
    /// A note ends before it begins.
    #[error("a note that begins at {start} seconds ends at {end}")]
    Ends {
        /// When it begins.
        start: f64,
        /// When it ends.
        end: f64,
    },
    /// There are too many notes.
    #[error("there are more than {} notes in it", Performance::MOST_PLUCKS)]
    TooMany,
}

/// The plucks and clicks of one time through.
#[derive(Clone, Debug, PartialEq)]
pub struct Performance {
    // Invariant: starts rise; every start is before its fade, which is before its end.
    notes: Vec<DampedPluck>,
    // Invariant: times rise.
    clicks: Vec<Click>,
    seconds: f64,
    gain: f32,
}

/// A pluck and when its string is damped: at the end of its note, or by the next note on the same string.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct DampedPluck {
    pub(super) pluck: Pluck,
    /// When the damping begins, in seconds.
    pub(super) damped: f64,
    /// When the string is silent, in seconds.
    pub(super) silent: f64,
}

/// Seconds that a damped string takes to fall silent. Chosen by ear.
const DAMPING: f64 = 0.03;
/// The same when the string is about to be plucked again, since finger or plectrum touches it first. Chosen by ear.
pub(super) const CUTTING: f64 = 0.006;

/// The decay after which a string is no longer heard, in dB.
const INAUDIBLE: f64 = 96.0;

impl Performance {
    /// The latest time, in seconds.
    pub const LONGEST: f64 = 36_000.0;
    /// Seconds that the body rings on after the last string.
    pub const TAIL: f64 = 0.1;
    /// The most plucks.
    pub const MOST_PLUCKS: usize = 1_000_000;

    /// Checks plucks and clicks and orders them by time; `seconds` is the length of one time through.
    ///
    /// # Errors
    ///
    /// When a time is not between 0 and [`Performance::LONGEST`], a note ends before it begins, or there are more than
    /// [`Performance::MOST_PLUCKS`].
    pub fn new(
        mut plucks: Vec<Pluck>,
        mut clicks: Vec<Click>,
        seconds: f64,
    ) -> Result<Performance, PerformanceError> {
        if plucks.len() > Performance::MOST_PLUCKS || clicks.len() > Performance::MOST_PLUCKS {
            return Err(PerformanceError::TooMany);
        }
        let times = plucks.iter().flat_map(|pluck| [pluck.start, pluck.end]);
        for time in times
            .chain(clicks.iter().map(|click| click.at))
            .chain([seconds])
        {
            if !(0.0..=Performance::LONGEST).contains(&time) {
                return Err(PerformanceError::Time { seconds: time });
            }
        }
        if let Some(Pluck { start, end, .. }) = plucks.iter().find(|it| it.start >= it.end) {
            return Err(PerformanceError::Ends {
                start: *start,
                end: *end,
            });
        }
        plucks.sort_by(|one, other| one.start.total_cmp(&other.start));
        clicks.sort_by(|one, other| one.at.total_cmp(&other.at));
        let notes = damped(plucks);
        let gain = headroom(&notes, !clicks.is_empty());
        Ok(Performance {
            notes,
            clicks,
            seconds,
            gain,
        })
    }

    /// The plucks, in order.
    pub fn plucks(&self) -> impl ExactSizeIterator<Item = &Pluck> {
        self.notes.iter().map(|note| &note.pluck)
    }

    /// The plucks from one time to before another, in seconds.
    pub fn plucks_between(&self, start: f64, end: f64) -> impl Iterator<Item = &Pluck> {
        let first = self.notes.partition_point(|note| note.pluck.start < start);
        let after = self.notes.partition_point(|note| note.pluck.start < end);
        self.notes[first..after.max(first)]
            .iter()
            .map(|note| &note.pluck)
    }

    /// The clicks, in order.
    pub fn clicks(&self) -> &[Click] {
        &self.clicks
    }

    /// When the next time through would begin, in seconds.
    pub fn seconds(&self) -> f64 {
        self.seconds
    }

    /// The gain that prevents clipping; 1 while few strings sound together.
    pub fn gain(&self) -> f32 {
        self.gain
    }

    /// The highest fundamental in it, in hertz; 0 without plucks. Plucks above [`SampleRate::highest_fundamental`] do
    /// not sound at that rate.
    pub fn highest_fundamental(&self) -> f64 {
        self.plucks()
            .map(|pluck| pluck.tone.frequency())
            .fold(0.0, f64::max)
    }

    /// All samples, between −1 and 1, from the start until the last string and the body are silent.
    pub fn samples(&self, rate: SampleRate) -> Vec<f32> {
        let last = self
            .notes
            .iter()
            .map(|note| note.silent)
            .fold(self.seconds, f64::max);
        let mut samples = vec![0.0; rate.sample_at(last + Performance::TAIL) as usize];
        let mut renderer = Renderer::new(rate);
        renderer.play(Arc::new(self.clone()), 0.0);
        renderer.render(&mut samples);
        samples
    }

    pub(super) fn notes(&self) -> &[DampedPluck] {
        &self.notes
    }
}

/// When each string is damped: at the end of its note or, in time for it, by the next note on the same string.
fn damped(plucks: Vec<Pluck>) -> Vec<DampedPluck> {
    let mut next_starts: Vec<(Layer, StringNumber, f64)> = Vec::new();
    let mut notes: Vec<DampedPluck> = Vec::with_capacity(plucks.len());
    for pluck in plucks.into_iter().rev() {
        let same = next_starts
            .iter_mut()
            .find(|(layer, string, _)| (*layer, *string) == (pluck.layer, pluck.string));
        let next = match same {
            Some((.., start)) => std::mem::replace(start, pluck.start),
            None => {
                next_starts.push((pluck.layer, pluck.string, pluck.start));
                f64::INFINITY
            }
        };
        let rings_out = pluck.start + INAUDIBLE / pluck.tone.decay();
        let end = pluck.end.min(rings_out);
        let (damped, silent) = if next < end + DAMPING {
            (end.min(next - CUTTING).max(pluck.start), next)
        } else {
            (end, end + DAMPING)
        };
        notes.push(DampedPluck {
            pluck,
            damped,
            silent,
        });
    }
    notes.reverse();
    notes
}

/// The gain that keeps everything that sounds together below full scale.
///
/// A string is loudest when plucked, and decays at least as fast as its fundamental.
fn headroom(notes: &[DampedPluck], has_clicks: bool) -> f32 {
    let body = 10f64.powf(MOST_GAIN / 20.0);
    let peak = |note: &DampedPluck| f64::from(FULL_PEAK * note.pluck.strength.amplitude()) * body;
    let mut sounding: Vec<&DampedPluck> = Vec::new();
    let mut loudest: f64 = 0.0;
    for note in notes {
        let now = note.pluck.start;
        sounding.retain(|it| it.silent > now);
        sounding.push(note);
        let sum: f64 = sounding
            .iter()
            .map(|it| {
                let lost = it.pluck.tone.decay() * (now - it.pluck.start);
                peak(it) * 10f64.powf(-lost / 20.0)
            })
            .sum();
        loudest = loudest.max(sum);
    }
    let clicks = if has_clicks { LOUDEST_CLICK } else { 0.0 };
    (HIGHEST_PEAK / (loudest + clicks).max(f64::MIN_POSITIVE)).min(1.0) as f32
}

/// The peak that is never passed, a little below full scale.
const HIGHEST_PEAK: f64 = 0.98;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::StringMaterial;

    fn pluck(string: u8, start: f64, end: f64) -> Pluck {
        let tone = Tone::new(220.0, StringMaterial::Steel).unwrap();
        Pluck::new(tone, StringNumber::new(string).unwrap(), start, end)
    }

    #[test]
    fn a_string_sounds_one_note_at_a_time() {
        let plucks = vec![pluck(1, 0.0, 2.0), pluck(2, 0.5, 2.0), pluck(1, 1.0, 3.0)];
        let performance = Performance::new(plucks, Vec::new(), 3.0).unwrap();
        let silent: Vec<f64> = performance.notes().iter().map(|note| note.silent).collect();
        assert_eq!(silent, [1.0, 2.0 + DAMPING, 3.0 + DAMPING]);
        // Another layer is another instrument.
        let under = Pluck {
            layer: Layer::Chords,
            ..pluck(1, 1.0, 3.0)
        };
        let two = Performance::new(vec![pluck(1, 0.0, 2.0), under], Vec::new(), 3.0).unwrap();
        assert_eq!(two.notes()[0].silent, 2.0 + DAMPING);
    }

    #[test]
    fn invalid_times_are_refused() {
        for (start, end) in [
            (-1.0, 1.0),
            (1.0, f64::NAN),
            (0.0, f64::INFINITY),
            (1.0, 1.0),
            (2.0, 1.0),
            (0.0, 40_000.0),
        ] {
            assert!(
                Performance::new(vec![pluck(1, start, end)], Vec::new(), 1.0).is_err(),
                "{start} {end}"
            );
        }
        assert!(Performance::new(Vec::new(), Vec::new(), f64::NAN).is_err());
        assert!(Performance::new(Vec::new(), Vec::new(), 0.0).is_ok());
        assert!(Strength::percent(0).is_err() && Strength::percent(101).is_err());
    }

    #[test]
    fn strengths_are_shares_of_the_strongest() {
        let strength = Strength::percent(50).unwrap();
        assert_eq!(strength.amplitude(), 0.5);
        assert!((strength.softer(20.0).amplitude() - 0.05).abs() < 1e-6);
        assert_eq!(strength.softer(-6.0), strength);
        assert!(strength.softer(1e9).amplitude() > 0.0);
    }
}
