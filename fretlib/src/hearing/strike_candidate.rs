//! Moments at which a string may have been struck, with the rise of the spectrum there.

use super::recording_rate::RecordingRate;
use super::spectrum::{Spectrum, hann};

pub const RATE: f32 = RecordingRate::WORKING.get() as f32;

/// Samples from frame to frame: 5.8 ms.
pub const HOP: usize = 128;

/// Samples of a frame: 93 ms, so that semitones on the low strings stand apart.
pub const FRAME: usize = 2048;

/// Frames between the two spectra that are compared: 35 ms.
const LAG: usize = 6;

/// Frames on each side of which the median is taken: 0.25 s.
const MEDIAN_REACH: usize = 43;

/// Frames within which there is one strike: 35 ms.
const SPACING: usize = 6;

/// How long after the strike itself the flux peaks, in seconds; measured.
const DELAY: f32 = 0.009;

/// The lowest pitch looked for: MIDI note number (D2, a guitar tuned down).
pub const LOWEST: usize = 36;
/// The highest pitch looked for.
pub const HIGHEST: usize = 90;
/// Combs to a semitone.
pub const STEPS: usize = 5;
/// Combs in all, the first one two steps below [`LOWEST`].
pub const COMBS: usize = (HIGHEST - LOWEST + 1) * STEPS;

/// Overtones of a comb.
const OVERTONES: usize = 12;

/// How much weaker each overtone is than the one below: for a dark string, one in between and a bright one. The best counts.
/// Chosen on takes of our own.
const ROLL_OFFS: [f32; 3] = [0.8, 0.9, 1.0];

/// Magnitudes are raised to this power before one spectrum is taken from the other, so that overtones count beside the
/// loudest partial; chosen on takes of our own.
const COMPRESSION: f32 = 0.33;

/// The shares of the spectrum before that are taken away, and the weight of what is left. A small share shows a string
/// that is struck again; a large one shows a soft note over a loud one that rings on. Chosen on takes of our own.
const TAKEN_AWAY: [(f32, f32); 2] = [(0.5, 1.0), (0.8, 0.5)];

/// Flux at which a strike certainly ends the sound of the one before.
const STRONG: f32 = 0.06;

/// Partials above this are left out, in Hz.
const HIGHEST_HERTZ: f32 = 6000.0;

/// The least and the most samples analysed after a strike: 46 to 186 ms.
pub const SHORTEST: usize = 1024;
const LONGEST: usize = 4096;

/// Samples between the two compared sections: 5 ms, so that no strike is in both.
const GUARD: isize = 110;

/// Samples of the padded spectra that are subtracted: bins of 5.4 Hz.
const RISE: usize = 4096;

/// A moment at which a string may have been struck.
#[derive(Clone, Debug)]
pub struct StrikeCandidate {
    /// Seconds from the start of the recording.
    pub at: f64,
    /// Spectral flux above its running median.
    pub flux: f32,
    /// Share of the spectrum afterwards that stands above the one before.
    pub gain: f32,
    /// RMS level at its highest in the first 60 ms, in dB below full scale.
    pub level_db: f32,
    /// RMS level just before.
    pub before_db: f32,
    /// RMS level at its highest within a second and a half on either side.
    pub local_db: f32,
    /// RMS level a tenth of a second later less the highest in the first 60 ms.
    pub sustain_db: f32,
    /// How far the level stands above its lowest in the 45 ms before.
    pub dip_db: f32,
    /// When the string was damped, in seconds from the start of the recording.
    pub damped: Option<f64>,
    /// Cosine of what rose with each comb.
    pub cosines: Vec<f32>,
    /// The combs that fit better than their neighbours, the best first.
    pub fitting: Vec<FittingComb>,
}

/// What the overtones of one comb did at a strike.
#[derive(Clone, Copy, Debug)]
pub struct FittingComb {
    /// Its number.
    pub comb: usize,
    /// Cosine with the sound after the strike, before it, and one span later.
    pub after: f32,
    pub before: f32,
    pub later: f32,
    /// How much the overtones rose, as natural logarithms: the first, the odd ones, the even ones, and the median.
    pub first_rise: f32,
    pub odd_rise: f32,
    pub even_rise: f32,
    pub median_rise: f32,
    /// The share of the first overtone in the strongest one, and of the odd ones in all.
    pub first_share: f32,
    pub odd_share: f32,
    /// By how much the overtones change from just after the strike to one span later, as a natural logarithm.
    pub holds: f32,
}

/// Searches one section of sound for strikes.
pub struct Finder {
    frames: Spectrum,
    frame_window: Vec<f32>,
    bands: Vec<std::ops::Range<usize>>,
    rises: Spectrum,
    combs: Vec<Option<Combs>>,
}

impl Finder {
    pub fn new() -> Finder {
        Finder {
            frames: Spectrum::new(FRAME),
            frame_window: hann(FRAME),
            bands: bands(FRAME),
            rises: Spectrum::new(RISE),
            combs: Vec::new(),
        }
    }

    /// The candidates in `samples`, with times counted from its start, and the magnitude of each band in each frame.
    pub fn find(&mut self, samples: &[f32]) -> (Vec<StrikeCandidate>, Vec<f32>) {
        let frames = samples.len() / HOP + 1;
        let energy = self.energy(samples, frames);
        let flux = self.flux(&energy, samples, frames);
        let evidence = above_median(&flux);
        let strikes = peaks(&evidence);
        let levels = levels(samples, frames);
        let mut candidates = Vec::with_capacity(strikes.len());
        for (number, &frame) in strikes.iter().enumerate() {
            let at = (frame * HOP) as f32 / RATE - DELAY;
            let strong = STRONG.max(0.3 * evidence[frame]);
            let next = strikes[number + 1..]
                .iter()
                .find(|&&next| evidence[next] >= strong)
                .map_or(frames, |&next| next);
            let span = ((next - frame) * HOP).clamp(SHORTEST, LONGEST) / 256 * 256;
            let mut candidate = self.rise(samples, (at * RATE).round() as isize, span);
            candidate.at = f64::from(at);
            candidate.flux = evidence[frame];
            let around = |from: usize, to: usize| {
                levels[from.min(frames - 1)..to.clamp(1, frames)]
                    .iter()
                    .copied()
                    .fold(-120.0, f32::max)
            };
            candidate.level_db = around(frame, frame + 11);
            candidate.before_db = levels[frame.saturating_sub(4)];
            candidate.local_db = around(frame.saturating_sub(258), frame + 258);
            candidate.sustain_db = around(frame + 14, frame + 20) - candidate.level_db;
            candidate.dip_db = candidate.level_db
                - levels[frame.saturating_sub(8)..(frame + 2).min(frames)]
                    .iter()
                    .copied()
                    .fold(0.0, f32::min);
            candidate.damped = damped(&levels, frame);
            candidates.push(candidate);
        }
        (candidates, energy)
    }

    /// How many bands a frame has.
    pub fn band_count(&self) -> usize {
        self.bands.len()
    }

    fn energy(&mut self, samples: &[f32], frames: usize) -> Vec<f32> {
        let bands = self.bands.len();
        let mut magnitudes = Vec::new();
        let mut energy = vec![0.0f32; frames * bands];
        for frame in 0..frames {
            let start = (frame * HOP) as isize - FRAME as isize / 2;
            self.frames
                .magnitudes(samples, start, &self.frame_window, &mut magnitudes);
            for (band, bins) in self.bands.iter().enumerate() {
                let sum: f32 = magnitudes[bins.clone()].iter().map(|it| it * it).sum();
                energy[frame * bands + band] = sum.sqrt();
            }
        }
        energy
    }

    fn flux(&self, energy: &[f32], samples: &[f32], frames: usize) -> Vec<f32> {
        let bands = self.bands.len();
        let noise = noise_floor(energy, frames, bands);
        let peaks = peak_around(samples, frames);
        let mut flux = vec![0.0; frames];
        for frame in 0..frames {
            let quiet = (peaks[frame] / 300.0).max(1e-6);
            let floors = &noise[frame / NOISE_STEP * bands..][..bands];
            if frame < LAG {
                continue;
            }
            let now = &energy[frame * bands..][..bands];
            let before = &energy[(frame - LAG) * bands..][..bands];
            flux[frame] = rise_of_bands(now, before, quiet, floors);
        }
        flux
    }

    /// What rose in the `span` samples (a multiple of 256) from `at` on, compared with as many before.
    pub fn rise(&mut self, samples: &[f32], at: isize, span: usize) -> StrikeCandidate {
        let combs = Combs::of_span(&mut self.combs, span);
        let window = &combs.window;
        let (mut after, mut before, mut later) = (Vec::new(), Vec::new(), Vec::new());
        self.rises.magnitudes(samples, at, window, &mut after);
        self.rises
            .magnitudes(samples, at - span as isize - GUARD, window, &mut before);
        // While the player is heard live, what follows has not sounded yet: the sound counts as one that holds.
        if at + 2 * span as isize <= samples.len() as isize {
            self.rises
                .magnitudes(samples, at + span as isize, window, &mut later);
        } else {
            later.clone_from(&after);
        }
        let bin = RATE / RISE as f32;
        let (low, high) = ((60.0 / bin) as usize, (HIGHEST_HERTZ / bin) as usize);
        let (mut all, mut gained) = (1e-9, 0.0);
        for k in low..=high {
            all += after[k];
            gained += (after[k] - before[k]).max(0.0);
        }
        for magnitudes in [&mut after, &mut before, &mut later] {
            magnitudes[low..=high]
                .iter_mut()
                .for_each(|it| *it = it.powf(COMPRESSION));
        }
        let mut risen = vec![0.0f32; high + 1];
        for (share, weight) in TAKEN_AWAY {
            let rest: Vec<f32> = (low..=high)
                .map(|k| (after[k] - share * before[k]).max(0.0))
                .collect();
            let scale = weight / norm(&rest);
            for (sum, rest) in risen[low..].iter_mut().zip(rest) {
                *sum += scale * rest;
            }
        }
        let length = norm(&risen);
        let cosines: Vec<f32> = (0..COMBS)
            .map(|comb| combs.cosine(comb, &risen) / length)
            .collect();
        // Below the lowest bin there is rumble.
        for magnitudes in [&mut after, &mut before, &mut later] {
            magnitudes[..low].fill(0.0);
            magnitudes.truncate(high + 1);
        }
        let fitting = best_combs(&cosines)
            .into_iter()
            .map(|comb| combs.fitting(comb, [&after, &before, &later]))
            .collect();
        StrikeCandidate {
            at: 0.0,
            flux: 0.0,
            gain: gained / all,
            level_db: -120.0,
            before_db: -120.0,
            local_db: -120.0,
            sustain_db: 0.0,
            dip_db: 0.0,
            damped: None,
            cosines,
            fitting,
        }
    }
}

/// What sections of one length are compared with: lobes at the overtones of each pitch.
struct Combs {
    // The window of a section.
    window: Vec<f32>,
    lobes: Vec<Lobe>,
    // The start of the lobes of each comb, and the end of the last.
    starts: Vec<usize>,
}

/// The shape of a partial under a Hann window: a raised cosine.
struct Lobe {
    first: usize,
    shape: Vec<f32>,
    energy: f32,
}

impl Combs {
    /// The combs for sections of `span` samples, a multiple of 256; made once.
    fn of_span(combs: &mut Vec<Option<Combs>>, span: usize) -> &Combs {
        let slot = span / 256;
        if combs.len() <= slot {
            combs.resize_with(slot + 1, || None);
        }
        combs[slot].get_or_insert_with(|| Combs::new(span))
    }

    fn new(span: usize) -> Combs {
        let bin = RATE / RISE as f32;
        let half = 2.0 * RATE / span as f32;
        let mut combs = Combs {
            window: hann(span),
            lobes: Vec::new(),
            starts: vec![0],
        };
        for comb in 0..COMBS {
            for overtone in 1..=OVERTONES {
                let centre = comb_hertz(comb) * overtone as f32;
                if centre + half > HIGHEST_HERTZ {
                    break;
                }
                let first = ((centre - half) / bin).ceil() as usize;
                let last = ((centre + half) / bin).floor() as usize;
                let shape: Vec<f32> = (first..=last)
                    .map(|k| (std::f32::consts::PI * (k as f32 * bin - centre) / half).cos())
                    .map(|cosine| 0.5 * (1.0 + cosine))
                    .collect();
                combs.lobes.push(Lobe {
                    first,
                    energy: shape.iter().map(|it| it * it).sum(),
                    shape,
                });
            }
            combs.starts.push(combs.lobes.len());
        }
        combs
    }

    fn lobes(&self, comb: usize) -> &[Lobe] {
        &self.lobes[self.starts[comb]..self.starts[comb + 1]]
    }

    /// The cosine of a spectrum with a comb, times the norm of the spectrum.
    fn cosine(&self, comb: usize, spectrum: &[f32]) -> f32 {
        let mut sums = [0.0f32; ROLL_OFFS.len()];
        let mut norms = [1e-9f32; ROLL_OFFS.len()];
        let mut weights = [1.0f32; ROLL_OFFS.len()];
        for lobe in self.lobes(comb) {
            let product = lobe.product(spectrum);
            for (k, roll_off) in ROLL_OFFS.into_iter().enumerate() {
                sums[k] += weights[k] * product;
                norms[k] += weights[k] * weights[k] * lobe.energy;
                weights[k] *= roll_off;
            }
        }
        let cosines = sums.iter().zip(norms).map(|(sum, norm)| sum / norm.sqrt());
        cosines.fold(0.0, f32::max)
    }

    /// What the overtones of a comb did, given the compressed spectra after a strike, before it, and one span later.
    fn fitting(&self, comb: usize, spectra: [&[f32]; 3]) -> FittingComb {
        let [after, before, later] = spectra.map(|it| self.cosine(comb, it) / norm(it));
        let levels: Vec<[f32; 3]> = self
            .lobes(comb)
            .iter()
            .map(|lobe| spectra.map(|it| lobe.product(it) / lobe.energy + 1e-3))
            .collect();
        let change = |from: f32, to: f32| ((to / from).ln() / COMPRESSION).clamp(-6.0, 6.0);
        let rises: Vec<f32> = levels.iter().map(|it| change(it[1], it[0])).collect();
        let mut first_eight = rises[..rises.len().min(8)].to_vec();
        let mut holds: Vec<f32> = levels
            .iter()
            .take(6)
            .map(|it| change(it[0], it[2]))
            .collect();
        let gains: Vec<f32> = levels
            .iter()
            .take(8)
            .map(|it| (it[0] - 0.5 * it[1]).max(0.0))
            .collect();
        let strongest = gains.iter().copied().fold(1e-3, f32::max);
        FittingComb {
            comb,
            after,
            before,
            later,
            first_rise: rises[0],
            odd_rise: mean(rises.iter().step_by(2).take(4)),
            even_rise: mean(rises.iter().skip(1).step_by(2).take(4)),
            median_rise: middle(&mut first_eight),
            first_share: gains[0] / strongest,
            odd_share: gains.iter().step_by(2).sum::<f32>() / gains.iter().sum::<f32>().max(1e-3),
            holds: middle(&mut holds),
        }
    }
}

impl Lobe {
    fn product(&self, spectrum: &[f32]) -> f32 {
        let under = spectrum.get(self.first..).unwrap_or_default();
        under
            .iter()
            .zip(&self.shape)
            .map(|(it, shape)| it * shape)
            .sum()
    }
}

/// By how much the bands rose on the average, as natural logarithms. A band counts by what it has above its neighbours
/// before, beside `quiet` and the noise.
pub fn rise_of_bands(now: &[f32], before: &[f32], quiet: f32, noise: &[f32]) -> f32 {
    let bands = now.len();
    let mut sum = 0.0;
    for band in 0..bands {
        let scale = 1.0 / quiet.max(NOISE_GUARD * noise[band]);
        let highest = before[band.saturating_sub(1)..(band + 2).min(bands)]
            .iter()
            .copied()
            .fold(0.0, f32::max);
        if now[band] > highest {
            sum += ((1.0 + scale * now[band]) / (1.0 + scale * highest)).ln();
        }
    }
    sum / bands as f32
}

/// Combs kept for a closer look.
const FITTING: usize = 10;

/// The combs with a higher cosine than their neighbours, the best first.
fn best_combs(cosines: &[f32]) -> Vec<usize> {
    let at = |comb: Option<usize>| comb.and_then(|it| cosines.get(it)).copied().unwrap_or(0.0);
    let mut best: Vec<usize> = (0..cosines.len())
        .filter(|&k| cosines[k] >= at(k.checked_sub(1)) && cosines[k] > at(Some(k + 1)))
        .collect();
    best.sort_by(|&a, &b| cosines[b].total_cmp(&cosines[a]));
    best.truncate(FITTING);
    best
}

fn mean<'a>(values: impl Iterator<Item = &'a f32>) -> f32 {
    let (count, sum) = values.fold((0.0, 0.0), |(count, sum), it| (count + 1.0, sum + it));
    sum / f32::max(count, 1.0)
}

/// The middle value; the upper of two. Zero when there is none.
pub fn middle(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

fn norm(values: &[f32]) -> f32 {
    values
        .iter()
        .map(|it| it * it)
        .sum::<f32>()
        .sqrt()
        .max(1e-9)
}

/// The frequency of a comb, in Hz.
fn comb_hertz(comb: usize) -> f32 {
    let midi = LOWEST as f32 + (comb as f32 - 2.0) / STEPS as f32;
    440.0 * ((midi - 69.0) / 12.0).exp2()
}

/// Bands of a semitone from 70 Hz to 9 kHz, of at least one bin each, for frames of `frame` samples.
pub fn bands(frame: usize) -> Vec<std::ops::Range<usize>> {
    let bin = RATE / frame as f32;
    let mut bands = Vec::new();
    let mut edge = 70.0f32;
    let mut first = (edge / bin).round() as usize;
    while edge < 9000.0 {
        edge *= (1.0f32 / 12.0).exp2();
        let next = (edge / bin).round() as usize;
        if next > first {
            bands.push(first..next);
            first = next;
        }
    }
    bands
}

/// Frames from one look at the noise to the next: 0.25 s.
const NOISE_STEP: usize = 43;

/// Frames on each side in which the noise is looked for: 2 s.
const NOISE_REACH: usize = 344;

/// How far above the noise a band must be to count; the lower tenth of a random magnitude lies a third to half of its RMS.
const NOISE_GUARD: f32 = 3.0;

/// The noise in each band, every [`NOISE_STEP`] frames: the lower tenth of two seconds on either side, smoothed over bands.
fn noise_floor(energy: &[f32], frames: usize, bands: usize) -> Vec<f32> {
    let mut floors = Vec::new();
    let mut column = Vec::new();
    for centre in (0..frames).step_by(NOISE_STEP) {
        let around = centre.saturating_sub(NOISE_REACH)..(centre + NOISE_REACH).min(frames);
        let lowest: Vec<f32> = (0..bands)
            .map(|band| {
                column.clear();
                column.extend(
                    around
                        .clone()
                        .step_by(4)
                        .map(|frame| energy[frame * bands + band]),
                );
                let tenth = column.len() / 10;
                *column.select_nth_unstable_by(tenth, f32::total_cmp).1
            })
            .collect();
        for band in 0..bands {
            let mut near: Vec<f32> = lowest[band.saturating_sub(4)..(band + 5).min(bands)].to_vec();
            let middle = near.len() / 2;
            floors.push(*near.select_nth_unstable_by(middle, f32::total_cmp).1);
        }
    }
    floors
}

/// The highest sample within a second and a half of each frame.
fn peak_around(samples: &[f32], frames: usize) -> Vec<f32> {
    let peaks: Vec<f32> = (0..frames)
        .map(|frame| {
            samples[(frame * HOP).min(samples.len())..((frame + 1) * HOP).min(samples.len())]
                .iter()
                .fold(0.0f32, |peak, it| peak.max(it.abs()))
        })
        .collect();
    sliding_maximum(&peaks, 258)
}

fn sliding_maximum(values: &[f32], reach: usize) -> Vec<f32> {
    let mut falling: std::collections::VecDeque<usize> = std::collections::VecDeque::new();
    let mut out = Vec::with_capacity(values.len());
    let mut next = 0;
    for centre in 0..values.len() {
        while next < values.len() && next <= centre + reach {
            while falling
                .back()
                .is_some_and(|&last| values[last] <= values[next])
            {
                falling.pop_back();
            }
            falling.push_back(next);
            next += 1;
        }
        while falling.front().is_some_and(|&first| first + reach < centre) {
            falling.pop_front();
        }
        out.push(falling.front().map_or(0.0, |&first| values[first]));
    }
    out
}

/// Flux less its running median, not below zero.
fn above_median(flux: &[f32]) -> Vec<f32> {
    let mut near = Vec::new();
    (0..flux.len())
        .map(|frame| {
            near.clear();
            near.extend_from_slice(
                &flux[frame.saturating_sub(MEDIAN_REACH)
                    ..(frame + MEDIAN_REACH + 1).min(flux.len())],
            );
            let middle = near.len() / 2;
            let median = *near.select_nth_unstable_by(middle, f32::total_cmp).1;
            (flux[frame] - median).max(0.0)
        })
        .collect()
}

/// Flux below which nothing is a candidate.
const WEAKEST: f32 = 0.005;

/// Local maxima, the strongest within [`SPACING`] frames.
fn peaks(evidence: &[f32]) -> Vec<usize> {
    let highest = sliding_maximum(evidence, SPACING);
    let mut peaks: Vec<usize> = Vec::new();
    for frame in 0..evidence.len() {
        let is_peak = evidence[frame] >= WEAKEST && evidence[frame] >= highest[frame];
        if is_peak && peaks.last().is_none_or(|last| frame - last > SPACING) {
            peaks.push(frame);
        }
    }
    peaks
}

/// RMS level of 23 ms around each frame, in dB.
fn levels(samples: &[f32], frames: usize) -> Vec<f32> {
    (0..frames)
        .map(|frame| {
            let start = (frame * HOP).saturating_sub(256).min(samples.len());
            let end = (frame * HOP + 256).min(samples.len());
            let sum: f32 = samples[start..end].iter().map(|it| it * it).sum();
            10.0 * (sum / 512.0).max(1e-12).log10()
        })
        .collect()
}

/// When the level falls faster than 90 dB a second over 70 ms, in seconds.
fn damped(levels: &[f32], frame: usize) -> Option<f64> {
    const OVER: usize = 12;
    let fall = 90.0 * (OVER * HOP) as f32 / RATE;
    let from = frame + 10;
    (from..(from + 860).min(levels.len().saturating_sub(OVER)))
        .find(|&k| levels[k] - levels[k + OVER] > fall)
        .map(|k| f64::from((k * HOP) as f32 / RATE))
}
