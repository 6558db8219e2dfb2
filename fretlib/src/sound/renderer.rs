//! Performances in, samples out, piece by piece.

use std::collections::VecDeque;
use std::sync::Arc;

use super::body::Body;
use super::click::click_samples;
use super::performance::{CUTTING, DampedPluck, Layer, Performance};
use super::plucked_string::PluckedString;
use super::sample_rate::SampleRate;
use crate::neck::StringNumber;

/// Plays performances one after another, with layers that can be turned up and down.
///
/// It has no device and no clock: it gives the next samples on request, always the same ones whatever the size of the
/// pieces. Levels change between pieces.
#[derive(Clone, Debug)]
pub struct Renderer {
    rate: SampleRate,
    body: Body,
    clicks: [Vec<f32>; 2],
    strings: Vec<SoundingString>,
    sounding_clicks: Vec<SoundingClick>,
    levels: [GainRamp; 3],
    master: GainRamp,
    now: Option<Playing>,
    queue: VecDeque<Arc<Performance>>,
    repeats: bool,
    rendered: u64,
    passes: u64,
    strings_mix: Vec<f32>,
    one_string: Vec<f32>,
}

#[derive(Clone, Debug)]
struct Playing {
    performance: Arc<Performance>,
    /// The sample of its time 0; negative when it was begun in the middle.
    base: i64,
    end: u64,
    next_pluck: usize,
    next_click: usize,
}

#[derive(Clone, Debug)]
struct SoundingString {
    string: PluckedString,
    layer: Layer,
    number: StringNumber,
    gain: f32,
    /// The samples at which its damping begins and ends.
    damped: u64,
    silent: u64,
}

#[derive(Clone, Copy, Debug)]
struct SoundingClick {
    accent: bool,
    count_in: bool,
    gain: f32,
    next: usize,
}

/// A gain that changes linearly to another.
#[derive(Clone, Copy, Debug)]
struct GainRamp {
    now: f32,
    goal: f32,
    step: f32,
}

impl GainRamp {
    const UNITY: GainRamp = GainRamp {
        now: 1.0,
        goal: 1.0,
        step: 0.0,
    };

    fn turn(&mut self, goal: f32, samples: u64) {
        self.goal = goal;
        self.step = (goal - self.now) / samples.max(1) as f32;
        if samples == 0 {
            self.now = goal;
        }
    }

    fn next(&mut self) -> f32 {
        let now = self.now;
        if now != self.goal {
            let next = now + self.step;
            // It has arrived when the next step would pass the goal.
            self.now = if (self.goal - next) * self.step <= 0.0 {
                self.goal
            } else {
                next
            };
        }
        now
    }

    fn is_still(&self) -> bool {
        self.now == self.goal
    }
}

/// The most samples mixed at once.
const BLOCK: usize = 512;
/// The most performances begun at one sample.
const MOST_BEGUN: usize = 100;
/// Seconds for turning a layer up or down.
const TURNING: f64 = 0.02;

impl Renderer {
    /// A renderer with nothing to play.
    pub fn new(rate: SampleRate) -> Renderer {
        Renderer {
            rate,
            body: Body::new(rate),
            clicks: [click_samples(false, rate), click_samples(true, rate)],
            strings: Vec::new(),
            sounding_clicks: Vec::new(),
            levels: [GainRamp::UNITY; 3],
            master: GainRamp::UNITY,
            now: None,
            queue: VecDeque::new(),
            repeats: false,
            rendered: 0,
            passes: 0,
            strings_mix: vec![0.0; BLOCK],
            one_string: vec![0.0; BLOCK],
        }
    }

    /// Begins a performance at `from` seconds, instead of the current and all following ones.
    ///
    /// Sounding strings ring to the end of their notes; [`Renderer::damp`] silences them.
    pub fn play(&mut self, performance: Arc<Performance>, from: f64) {
        self.queue.clear();
        self.repeats = false;
        self.begin(performance, from);
    }

    /// Appends a performance.
    pub fn then(&mut self, performance: Arc<Performance>) {
        self.queue.push_back(performance);
    }

    /// How many performances are still to come.
    pub fn waiting(&self) -> usize {
        self.queue.len()
    }

    /// Removes all performances after the current one.
    pub fn forget_what_follows(&mut self) {
        self.queue.clear();
    }

    /// Whether the last performance is to be played again and again.
    pub fn repeat(&mut self, repeats: bool) {
        self.repeats = repeats;
    }

    /// Damps every string and plays nothing more.
    pub fn stop(&mut self) {
        self.damp();
        self.now = None;
        self.queue.clear();
        self.repeats = false;
    }

    /// Damps every string that sounds.
    pub fn damp(&mut self) {
        let end = self.rendered + self.rate.sample_at(TURNING);
        for string in &mut self.strings {
            string.damped = string.damped.min(self.rendered);
            string.silent = string.silent.min(end);
        }
        self.sounding_clicks.clear();
    }

    /// Turns a layer smoothly to a gain, where 1 is its own level. The count-in is not affected.
    pub fn turn(&mut self, layer: Layer, gain: f32) {
        let samples = self.rate.sample_at(TURNING);
        self.levels[layer as usize].turn(gain, samples);
    }

    /// Leaves a layer out at once, with a jump if it sounds; [`Renderer::turn`] avoids the jump.
    pub fn silence(&mut self, layer: Layer) {
        self.levels[layer as usize].turn(0.0, 0);
    }

    /// Begins at a gain and rises from it to 1 over this many seconds.
    pub fn rise(&mut self, from: f32, seconds: f64) {
        self.master.turn(from, 0);
        self.master.turn(1.0, self.rate.sample_at(seconds));
    }

    /// How many samples were rendered so far.
    pub fn rendered(&self) -> u64 {
        self.rendered
    }

    /// How many performances were begun so far.
    pub fn passes(&self) -> u64 {
        self.passes
    }

    /// The performance that is playing, and its time in seconds; `None` when all are over.
    pub fn position(&self) -> Option<(&Arc<Performance>, f64)> {
        let playing = self.now.as_ref()?;
        let samples = self.rendered as i64 - playing.base;
        Some((
            &playing.performance,
            samples as f64 / f64::from(self.rate.hertz()),
        ))
    }

    /// Whether all performances are over and no string sounds any more.
    pub fn is_silent(&self) -> bool {
        self.now.is_none() && self.strings.is_empty() && self.sounding_clicks.is_empty()
    }

    /// The next samples, between −1 and 1; silence when there is nothing to play.
    pub fn render(&mut self, samples: &mut [f32]) {
        let mut left = samples;
        while !left.is_empty() {
            self.begin_what_is_due();
            let length = self.until_next().min(left.len() as u64).min(BLOCK as u64) as usize;
            let (now, later) = left.split_at_mut(length);
            self.mix(now);
            self.rendered += length as u64;
            left = later;
        }
    }

    fn begin(&mut self, performance: Arc<Performance>, from: f64) {
        let skipped = self.rate.sample_at(from);
        let base = self.rendered as i64 - skipped as i64;
        let end = base + self.rate.sample_at(performance.seconds()) as i64;
        let is_before = |seconds: f64| self.rate.sample_at(seconds) < skipped;
        self.now = Some(Playing {
            base,
            end: end.max(self.rendered as i64) as u64,
            next_pluck: performance
                .notes()
                .partition_point(|it| is_before(it.pluck.start)),
            next_click: performance.clicks().partition_point(|it| is_before(it.at)),
            performance,
        });
        self.passes += 1;
    }

    /// Ends a finished performance, begins the next, and starts the plucks and clicks of this sample.
    fn begin_what_is_due(&mut self) {
        // Performances of no length would follow each other for ever.
        for _ in 0..MOST_BEGUN {
            let last = match self.now.take() {
                Some(playing) if playing.end > self.rendered => {
                    self.now = Some(playing);
                    break;
                }
                Some(playing) => Some(playing.performance).filter(|_| self.repeats),
                None => None,
            };
            match self.queue.pop_front().or(last) {
                Some(performance) => self.begin(performance, 0.0),
                None => break,
            }
        }
        let Some(mut playing) = self.now.take() else {
            return;
        };
        let performance = playing.performance.clone();
        while let Some(note) = performance.notes().get(playing.next_pluck)
            && self.at(&playing, note.pluck.start) <= self.rendered
        {
            self.pluck(&playing, note);
            playing.next_pluck += 1;
        }
        while let Some(click) = performance.clicks().get(playing.next_click)
            && self.at(&playing, click.at) <= self.rendered
        {
            self.sounding_clicks.push(SoundingClick {
                accent: click.accent,
                count_in: click.count_in,
                gain: performance.gain(),
                next: 0,
            });
            playing.next_click += 1;
        }
        self.now = Some(playing);
    }

    /// The sample of a time in the current performance.
    fn at(&self, playing: &Playing, seconds: f64) -> u64 {
        (playing.base + self.rate.sample_at(seconds) as i64).max(0) as u64
    }

    fn pluck(&mut self, playing: &Playing, note: &DampedPluck) {
        let pluck = &note.pluck;
        // Within a performance the damping is planned; between two performances it is added here.
        let cut = self.rendered + self.rate.sample_at(CUTTING);
        for other in &mut self.strings {
            if (other.layer, other.number) == (pluck.layer, pluck.string) {
                other.damped = other.damped.min(self.rendered);
                other.silent = other.silent.min(cut);
            }
        }
        // A string too high for the rate is not heard.
        let Some(string) = PluckedString::new(pluck.tone, pluck.strength, self.rate) else {
            return;
        };
        self.strings.push(SoundingString {
            string,
            layer: pluck.layer,
            number: pluck.string,
            gain: playing.performance.gain(),
            damped: self.at(playing, note.damped),
            silent: self.at(playing, note.silent),
        });
    }

    /// The number of samples until something begins or ends.
    fn until_next(&self) -> u64 {
        let Some(playing) = &self.now else {
            return u64::MAX;
        };
        let performance = &playing.performance;
        let pluck = performance
            .notes()
            .get(playing.next_pluck)
            .map(|it| it.pluck.start);
        let click = performance.clicks().get(playing.next_click).map(|it| it.at);
        let next = [pluck, click]
            .into_iter()
            .flatten()
            .map(|seconds| self.at(playing, seconds))
            .fold(playing.end, u64::min);
        (next.saturating_sub(self.rendered)).max(1)
    }

    fn mix(&mut self, samples: &mut [f32]) {
        let strings_mix = &mut self.strings_mix[..samples.len()];
        let one_string = &mut self.one_string[..samples.len()];
        strings_mix.fill(0.0);
        for string in &mut self.strings {
            string.string.fill(one_string);
            string.damp(one_string, self.rendered);
            let gain = string.gain;
            let mut level = self.levels[string.layer as usize];
            if level.is_still() {
                let gain = gain * level.now;
                for (mixed, sample) in strings_mix.iter_mut().zip(&*one_string) {
                    *mixed += gain * sample;
                }
            } else {
                for (mixed, sample) in strings_mix.iter_mut().zip(&*one_string) {
                    *mixed += gain * level.next() * sample;
                }
            }
        }
        let end = self.rendered + samples.len() as u64;
        self.strings.retain(|string| string.silent > end);
        self.body.apply(strings_mix);
        samples.copy_from_slice(strings_mix);
        for click in &mut self.sounding_clicks {
            let wave = &self.clicks[usize::from(click.accent)];
            let mut level = if click.count_in {
                GainRamp::UNITY
            } else {
                self.levels[Layer::Click as usize]
            };
            for (sample, wave) in samples.iter_mut().zip(&wave[click.next..]) {
                *sample += click.gain * level.next() * wave;
            }
            click.next = (click.next + samples.len()).min(wave.len());
        }
        let clicks = &self.clicks;
        self.sounding_clicks
            .retain(|click| click.next < clicks[usize::from(click.accent)].len());
        for level in &mut self.levels {
            if !level.is_still() {
                samples.iter().for_each(|_| {
                    level.next();
                });
            }
        }
        if !self.master.is_still() || self.master.now != 1.0 {
            for sample in samples {
                *sample *= self.master.next();
            }
        }
    }
}

impl SoundingString {
    /// Fades the samples within the damping.
    fn damp(&self, samples: &mut [f32], first: u64) {
        let length = (self.silent - self.damped).max(1) as f32;
        let from = self.damped.saturating_sub(first).min(samples.len() as u64);
        let fading = &mut samples[from as usize..];
        for (sample, at) in fading.iter_mut().zip(first + from..) {
            let left = 1.0 - ((at - self.damped) as f32 / length).min(1.0);
            // Level and slope are continuous at both ends, so that no crack is heard.
            *sample *= left * left * (3.0 - 2.0 * left);
        }
    }
}
