//! How loud each band of a recording is over time.

use std::ops::Range;

use super::strike_candidate::{FRAME, HOP, RATE, bands};

/// Frames of the strike finder for one level: 11.6 ms.
const EVERY: usize = 2;

/// The lowest level that is kept, in dB below full scale, and how many steps a decibel has: a byte reaches up to +7 dB.
const LOWEST_DB: f32 = -120.0;
const STEPS: f32 = 2.0;

/// The level in bands of a semitone, and of all bands together, in steps of half a decibel.
///
/// An hour takes 26 MB.
#[derive(Clone, Debug)]
pub struct BandLevels {
    bands: Vec<Range<usize>>,
    // The bands of a frame, and their sum.
    steps: Vec<u8>,
    frames: usize,
}

impl BandLevels {
    pub fn new() -> BandLevels {
        BandLevels {
            bands: bands(FRAME),
            steps: Vec::new(),
            frames: 0,
        }
    }

    /// Adds a frame of the strike finder: the magnitude in each band.
    pub fn push(&mut self, magnitudes: &[f32]) {
        if self.frames.is_multiple_of(EVERY) {
            let all = magnitudes.iter().map(|it| it * it).sum::<f32>().sqrt();
            let step = |magnitude: f32| {
                let db = 20.0 * magnitude.max(1e-6).log10();
                (STEPS * (db - LOWEST_DB)).round().clamp(0.0, 255.0) as u8
            };
            self.steps
                .extend(magnitudes.iter().chain([&all]).map(|it| step(*it)));
        }
        self.frames += 1;
    }

    /// The levels of the bands in which a partial of this frequency lies, in dB; the loudest where it lies between two.
    pub fn partial(&self, hertz: f32, seconds: Range<f64>) -> Vec<f32> {
        let bin = hertz * FRAME as f32 / RATE;
        let bins = [(bin - 1.0).round() as usize, (bin + 1.0).round() as usize];
        let [first, last] = bins.map(|bin| {
            let band = self.bands.partition_point(|it| it.end <= bin);
            band.min(self.bands.len() - 1)
        });
        self.loudest(first..last + 1, seconds)
    }

    /// The levels of all bands together, in dB.
    pub fn total(&self, seconds: Range<f64>) -> Vec<f32> {
        self.loudest(self.bands.len()..self.bands.len() + 1, seconds)
    }

    /// The loudest of some bands from frame to frame; at least one frame, unless there is none at all.
    fn loudest(&self, bands: Range<usize>, seconds: Range<f64>) -> Vec<f32> {
        let width = self.bands.len() + 1;
        let count = self.steps.len() / width;
        let frame = |seconds: f64| (seconds * f64::from(RATE) / (EVERY * HOP) as f64).round();
        let start = (frame(seconds.start).max(0.0) as usize).min(count.saturating_sub(1));
        let end = (frame(seconds.end).max(0.0) as usize + 1).clamp(start, count);
        self.steps[start * width..end * width]
            .chunks_exact(width)
            .map(|it| it[bands.clone()].iter().copied().max().unwrap_or(0))
            .map(|step| LOWEST_DB + f32::from(step) / STEPS)
            .collect()
    }
}
