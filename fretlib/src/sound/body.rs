//! The resonances of the instrument's body.

use std::f64::consts::TAU;

use super::sample_rate::SampleRate;

/// Resonances of a guitar's body: frequency in hertz, gain in dB, quality.
///
/// The air in the body, the first mode of the top, a higher one. Source: N. Fletcher, T. Rossing, *The Physics of Musical
/// Instruments*, on the guitar as a vibrating system, where they lie near 100, 200 and 400 Hz (from memory); gains chosen by
/// ear.
const RESONANCES: [(f64, f64, f64); 3] = [(102.0, 3.0, 4.0), (204.0, 3.0, 3.5), (410.0, 2.0, 2.5)];

/// The most that all resonances together add to a level, in dB: a little more than the strongest, since they hardly
/// overlap.
pub(super) const MOST_GAIN: f64 = 4.0;

/// The body: a filter in place, over blocks of samples that follow each other.
#[derive(Clone, Debug)]
pub(super) struct Body {
    modes: [BodyMode; 3],
}

#[derive(Clone, Copy, Debug)]
struct BodyMode {
    ahead: [f32; 3],
    back: [f32; 2],
    state: [f32; 2],
}

impl Body {
    pub(super) fn new(rate: SampleRate) -> Body {
        Body {
            modes: RESONANCES
                .map(|(frequency, gain, quality)| BodyMode::new(frequency, gain, quality, rate)),
        }
    }

    pub(super) fn apply(&mut self, samples: &mut [f32]) {
        // All modes in one loop, so that the processor can work on them in parallel.
        let mut modes = self.modes;
        for sample in samples {
            *sample = modes
                .iter_mut()
                .fold(*sample, |sample, mode| mode.next(sample));
        }
        self.modes = modes;
        self.modes.iter_mut().for_each(BodyMode::settle);
    }
}

impl BodyMode {
    /// Source: R. Bristow-Johnson, *Cookbook formulae for audio EQ biquad filter coefficients*, peaking EQ (from memory).
    fn new(frequency: f64, gain: f64, quality: f64, rate: SampleRate) -> BodyMode {
        let amplitude = 10f64.powf(gain / 40.0);
        let w = TAU * frequency / f64::from(rate.hertz());
        let alpha = w.sin() / (2.0 * quality);
        let scale = 1.0 + alpha / amplitude;
        let part = |value: f64| (value / scale) as f32;
        BodyMode {
            ahead: [
                part(1.0 + alpha * amplitude),
                part(-2.0 * w.cos()),
                part(1.0 - alpha * amplitude),
            ],
            back: [part(-2.0 * w.cos()), part(1.0 - alpha / amplitude)],
            state: [0.0; 2],
        }
    }

    fn next(&mut self, input: f32) -> f32 {
        let [first, second, third] = self.ahead;
        let [one, two] = self.back;
        let [near, far] = self.state;
        let output = first * input + near;
        self.state = [
            (second * input + far) - one * output,
            third * input - two * output,
        ];
        output
    }

    /// Values too small to hear are set to zero, because denormal numbers are slow.
    fn settle(&mut self) {
        for value in &mut self.state {
            if value.abs() < 1e-15 {
                *value = 0.0;
            }
        }
    }
}
