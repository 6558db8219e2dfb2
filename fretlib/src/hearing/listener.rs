//! Listening to a stream of samples.

use super::band_levels::BandLevels;
use super::neighbours;
use super::recording_rate::RecordingRate;
use super::resampler::Resampler;
use super::strike::{Strike, tuning};
use super::strike_candidate::{Finder, HOP, StrikeCandidate};
use super::struck_note::{StruckNote, as_note, struck};

/// Samples that are looked through at once, and how many more are seen before and after them: 59, 3 and 6 seconds.
const CORE: usize = 10_240 * HOP;
const BEFORE: usize = 517 * HOP;
const AFTER: usize = 1034 * HOP;

/// Listens to samples piece by piece; the size of the pieces makes no difference.
///
/// Only the last minute or so of sound is kept, so a recording may be as long as it likes.
///
/// ```
/// use fretlib::hearing::{Listener, RecordingRate};
///
/// let mut listener = Listener::new(RecordingRate::new(44_100)?);
/// listener.push(&[0.0; 44_100]);
/// let heard = listener.finish();
/// assert_eq!(heard.seconds(), 1.0);
/// assert!(heard.struck_notes().is_empty());
/// # Ok::<(), fretlib::OutOfRange>(())
/// ```
pub struct Listener {
    resampler: Resampler,
    finder: Finder,
    // The samples from `start` on, at the working rate.
    samples: Vec<f32>,
    start: usize,
    // How far the candidates have been found.
    done: usize,
    candidates: Vec<StrikeCandidate>,
    levels: BandLevels,
    length: u64,
    clipped: u64,
    peak: f32,
}

impl Listener {
    /// Begins to listen to samples at `rate`, one channel, full scale from −1 to 1.
    pub fn new(rate: RecordingRate) -> Listener {
        Listener {
            resampler: Resampler::new(rate),
            finder: Finder::new(),
            samples: Vec::new(),
            start: 0,
            done: 0,
            candidates: Vec::new(),
            levels: BandLevels::new(),
            length: 0,
            clipped: 0,
            peak: 0.0,
        }
    }

    /// Takes the next samples.
    ///
    /// A sample that is not a number is silence.
    pub fn push(&mut self, samples: &[f32]) {
        let clean: Vec<f32> = samples
            .iter()
            .map(|it| {
                if it.is_finite() {
                    it.clamp(-8.0, 8.0)
                } else {
                    0.0
                }
            })
            .collect();
        for sample in &clean {
            self.peak = self.peak.max(sample.abs());
            self.clipped += u64::from(sample.abs() >= CLIPPED);
        }
        self.length += clean.len() as u64;
        let resampled = self.resampler.push(&clean);
        self.samples.extend(resampled);
        while self.start + self.samples.len() >= self.done + CORE + AFTER {
            self.look(self.done + CORE);
        }
    }

    /// Everything heard, once the samples have ended.
    pub fn finish(mut self) -> Heard {
        let rest =
            std::mem::replace(&mut self.resampler, Resampler::new(RecordingRate::WORKING)).finish();
        self.samples.extend(rest);
        let end = self.start + self.samples.len();
        while self.done < end {
            self.look((self.done + CORE).min(end));
        }
        let tuning = tuning(&self.candidates);
        let mut strikes: Vec<Strike> = self
            .candidates
            .into_iter()
            .map(|candidate| Strike::new(candidate, tuning))
            .collect();
        neighbours::weigh(&mut strikes);
        Heard {
            strikes,
            levels: self.levels,
            tuning,
            seconds: RecordingRate::WORKING.seconds(end as u64),
            peak: self.peak,
            clipped: self.clipped as f64 / self.length.max(1) as f64,
        }
    }

    /// Finds the candidates up to `until`, in samples of the stream.
    fn look(&mut self, until: usize) {
        let from = self.done.saturating_sub(BEFORE);
        let stretch =
            &self.samples[from - self.start..(until + AFTER - self.start).min(self.samples.len())];
        let offset = RecordingRate::WORKING.seconds(from as u64);
        let (first, last) = (
            RecordingRate::WORKING.seconds(self.done as u64),
            RecordingRate::WORKING.seconds(until as u64),
        );
        let (candidates, magnitudes) = self.finder.find(stretch);
        let frames = magnitudes.chunks_exact(self.finder.band_count());
        let new = (self.done - from) / HOP..(until - from).div_ceil(HOP);
        for frame in frames.skip(new.start).take(new.len()) {
            self.levels.push(frame);
        }
        for mut candidate in candidates {
            candidate.at += offset;
            candidate.damped = candidate.damped.map(|it| it + offset);
            let is_new = self
                .candidates
                .last()
                .is_none_or(|last| candidate.at > last.at + 0.05);
            if (first..last).contains(&candidate.at.max(0.0)) && is_new {
                self.candidates.push(candidate);
            }
        }
        self.done = until;
        let spent = self.done.saturating_sub(BEFORE).saturating_sub(self.start);
        self.samples.drain(..spent.min(self.samples.len()));
        self.start += spent;
    }
}

/// A sample this high was most likely clipped.
const CLIPPED: f32 = 0.999;

/// What was heard in a recording.
#[derive(Clone, Debug)]
pub struct Heard {
    pub(super) strikes: Vec<Strike>,
    pub(super) levels: BandLevels,
    pub(super) tuning: f32,
    seconds: f64,
    peak: f32,
    clipped: f64,
}

impl Heard {
    /// Listens to a whole recording at once: one channel, full scale from −1 to 1.
    pub fn whole(samples: &[f32], rate: RecordingRate) -> Heard {
        let mut listener = Listener::new(rate);
        listener.push(samples);
        listener.finish()
    }

    /// The notes struck, in order, estimated without knowing the melody.
    pub fn struck_notes(&self) -> Vec<StruckNote> {
        let found = struck(&self.strikes);
        found
            .iter()
            .enumerate()
            .filter_map(|(number, &(strike, sounded))| {
                let next = found
                    .get(number + 1)
                    .map_or(self.seconds, |&(next, _)| self.strikes[next].at());
                as_note(&self.strikes[strike], sounded.pitch, self.tuning, next)
            })
            .collect()
    }

    /// How far the strings are from A4 = 440 Hz, in cents between −50 and 50.
    pub fn tuning_cents(&self) -> f32 {
        100.0 * self.tuning
    }

    /// How long the recording is.
    pub fn seconds(&self) -> f64 {
        self.seconds
    }

    /// The highest sample, full scale being 1; 0 for digital silence.
    pub fn peak(&self) -> f32 {
        self.peak
    }

    /// The share of samples at full scale, from 0 to 1: more than one in a thousand means that the recording is clipped.
    pub fn clipped(&self) -> f64 {
        self.clipped
    }
}
