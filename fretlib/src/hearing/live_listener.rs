//! Listening while the player plays a melody.

use std::ops::Range;

use super::follower::{Follower, Whereabouts};
use super::listener::{Heard, Listener};
use super::live_strikes::{LiveStrike, LiveStrikes, NamedStrike};
use super::recording_rate::RecordingRate;
use super::resampler::Resampler;
use super::take::Take;
use crate::melody::Melody;

/// Something heard while the player plays; times are seconds from the start of the stream.
#[derive(Clone, Debug)]
pub enum LiveEvent {
    /// A string may have been struck then.
    Struck {
        /// When.
        at: f64,
    },
    /// What was struck has a name now, which is provisional: the verdict comes when the pass ends.
    Named(NamedStrike),
    /// What was struck then was no string.
    Dropped {
        /// When.
        at: f64,
    },
    /// A pass through the melody, or part of it, has ended.
    Ended(Box<LivePass>),
}

/// What was played from the first strike until the end of the melody or a silence.
#[derive(Clone, Debug)]
pub struct LivePass {
    /// Its samples, in the count of the stream. [`Heard::whole`] of them hears the same.
    pub samples: Range<u64>,
    /// What was heard.
    pub heard: Heard,
    /// The final verdicts; `None` when no note of the melody was heard.
    pub take: Option<Take>,
}

/// How well the player can be heard.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hearing {
    /// The level of the room when nothing is played, in dB below full scale.
    pub noise_db: Option<f32>,
    /// The usual level of a strike, in dB below full scale.
    pub strike_db: Option<f32>,
    /// The share of samples at full scale over the last seconds, from 0 to 1.
    pub clipped: f32,
}

impl Hearing {
    /// How far the strings must stand above the room, in dB. At 10 dB of noise F is above .98, at 0 dB it is .9.
    pub const LEAST_DB: f32 = 8.0;
    /// The share of clipped samples from which the level is too high.
    pub const CLIPPED: f32 = 0.005;

    /// False when what is heard is too noisy or too loud to be judged.
    pub fn can_judge(self) -> bool {
        let is_above = match (self.noise_db, self.strike_db) {
            (Some(noise), Some(strike)) => strike - noise >= Hearing::LEAST_DB,
            _ => true,
        };
        is_above && self.clipped < Hearing::CLIPPED
    }
}

/// The sound kept before what has been handed to the judge, in seconds: a pass may end that long ago.
const HELD: f64 = 1.5;

/// How long before its first strike a pass begins, in seconds.
const LEAD: f64 = 0.5;

/// How long before the first strike of the next pass a pass ends, in seconds.
const CUT: f64 = 0.06;

/// The least and the longest time that the last note is given, in seconds.
const LAST_NOTE: (f64, f64) = (0.6, 4.0);

/// The share of the last note's length after which another strike begins the next pass.
const NEXT_PASS: f64 = 0.7;

/// The least and the longest silence that ends a pass, in seconds.
const SILENCE: (f64, f64) = (2.0, 8.0);

/// The strikes whose level is compared with the noise.
const STRIKES: usize = 15;

/// Seconds over which clipping is counted.
const CLIPPING: f64 = 3.0;

/// Listens to a player piece by piece; the size of the pieces makes no difference to the verdicts.
///
/// ```
/// use fretlib::hearing::{LiveListener, RecordingRate};
/// use fretlib::melody::{Draft, Melody, Quarters};
///
/// let mut draft = Draft::default();
/// draft.note("E4".parse()?, Quarters::ONE)?;
/// let melody = Melody::new(draft)?;
/// let mut listener = LiveListener::new(RecordingRate::new(48_000)?, &melody);
/// assert!(listener.push(&[0.0; 480]).is_empty());
/// // Nothing was played, so no pass ends.
/// assert!(listener.finish().is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct LiveListener {
    rate: RecordingRate,
    melody: Melody,
    resampler: Resampler,
    strikes: LiveStrikes,
    follower: Follower,
    // The last samples, from `first` on in the count of the stream, that the pass has not taken in yet.
    held: Vec<f32>,
    first: u64,
    pass: Option<PassInPlay>,
    levels: Vec<f32>,
    // Samples at full scale, fading with time.
    clipped: f32,
}

/// A pass that is being played.
struct PassInPlay {
    start: u64,
    listener: Listener,
    // When the last strike was.
    last: f64,
}

impl LiveListener {
    /// Begins to listen to samples at `rate`, one channel, full scale from −1 to 1.
    pub fn new(rate: RecordingRate, melody: &Melody) -> LiveListener {
        LiveListener {
            rate,
            melody: melody.clone(),
            resampler: Resampler::new(rate),
            strikes: LiveStrikes::new(),
            follower: Follower::new(melody),
            held: Vec::new(),
            first: 0,
            pass: None,
            levels: Vec::new(),
            clipped: 0.0,
        }
    }

    /// Takes the next samples, and gives what they show, in order of time.
    ///
    /// A sample that is not a number is silence.
    pub fn push(&mut self, samples: &[f32]) -> Vec<LiveEvent> {
        let mut told = Vec::new();
        // Short pieces, so that a long one ends a pass where many short ones would.
        let piece = (self.rate.get() / 200).max(1) as usize;
        for samples in samples.chunks(piece) {
            self.take_in(samples, &mut told);
        }
        told
    }

    /// The pass that was being played, once the samples have ended.
    pub fn finish(mut self) -> Option<LivePass> {
        let end = self.heard();
        self.end_pass(end)
    }

    /// How well the player can be heard.
    pub fn hearing(&self) -> Hearing {
        let mut levels = self.levels.clone();
        let middle = levels.len() / 2;
        let strike_db = match levels.is_empty() {
            true => None,
            false => Some(*levels.select_nth_unstable_by(middle, f32::total_cmp).1),
        };
        Hearing {
            noise_db: self.strikes.noise_db(),
            strike_db,
            clipped: self.clipped,
        }
    }

    /// Where in the melody the player is; `None` between passes.
    pub fn whereabouts(&self) -> Option<Whereabouts> {
        self.follower.whereabouts()
    }

    /// The sample with which the pass that is being played begins, in the count of the stream; `None` between passes.
    pub fn playing_since(&self) -> Option<u64> {
        self.pass.as_ref().map(|pass| pass.start)
    }

    /// Leaves out what was heard of a pass, as when it was not the player.
    pub fn forget_pass(&mut self) {
        self.pass = None;
        self.follower.start_again();
    }

    fn take_in(&mut self, samples: &[f32], told: &mut Vec<LiveEvent>) {
        let clean = samples.iter().map(|it| match it.is_finite() {
            true => it.clamp(-8.0, 8.0),
            false => 0.0,
        });
        let clean: Vec<f32> = clean.collect();
        let full = clean.iter().filter(|it| it.abs() >= 0.999).count();
        let share = full as f32 / clean.len().max(1) as f32;
        let weight = self.rate.seconds(clean.len() as u64) / CLIPPING;
        self.clipped += (share - self.clipped) * weight.min(1.0) as f32;
        self.held.extend_from_slice(&clean);
        let resampled = self.resampler.push(&clean);
        for strike in self.strikes.push(&resampled) {
            match strike {
                LiveStrike::Shown { at } => told.push(LiveEvent::Struck { at }),
                LiveStrike::Dropped { at } => told.push(LiveEvent::Dropped { at }),
                LiveStrike::Named(named) => {
                    self.hear(named, told);
                    told.push(LiveEvent::Named(named));
                }
            }
        }
        let now = self.seconds();
        if self.pass.as_ref().is_some_and(|it| now >= self.end_of(it)) {
            let end = self.heard();
            told.extend(self.end_pass(end).map(Box::new).map(LiveEvent::Ended));
        }
        self.let_go();
    }

    /// A string was struck: in this pass, or as the first one of another.
    fn hear(&mut self, named: NamedStrike, told: &mut Vec<LiveEvent>) {
        let is_next = self.follower.whereabouts().is_some_and(|it| {
            let length = self.follower.length_of(it.order) * it.seconds_a_quarter;
            it.is_end && named.at - it.at > (NEXT_PASS * length).max(0.15)
        });
        if is_next {
            let end = self.sample_at(named.at - CUT);
            told.extend(self.end_pass(end).map(Box::new).map(LiveEvent::Ended));
        }
        if self.levels.len() == STRIKES {
            self.levels.remove(0);
        }
        self.levels.push(named.level_db);
        match &mut self.pass {
            Some(pass) => pass.last = named.at,
            None => self.begin_pass(named.at),
        }
        self.follower.hear(named.pitch.get(), named.at);
    }

    /// Begins a pass a little before its first strike; what lies before that is no part of it.
    fn begin_pass(&mut self, struck: f64) {
        let start = self.sample_at(struck - LEAD).max(self.first);
        let before = (start - self.first) as usize;
        self.held.drain(..before.min(self.held.len()));
        self.first = start;
        self.pass = Some(PassInPlay {
            start,
            listener: Listener::new(self.rate),
            last: struck,
        });
    }

    /// When the pass ends if nothing more is struck.
    fn end_of(&self, pass: &PassInPlay) -> f64 {
        let Some(here) = self.follower.whereabouts() else {
            return pass.last + SILENCE.0;
        };
        if here.is_end {
            let length = self.follower.length_of(here.order) * here.seconds_a_quarter;
            return here.at.max(pass.last) + length.clamp(LAST_NOTE.0, LAST_NOTE.1);
        }
        let longest = 1.5 * self.follower.longest_wait() * here.seconds_a_quarter + 0.5;
        pass.last + longest.clamp(SILENCE.0, SILENCE.1)
    }

    /// Ends the pass before this sample.
    fn end_pass(&mut self, end: u64) -> Option<LivePass> {
        let mut pass = self.pass.take()?;
        self.follower.start_again();
        let rest = (end.saturating_sub(self.first) as usize).min(self.held.len());
        pass.listener.push(&self.held[..rest]);
        self.held.drain(..rest);
        self.first += rest as u64;
        let heard = pass.listener.finish();
        Some(LivePass {
            samples: pass.start..self.first,
            take: Take::of(&heard, &self.melody),
            heard,
        })
    }

    /// Hands what is no longer needed here to the judge of the pass, or forgets it.
    fn let_go(&mut self) {
        let most = self.sample_at(HELD) as usize;
        // Now and then is enough.
        if self.held.len() < 2 * most {
            return;
        }
        let spent = self.held.len() - most;
        if let Some(pass) = &mut self.pass {
            pass.listener.push(&self.held[..spent]);
        }
        self.held.drain(..spent);
        self.first += spent as u64;
    }

    /// How many samples have been heard.
    fn heard(&self) -> u64 {
        self.first + self.held.len() as u64
    }

    fn seconds(&self) -> f64 {
        self.rate.seconds(self.heard())
    }

    fn sample_at(&self, seconds: f64) -> u64 {
        (seconds.max(0.0) * f64::from(self.rate.get())) as u64
    }
}
