//! One string, plucked once.

use std::f64::consts::TAU;

use super::performance::Strength;
use super::sample_rate::SampleRate;
use super::tone::Tone;

/// A plucked string as a loop: a delay of one period, a filter that takes a little away each time round, and an allpass
/// for the fraction of a sample in a period.
///
/// Sources: K. Karplus, A. Strong, *Digital Synthesis of Plucked-String and Drum Timbres*, and D. Jaffe, J. Smith,
/// *Extensions of the Karplus-Strong Plucked-String Algorithm*, both Computer Music Journal 7(2), 1983. The allpass is tuned
/// by its phase delay at the fundamental, c = sin((1 − D)·w/2) / sin((1 + D)·w/2), which follows from its transfer function.
///
/// The string does not end by itself; [`Renderer`](super::Renderer) damps it where its note ends.
#[derive(Clone, Debug)]
pub struct PluckedString {
    // Invariant: not empty; `at` is within it.
    delay: Vec<f32>,
    at: usize,
    direct: f32,
    delayed: f32,
    allpass: f32,
    last_read: f32,
    last_damped: f32,
    last_tuned: f32,
}

/// The peak of a string plucked at full strength.
pub(super) const FULL_PEAK: f32 = 0.5;
/// Where the string is plucked, as a part of its sounding length from the bridge: over the sound hole, a little towards the
/// bridge. Chosen by ear, no source.
const PLUCKED_AT: f64 = 0.18;
/// The loop must lose something at every frequency, or it would never end.
const MOST_KEPT: f64 = 0.999_99;

impl PluckedString {
    /// Plucks a string; `None` when its fundamental is too high for the rate, see
    /// [`SampleRate::highest_fundamental`].
    pub fn new(tone: Tone, strength: Strength, rate: SampleRate) -> Option<PluckedString> {
        let hertz = f64::from(rate.hertz());
        if tone.frequency() > rate.highest_fundamental() {
            return None;
        }
        let w = TAU * tone.frequency() / hertz;
        let (kept, s) = losses(tone, w, hertz);
        let filter_delay = (s * w.sin()).atan2(1.0 - s + s * w.cos()) / w;
        let rest = hertz / tone.frequency() - filter_delay;
        // The allpass works best at a delay of about one sample.
        let whole = (rest - 0.5).floor();
        let part = rest - whole;
        let allpass = ((1.0 - part) * w / 2.0).sin() / ((1.0 + part) * w / 2.0).sin();
        Some(PluckedString {
            delay: pluck(tone, strength, whole as usize, hertz),
            at: 0,
            direct: (kept * (1.0 - s)) as f32,
            delayed: (kept * s) as f32,
            allpass: allpass as f32,
            last_read: 0.0,
            last_damped: 0.0,
            last_tuned: 0.0,
        })
    }

    /// The next samples.
    pub fn fill(&mut self, samples: &mut [f32]) {
        let mut left = samples;
        while !left.is_empty() {
            let run = (self.delay.len() - self.at).min(left.len());
            let (now, later) = left.split_at_mut(run);
            for (sample, slot) in now.iter_mut().zip(&mut self.delay[self.at..]) {
                let read = *slot;
                *sample = read;
                let damped = self.direct * read + self.delayed * self.last_read;
                // Written so that only one product and one difference depend on the previous sample.
                let tuned =
                    (self.allpass * damped + self.last_damped) - self.allpass * self.last_tuned;
                self.last_read = read;
                self.last_damped = damped;
                self.last_tuned = tuned;
                *slot = tuned;
            }
            self.at += run;
            if self.at == self.delay.len() {
                self.at = 0;
            }
            left = later;
        }
    }
}

/// What the loop keeps of the fundamental each time round and the s of its filter (1 − s) + s·z⁻¹.
fn losses(tone: Tone, w: f64, hertz: f64) -> (f64, f64) {
    let keep = 10f64.powf(-tone.decay() / 20.0 / tone.frequency());
    let s = tone.material().damping();
    // The filter's gain at w is √(1 − u·(1 − cos w)) with u = 2s(1 − s). The same u would damp a partial less at a
    // higher rate, where its w is smaller, so u is adapted, up to one half, the limit of the filter.
    let at_reference = 1.0 - (TAU * REFERENCE_PARTIAL / REFERENCE_RATE).cos();
    let at_rate = 1.0 - (TAU * REFERENCE_PARTIAL / hertz).cos();
    let wanted = 2.0 * s * (1.0 - s) * at_reference / at_rate;
    // Nor may it take more from the fundamental than the decay says.
    let most = (1.0 - (keep / MOST_KEPT).powi(2)) / (1.0 - w.cos());
    let u = wanted.min(0.5).min(most).max(0.0);
    let gain = (1.0 - u * (1.0 - w.cos())).sqrt();
    (keep / gain, (1.0 - (1.0 - 2.0 * u).max(0.0).sqrt()) / 2.0)
}

/// The partial, in hertz, whose damping is the same at every rate.
const REFERENCE_PARTIAL: f64 = 3_000.0;
/// The rate for which [`StringMaterial::damping`](super::StringMaterial) is meant.
const REFERENCE_RATE: f64 = 44_100.0;

/// One period of the force on the bridge when a string that was drawn aside to a corner is let go: high for as long as the
/// shorter part takes, low for the rest, and softened by what drew it.
///
/// Source: N. Fletcher, T. Rossing, *The Physics of Musical Instruments*, on the plucked string (from memory).
fn pluck(tone: Tone, strength: Strength, length: usize, hertz: f64) -> Vec<f32> {
    let corner = PLUCKED_AT * length as f64;
    let wave = |sample: usize| {
        let high = (corner - sample as f64).clamp(0.0, 1.0);
        high - PLUCKED_AT
    };
    // A softer pluck is duller. Chosen by ear, no source.
    let amplitude = f64::from(strength.amplitude());
    let cutoff = tone.material().brightness() * (0.3 + 0.7 * amplitude);
    let step = 1.0 - (-TAU * cutoff / hertz).exp();
    let mut level = 0.0;
    // Two rounds: by the second, the filter has settled.
    for sample in 0..length {
        level += step * (wave(sample) - level);
    }
    let mut period: Vec<f64> = (0..length)
        .map(|sample| {
            level += step * (wave(sample) - level);
            level
        })
        .collect();
    let mean = period.iter().sum::<f64>() / length as f64;
    period.iter_mut().for_each(|it| *it -= mean);
    let peak = period.iter().fold(0.0, |peak: f64, it| peak.max(it.abs()));
    let scale = f64::from(FULL_PEAK) * amplitude / peak.max(f64::MIN_POSITIVE);
    period.iter().map(|it| (it * scale) as f32).collect()
}
