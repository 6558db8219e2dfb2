//! Strikes found while the player plays: shown at once, named a little later, both provisional.

use std::collections::VecDeque;

use super::spectrum::{Spectrum, hann};
use super::strike::{Sounded, Strike, tuning};
use super::strike_candidate::{
    Finder, HOP, RATE, SHORTEST, StrikeCandidate, bands, middle, rise_of_bands,
};
use crate::theory::MidiNumber;

/// Samples of a frame: 46 ms, half of what a recording is analysed with, so that a strike shows earlier.
const FRAME: usize = 1024;

/// Frames between the two spectra that are compared: 23 ms.
const LAG: usize = 4;

/// Flux above its running median from which a strike is shown; chosen on takes of our own.
const SHOWN: f32 = 0.035;

/// Frames that a strike waits for its flux to fall before it is shown anyway.
const PATIENCE: usize = 1;

/// How far the centre of the frame in which the flux is first above the limit lies from the strike, in samples: before it,
/// since a frame reaches 23 ms ahead. Measured on takes of our own.
const DELAY: isize = -50;

/// Frames within which there is one strike: 52 ms.
const SPACING: usize = 9;

/// Frames of the running median: 0.25 s.
const MEDIAN: usize = 43;

/// Samples after a strike that its name is taken from: 93 ms.
const NAMED: usize = 2048;

/// Frames from one look at the noise to the next, and how many frames are looked at, every fourth: 0.25 s, 2 s.
const NOISE_STEP: usize = 43;
const NOISE_FRAMES: usize = 86;

/// Frames in which the level is compared: 1.5 s.
const LEVELS: usize = 258;

/// Samples kept: what is compared with a strike, and room for it to be named.
const KEPT: usize = 16_384;

/// The least peak that the flux is compressed for: below it there is only noise.
const LEAST_PEAK: f32 = 0.01;

/// The least chance of a strike that gets a name.
const LIKELY: f32 = 0.4;

/// The strikes by which the tuning is estimated.
const FOR_TUNING: usize = 32;

/// What is noticed of a strike; times in seconds from the start of the stream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LiveStrike {
    /// A string may have been struck.
    Shown { at: f64 },
    /// It was, and at this pitch as it sounds.
    Named(NamedStrike),
    /// It was not: a knock, a squeak, a damped string.
    Dropped { at: f64 },
}

/// A strike with its pitch, as far as it is known so soon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NamedStrike {
    /// When the string was struck, in seconds from the start of the stream.
    pub at: f64,
    /// Sounding pitch: a guitar is written an octave higher.
    pub pitch: MidiNumber,
    /// How far it is from that pitch at A4 = 440 Hz, in cents.
    pub cents: f32,
    /// The RMS level at its highest in the first 60 ms, in dB below full scale.
    pub level_db: f32,
}

/// Finds strikes in a stream at the working rate.
pub struct LiveStrikes {
    frames: Spectrum,
    window: Vec<f32>,
    bands: Vec<std::ops::Range<usize>>,
    finder: Finder,
    // The last samples, from `start` on in the count of the stream.
    samples: Vec<f32>,
    start: usize,
    // The next frame to be looked at.
    frame: usize,
    // Energies of the last frames, and of every fourth frame for the noise.
    energies: VecDeque<Vec<f32>>,
    for_noise: VecDeque<Vec<f32>>,
    floors: Vec<f32>,
    flux: VecDeque<f32>,
    levels: VecDeque<f32>,
    peaks: VecDeque<f32>,
    // The frame at which the flux rose over the limit, and the highest since.
    rising: Option<(usize, f32)>,
    last: Option<usize>,
    // Strikes that wait for their name: the sample at which they were struck, and their flux.
    unnamed: VecDeque<(isize, f32)>,
    named: VecDeque<StrikeCandidate>,
    quietest: VecDeque<f32>,
}

impl LiveStrikes {
    pub fn new() -> LiveStrikes {
        let bands = bands(FRAME);
        LiveStrikes {
            frames: Spectrum::new(FRAME),
            window: hann(FRAME),
            finder: Finder::new(),
            samples: Vec::new(),
            start: 0,
            frame: 0,
            energies: VecDeque::new(),
            for_noise: VecDeque::new(),
            floors: vec![0.0; bands.len()],
            bands,
            flux: VecDeque::new(),
            levels: VecDeque::new(),
            peaks: VecDeque::new(),
            rising: None,
            last: None,
            unnamed: VecDeque::new(),
            named: VecDeque::new(),
            quietest: VecDeque::new(),
        }
    }

    /// Takes the next samples, and gives what they show.
    pub fn push(&mut self, samples: &[f32]) -> Vec<LiveStrike> {
        self.samples.extend_from_slice(samples);
        let mut told = Vec::new();
        while self.frame * HOP + FRAME / 2 <= self.start + self.samples.len() {
            self.look(&mut told);
            self.frame += 1;
        }
        self.name(&mut told);
        let spent = self.samples.len().saturating_sub(KEPT) / HOP * HOP;
        self.samples.drain(..spent);
        self.start += spent;
        told
    }

    /// The RMS level of the quietest moments of the last half minute, in dB below full scale.
    pub fn noise_db(&self) -> Option<f32> {
        self.quietest.iter().copied().reduce(f32::min)
    }

    /// Looks at the next frame.
    fn look(&mut self, told: &mut Vec<LiveStrike>) {
        let centre = (self.frame * HOP) as isize - self.start as isize;
        let energy = self.energy(centre - FRAME as isize / 2);
        self.measure(centre);
        if self.frame.is_multiple_of(4) {
            push_bounded(&mut self.for_noise, energy.clone(), NOISE_FRAMES);
        }
        if self.frame.is_multiple_of(NOISE_STEP) {
            self.floors = lower_tenth(&self.for_noise, self.bands.len());
        }
        let flux = match self.energies.len() {
            LAG => self.rise_over(&energy),
            _ => 0.0,
        };
        let mut recent: Vec<f32> = self.flux.iter().copied().collect();
        let above = (flux - middle(&mut recent)).max(0.0);
        push_bounded(&mut self.energies, energy, LAG);
        push_bounded(&mut self.flux, flux, MEDIAN);
        let is_near = |last: usize| self.frame - last <= SPACING;
        match self.rising {
            None if above >= SHOWN && !self.last.is_some_and(is_near) => {
                self.rising = Some((self.frame, above));
            }
            None => {}
            Some((first, highest)) if above < highest || self.frame - first >= PATIENCE => {
                let at = (first * HOP) as isize - DELAY;
                self.rising = None;
                self.last = Some(first);
                self.unnamed.push_back((at, highest.max(above)));
                told.push(LiveStrike::Shown { at: seconds(at) });
            }
            Some((first, highest)) => self.rising = Some((first, highest.max(above))),
        }
    }

    /// The magnitude in each band of the frame from `start` on.
    fn energy(&mut self, start: isize) -> Vec<f32> {
        let mut magnitudes = Vec::new();
        self.frames
            .magnitudes(&self.samples, start, &self.window, &mut magnitudes);
        let sum = |bins: &std::ops::Range<usize>| -> f32 {
            magnitudes[bins.clone()].iter().map(|it| it * it).sum()
        };
        self.bands.iter().map(|bins| sum(bins).sqrt()).collect()
    }

    /// Keeps the level and the peak up to a moment of the kept samples.
    fn measure(&mut self, until: isize) {
        let until = usize::try_from(until).unwrap_or(0).min(self.samples.len());
        let near = &self.samples[until.saturating_sub(512)..until];
        let sum: f32 = near.iter().map(|it| it * it).sum();
        let level = 10.0 * (sum / 512.0).max(1e-12).log10();
        push_bounded(&mut self.levels, level, LEVELS);
        let step = &self.samples[until.saturating_sub(HOP)..until];
        let peak = step.iter().fold(0.0f32, |peak, it| peak.max(it.abs()));
        push_bounded(&mut self.peaks, peak, LEVELS);
        // The quietest of each second. The first frame of all holds no sound yet.
        const SECOND: usize = 172;
        if self.frame.is_multiple_of(SECOND) {
            push_bounded(&mut self.quietest, f32::MAX, 30);
        } else if self.frame > 8
            && let Some(quietest) = self.quietest.back_mut()
        {
            *quietest = quietest.min(level);
        }
    }

    /// How much the spectrum rose against that of [`LAG`] frames ago.
    fn rise_over(&self, now: &[f32]) -> f32 {
        let peak = self.peaks.iter().copied().fold(LEAST_PEAK, f32::max);
        rise_of_bands(now, &self.energies[0], peak / 300.0, &self.floors)
    }

    /// Names the strikes of which enough has been heard.
    fn name(&mut self, told: &mut Vec<LiveStrike>) {
        while let Some(&(at, flux)) = self.unnamed.front() {
            let heard = (self.start + self.samples.len()) as isize - at;
            let next = self.unnamed.get(1).map(|(next, _)| next - at);
            let span = match next {
                Some(next) if next < NAMED as isize => next.max(SHORTEST as isize),
                _ => NAMED as isize,
            };
            if heard < span {
                return;
            }
            self.unnamed.pop_front();
            told.push(self.named(at, span as usize / 256 * 256, flux));
        }
    }

    fn named(&mut self, at: isize, span: usize, flux: f32) -> LiveStrike {
        let offset = at - self.start as isize;
        let mut candidate = self.finder.rise(&self.samples, offset, span);
        candidate.at = seconds(at);
        candidate.flux = flux;
        // The levels of the frames around the strike; the last one belongs to the frame before the next.
        let ago = self.frame as isize - 1 - at / HOP as isize;
        let struck = self.levels.len().saturating_sub(ago.max(0) as usize + 1);
        let highest = |range: std::ops::Range<usize>| {
            let levels = self.levels.range(range.start.min(self.levels.len())..);
            levels.take(range.len()).copied().fold(-120.0, f32::max)
        };
        candidate.level_db = highest(struck..struck + 14);
        candidate.before_db = highest(struck.saturating_sub(4)..struck.saturating_sub(3));
        // What is left at the end of what is known shows a string that was damped.
        let latest = self.levels.len();
        candidate.sustain_db = highest(latest.saturating_sub(3)..latest) - candidate.level_db;
        candidate.local_db = highest(0..latest);
        let before = self
            .levels
            .range(struck.saturating_sub(8).min(struck)..struck);
        candidate.dip_db = candidate.level_db - before.copied().fold(0.0, f32::min);
        push_bounded(&mut self.named, candidate.clone(), FOR_TUNING);
        let tuning = tuning(self.named.make_contiguous());
        let level_db = candidate.level_db;
        let strike = Strike::new(candidate, tuning);
        let Sounded { pitch, chance } = strike.sounded();
        let name = MidiNumber::new(pitch).ok().filter(|_| chance >= LIKELY);
        match name {
            None => LiveStrike::Dropped { at: seconds(at) },
            Some(midi) => LiveStrike::Named(NamedStrike {
                at: seconds(at),
                pitch: midi,
                cents: strike.cents(pitch, tuning) + 100.0 * tuning,
                level_db,
            }),
        }
    }
}

/// A moment of the stream, in seconds from its start.
fn seconds(sample: isize) -> f64 {
    sample.max(0) as f64 / f64::from(RATE)
}

fn push_bounded<T>(queue: &mut VecDeque<T>, value: T, most: usize) {
    if queue.len() == most {
        queue.pop_front();
    }
    queue.push_back(value);
}

/// The lower tenth in each band.
fn lower_tenth(energies: &VecDeque<Vec<f32>>, bands: usize) -> Vec<f32> {
    let tenth = |band: usize| {
        let mut column: Vec<f32> = energies.iter().map(|it| it[band]).collect();
        let tenth = column.len() / 10;
        *column.select_nth_unstable_by(tenth, f32::total_cmp).1
    };
    (0..bands).map(tenth).collect()
}
