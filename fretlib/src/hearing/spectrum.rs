//! Short-time spectra.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

/// Magnitude spectra of one length, Hann windowed.
pub(super) struct Spectrum {
    transform: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl Spectrum {
    pub fn new(length: usize) -> Spectrum {
        let transform = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        Spectrum {
            input: transform.make_input_vec(),
            output: transform.make_output_vec(),
            scratch: transform.make_scratch_vec(),
            transform,
        }
    }

    /// The magnitudes of `samples` from `start` on under `window`, into `magnitudes`.
    ///
    /// Samples outside the signal are silence, and the window is padded with silence to the length of the transform. A sine of
    /// amplitude 1 gives about 1, whatever the window's length.
    pub fn magnitudes(
        &mut self,
        samples: &[f32],
        start: isize,
        window: &[f32],
        magnitudes: &mut Vec<f32>,
    ) {
        self.input.fill(0.0);
        let silent = usize::try_from(-start).unwrap_or(0).min(window.len());
        let sounding = usize::try_from(start).unwrap_or(0).min(samples.len());
        let windowed = samples[sounding..].iter().zip(&window[silent..]);
        for (input, (sample, weight)) in self.input[silent..].iter_mut().zip(windowed) {
            *input = sample * weight;
        }
        // The lengths are the plan's own, so this cannot fail.
        let transformed = self.transform.process_with_scratch(
            &mut self.input,
            &mut self.output,
            &mut self.scratch,
        );
        debug_assert!(transformed.is_ok());
        let scale = 4.0 / window.len() as f32;
        magnitudes.clear();
        // `Complex::norm` guards against overflow, which samples cannot cause, and takes a tenth of all the time.
        let magnitude = |it: &Complex<f32>| it.norm_sqr().sqrt() * scale;
        magnitudes.extend(self.output.iter().map(magnitude));
    }
}

/// A Hann window.
pub(super) fn hann(length: usize) -> Vec<f32> {
    (0..length)
        .map(|k| {
            let turn = std::f64::consts::TAU * (k as f64 + 0.5) / length as f64;
            (0.5 - 0.5 * turn.cos()) as f32
        })
        .collect()
}
