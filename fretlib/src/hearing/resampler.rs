//! From any sample rate to the working one.

use num_integer::Integer;

use super::recording_rate::RecordingRate;

/// Zero crossings of the low-pass on each side; 16 keep the band up to 9 kHz and leave aliases below −80 dB there.
const CROSSINGS: f64 = 16.0;

/// The share of the lower Nyquist frequency that is kept; the rest is the slope of the low-pass.
const KEPT: f64 = 0.92;

/// Converts a stream of samples to [`RecordingRate::WORKING`], piece by piece; the size of the pieces makes no
/// difference.
///
/// A windowed sinc in as many phases as the two rates need (Smith, "Digital Audio Resampling", common practice).
#[derive(Clone, Debug)]
pub struct Resampler {
    // Rates in lowest terms: `up` samples out for `down` in.
    up: usize,
    down: usize,
    taps: usize,
    // `up` rows of `taps` weights.
    weights: Vec<f32>,
    // The last samples in, from `first` on in the count of the stream.
    held: Vec<f32>,
    first: i64,
    // How many samples have gone out.
    made: u64,
    seen: u64,
}

impl Resampler {
    /// A converter from `rate`, at the start of a stream.
    pub fn new(rate: RecordingRate) -> Resampler {
        let (from, to) = (rate.get() as usize, RecordingRate::WORKING.get() as usize);
        let common = from.gcd(&to);
        let (up, down) = (to / common, from / common);
        // In units of samples in: a cut-off at the lower of the two Nyquist frequencies.
        let cut = KEPT * (to as f64 / from as f64).min(1.0);
        let half = CROSSINGS / cut;
        let taps = 2 * half.ceil() as usize + 1;
        let mut weights = Vec::with_capacity(up * taps);
        for phase in 0..up {
            let offset = phase as f64 / up as f64;
            let row: Vec<f64> = (0..taps)
                .map(|tap| {
                    let x = tap as f64 - half.ceil() - offset;
                    let window = if x.abs() < half {
                        (0.5 * std::f64::consts::PI * x / half).cos().powi(2)
                    } else {
                        0.0
                    };
                    sinc(cut * x) * window
                })
                .collect();
            let sum: f64 = row.iter().sum();
            weights.extend(row.iter().map(|weight| (weight / sum) as f32));
        }
        Resampler {
            up,
            down,
            taps,
            weights,
            held: vec![0.0; taps / 2],
            first: -(taps as i64 / 2),
            made: 0,
            seen: 0,
        }
    }

    /// Takes the next samples of the stream and gives those of the working rate that are ready.
    pub fn push(&mut self, samples: &[f32]) -> Vec<f32> {
        self.seen += samples.len() as u64;
        if self.up == self.down {
            self.made += samples.len() as u64;
            return samples.to_vec();
        }
        self.held.extend_from_slice(samples);
        self.make(u64::MAX)
    }

    /// The last samples, once the stream has ended.
    pub fn finish(mut self) -> Vec<f32> {
        if self.up == self.down {
            return Vec::new();
        }
        let length = (self.seen * self.up as u64).div_ceil(self.down as u64);
        self.held.extend(vec![0.0; self.taps]);
        self.make(length)
    }

    fn make(&mut self, until: u64) -> Vec<f32> {
        let mut out = Vec::new();
        while self.made < until {
            let position = self.made * self.down as u64;
            let whole = (position / self.up as u64) as i64;
            let phase = (position % self.up as u64) as usize;
            let start = whole - self.taps as i64 / 2 - self.first;
            let Some(window) = self.held.get(start as usize..start as usize + self.taps) else {
                break;
            };
            let row = &self.weights[phase * self.taps..(phase + 1) * self.taps];
            out.push(
                row.iter()
                    .zip(window)
                    .map(|(weight, sample)| weight * sample)
                    .sum(),
            );
            self.made += 1;
        }
        let next = (self.made * self.down as u64 / self.up as u64) as i64 - self.taps as i64 / 2;
        let spent = (next - self.first).clamp(0, self.held.len() as i64);
        self.held.drain(..spent as usize);
        self.first += spent;
        out
    }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 {
        return 1.0;
    }
    let x = std::f64::consts::PI * x;
    x.sin() / x
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(hertz: f64, rate: u32, length: usize) -> Vec<f32> {
        (0..length)
            .map(|k| (std::f64::consts::TAU * hertz * k as f64 / f64::from(rate)).sin() as f32)
            .collect()
    }

    #[test]
    fn a_tone_stays_a_tone_whatever_the_rate() {
        for rate in [8_000, 11_025, 16_000, 32_000, 44_100, 48_000, 96_000] {
            let mut resampler = Resampler::new(RecordingRate::new(rate).unwrap());
            let mut out = resampler.push(&sine(440.0, rate, rate as usize));
            out.extend(resampler.finish());
            assert_eq!(out.len(), 22_050, "{rate}");
            let wanted = sine(440.0, 22_050, 22_050);
            let worst = (200..21_800)
                .map(|k| (out[k] - wanted[k]).abs())
                .fold(0.0, f32::max);
            assert!(worst < 2e-3, "{rate}: {worst}");
        }
    }

    #[test]
    fn frequencies_above_the_working_rate_are_removed() {
        let mut resampler = Resampler::new(RecordingRate::new(48_000).unwrap());
        let out = resampler.push(&sine(13_000.0, 48_000, 48_000));
        let worst = out[500..21_000]
            .iter()
            .fold(0.0f32, |worst, it| worst.max(it.abs()));
        assert!(worst < 1e-3, "{worst}");
    }

    #[test]
    fn pieces_of_any_length_give_the_same_samples() {
        let samples = sine(330.0, 48_000, 5_000);
        let mut whole = Resampler::new(RecordingRate::new(48_000).unwrap());
        let mut expected = whole.push(&samples);
        expected.extend(whole.finish());
        let mut pieces = Resampler::new(RecordingRate::new(48_000).unwrap());
        let mut found = Vec::new();
        for piece in samples.chunks(37) {
            found.extend(pieces.push(piece));
        }
        found.extend(pieces.finish());
        assert_eq!(found, expected);
    }
}
