//! How many samples make a second.

use crate::error::{OutOfRange, check_range};

/// Samples a second.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct SampleRate(u32);

impl SampleRate {
    /// 44,100 Hz, the rate of the compact disc.
    pub const CD: SampleRate = SampleRate(44_100);

    /// This many samples a second.
    ///
    /// # Errors
    ///
    /// When `hertz` is outside 8,000 to 192,000.
    pub const fn new(hertz: u32) -> Result<SampleRate, OutOfRange> {
        match check_range("sample rate", hertz as i64, 8_000, 192_000) {
            Ok(()) => Ok(SampleRate(hertz)),
            Err(error) => Err(error),
        }
    }

    /// The number of samples in a second.
    pub const fn hertz(self) -> u32 {
        self.0
    }

    /// The highest fundamental that a [`PluckedString`](super::PluckedString) can have at this rate: a quarter of it.
    pub fn highest_fundamental(self) -> f64 {
        f64::from(self.0) / 4.0
    }

    /// The sample nearest to a time; the first for a time before the start.
    pub fn sample_at(self, seconds: f64) -> u64 {
        (seconds * f64::from(self.0)).round() as u64
    }

    /// When a sample sounds, in seconds from the first.
    pub fn seconds(self, sample: u64) -> f64 {
        sample as f64 / f64::from(self.0)
    }
}
