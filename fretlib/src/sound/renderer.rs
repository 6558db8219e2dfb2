//! Performances in, samples out, piece by piece.

use std::collections::VecDeque;
use std::sync::Arc;

use super::body::Body;
use super::click::click_samples;
use super::performance::{CUTTING, DampedPluck, Layer, Performance};
use super::plucked_string::PluckedString;
use super::sample_rate::SampleRate;
use crate::neck::StringNumber;

/// Plays performances one after another, and lets what sounds be turned up and down.
///
/// It knows no device and no clock: it gives the next samples whenever it is asked, and the same ones however large the
/// pieces are in which they are asked for. Where the pieces end, levels are turned.
#[derive(Clone, Debug)]
pub struct Renderer {
    rate: SampleRate,
    body: Body,
    clicks: [Vec<f32>; 2],
    strings: Vec<SoundingString>,
    sounding_clicks: Vec<SoundingClick>,
    levels: [Level; 3],
    master: Level,
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
    /// The sample at which its time 0 lies; before the first sample ever when it was begun in the middle.
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
    /// Samples at which its damping begins and at which it is silent.
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

/// A gain on its way to another, evenly, by so much a sample.
#[derive(Clone, Copy, Debug)]
struct Level {
    now: f32,
    goal: f32,
    step: f32,
}

impl Level {
    const UNITY: Level = Level {
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
            // It has arrived when another step would lead past the goal.
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
/// Seconds in which a layer is turned up or down.
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
            levels: [Level::UNITY; 3],
            master: Level::UNITY,
            now: None,
            queue: VecDeque::new(),
            repeats: false,
            rendered: 0,
            passes: 0,
            strings_mix: vec![0.0; BLOCK],
            one_string: vec![0.0; BLOCK],
        }
    }

    /// Begins a performance at `from` seconds, in place of what is playing and what was to follow it.
    ///
    /// Strings that sound are left to ring as long as their notes last; [`Renderer::damp`] silences them.
    pub fn play(&mut self, performance: Arc<Performance>, from: f64) {
        self.queue.clear();
        self.repeats = false;
        self.begin(performance, from);
    }

    /// Lets another performance follow the last of those that are to be played.
    pub fn then(&mut self, performance: Arc<Performance>) {
        self.queue.push_back(performance);
    }

    /// How many performances are still to follow.
    pub fn waiting(&self) -> usize {
        self.queue.len()
    }

    /// Lets nothing follow what is playing.
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

    /// Turns a layer to a gain, 1 being its own level, without a crack. The count-in stays as it is.
    pub fn turn(&mut self, layer: Layer, gain: f32) {
        let samples = self.rate.sample_at(TURNING);
        self.levels[layer as usize].turn(gain, samples);
    }

    /// Leaves a layer out from the start, or from here on with a jump; [`Renderer::turn`] does it without.
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

    /// Ends a performance that is over, begins the next, plucks and clicks what is due at this sample.
    fn begin_what_is_due(&mut self) {
        // Performances that last no time would follow each other for ever.
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

    /// The sample of a time in what is playing.
    fn at(&self, playing: &Playing, seconds: f64) -> u64 {
        (playing.base + self.rate.sample_at(seconds) as i64).max(0) as u64
    }

    fn pluck(&mut self, playing: &Playing, note: &DampedPluck) {
        let pluck = &note.pluck;
        // Within a performance the damping was planned; over the seam of two it has to be made up for.
        let cut = self.rendered + self.rate.sample_at(CUTTING);
        for other in &mut self.strings {
            if (other.layer, other.number) == (pluck.layer, pluck.string) {
                other.damped = other.damped.min(self.rendered);
                other.silent = other.silent.min(cut);
            }
        }
        // What is too high for the rate is not heard at it.
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

    /// How many samples there are until something begins or ends.
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
                Level::UNITY
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
    /// Fades what lies in the damping.
    fn damp(&self, samples: &mut [f32], first: u64) {
        let length = (self.silent - self.damped).max(1) as f32;
        let from = self.damped.saturating_sub(first).min(samples.len() as u64);
        let fading = &mut samples[from as usize..];
        for (sample, at) in fading.iter_mut().zip(first + from..) {
            let left = 1.0 - ((at - self.damped) as f32 / length).min(1.0);
            // Level and slope are even at both ends, so that the ear hears no crack.
            *sample *= left * left * (3.0 - 2.0 * left);
        }
    }
}
