//! How many samples make a second.

use crate::error::{OutOfRange, check_range};

/// A sample rate in samples a second (Hz).
///
/// ```
/// use fretlib::hearing::RecordingRate;
///
/// assert_eq!(RecordingRate::new(44_100)?.get(), 44_100);
/// assert!(RecordingRate::new(0).is_err());
/// # Ok::<(), fretlib::OutOfRange>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct RecordingRate(u32);

impl RecordingRate {
    /// The rate at which everything is heard; other rates are converted to it.
    pub const WORKING: RecordingRate = RecordingRate(22_050);

    /// # Errors
    ///
    /// When `hertz` is outside 8,000 to 384,000: below it the strings have no overtones left, above it nobody records.
    pub const fn new(hertz: u32) -> Result<RecordingRate, OutOfRange> {
        if let Err(error) = check_range("samples a second", hertz as i64, 8_000, 384_000) {
            return Err(error);
        }
        Ok(RecordingRate(hertz))
    }

    /// Samples a second.
    pub const fn get(self) -> u32 {
        self.0
    }

    /// Seconds that `samples` last.
    pub fn seconds(self, samples: u64) -> f64 {
        samples as f64 / f64::from(self.0)
    }
}
