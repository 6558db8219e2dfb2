//! A closer look at a note of the melody for which no strike was found.
//!
//! A soft note over a louder one that rings on hardly rises: what tells it is that its overtones sound on when they should
//! have died away, at the moment when the note is expected.

use super::listener::Heard;
use super::second_look_trees::{START, TREES};
use super::strike::{NOTHING_ROSE, Strike};
use super::strike_candidate::middle;
use super::struck_note::StruckNote;
use super::trees::{log_odds, logistic};
use crate::theory::MidiNumber;

/// How many values are measured of a note.
pub const MEASURED: usize = 28;

/// Partials that are followed.
const PARTIALS: usize = 8;

/// How far from the expected time a strike may be, in seconds.
const NEAR: f64 = 0.045;

/// By how much a partial rises at least where a string is struck, in dB, and how far below its loudest moment it is looked
/// at; of 119 notes added to takes of our own the least rose by 7 dB, between the notes 97 of 100 clicks by less than .3.
const SOUNDS: f32 = 3.0;
const HEARD_BELOW: f32 = 30.0;

/// The flux of a strike that was not found.
const NO_FLUX: f32 = 0.001;

/// By how much the magnitudes of a Hann window stand above the RMS level, in dB: a sine of amplitude 1 has 1.22 in three bins.
const HANN_OVER_RMS: f32 = 4.8;

/// Seconds on each side in which the loudest moment and the floor of each partial are looked for.
const AROUND: f64 = 3.0;

/// A note that was not found.
#[derive(Clone, Copy, Debug)]
pub struct MissedNote {
    /// Its sounding pitch: a MIDI note number.
    pub pitch: i32,
    /// When it is expected, in seconds.
    pub at: f64,
    /// Seconds since the note before, and to the next one.
    pub since: f64,
    pub until: f64,
    /// True when the note before has the same pitch.
    pub is_repeated: bool,
    /// How far the softest notes of the take lie below the middle one, in dB: whoever plays evenly plays none too softly.
    pub softest_db: f32,
}

/// The chance that the note was played after all; from 0 to 1.
pub fn chance(heard: &Heard, note: MissedNote) -> f32 {
    logistic(log_odds(START, &TREES, &measured(heard, note)))
}

/// The note, played too softly to be found as a strike: at the nearest possible strike, else when it is expected.
pub fn as_note(heard: &Heard, note: MissedNote, next: f64) -> Option<StruckNote> {
    let apart = |it: &&Strike| (it.at() - note.at).abs();
    let near = near(heard, note.at).iter();
    let nearest = near.min_by(|a, b| apart(a).total_cmp(&apart(b)));
    let onset = nearest.map_or(note.at, Strike::at).max(0.0);
    let levels = heard.levels.total(onset..onset + 0.06);
    Some(StruckNote {
        onset,
        end: next.max(onset),
        pitch: MidiNumber::new(u8::try_from(note.pitch).ok()?).ok()?,
        cents: 0.0,
        level_db: levels.into_iter().fold(-120.0, f32::max) - HANN_OVER_RMS,
    })
}

/// What the level of its partials did around the time at which the note is expected.
pub fn measured(heard: &Heard, note: MissedNote) -> [f32; MEASURED] {
    let partials: Vec<Partial> = (1..=PARTIALS)
        .map(|number| Partial::of(heard, note.pitch, number as f32, note.at))
        .collect();
    let mean_of =
        |value: &dyn Fn(&Partial) -> f32| partials.iter().map(value).sum::<f32>() / PARTIALS as f32;
    let highest_of =
        |value: &dyn Fn(&Partial) -> f32| partials.iter().map(value).fold(f32::MIN, f32::max);
    // Loud partials count more: the others are lost in the noise.
    let weights = mean_of(&Partial::weight);
    let weighted = |value: &dyn Fn(&Partial) -> f32| {
        mean_of(&|it: &Partial| it.weight() * value(it)) / weights
    };
    let mut excess: Vec<f32> = partials.iter().map(Partial::excess).collect();
    let middle_excess = middle(&mut excess);
    excess.sort_by(|a, b| b.total_cmp(a));
    let first = &partials[0];
    let beside = [-1, 1].map(|step| {
        let beside = (1..=PARTIALS)
            .map(|number| hertz(heard, note.pitch + step, number as f32))
            .map(|hertz| level(heard, hertz, note.at, AFTER))
            .sum::<f32>();
        beside / PARTIALS as f32
    });
    let total = |(from, to): (f64, f64)| mean(&heard.levels.total(note.at + from..note.at + to));
    let loudest = heard.levels.total(note.at - 1.5..note.at + 1.5);
    let near = near(heard, note.at);
    let strongest = near
        .iter()
        .max_by(|a, b| a.candidate.flux.total_cmp(&b.candidate.flux));
    [
        weighted(&Partial::rise),
        weighted(&Partial::excess),
        mean(&excess[..3]),
        middle_excess,
        weighted(&|it: &Partial| it.before - it.long_before),
        weighted(&|it: &Partial| it.later - it.after),
        first.rise(),
        first.excess(),
        first.after - first.floor,
        highest_of(&|it: &Partial| it.after - it.floor),
        mean_of(&|it: &Partial| it.after - it.floor),
        highest_of(&|it: &Partial| it.after - it.loudest),
        mean_of(&|it: &Partial| it.after - it.loudest),
        highest_of(&|it: &Partial| it.later - it.floor),
        mean_of(&|it: &Partial| it.later - it.floor),
        mean_of(&|it: &Partial| it.after) - beside[0].max(beside[1]),
        total(AFTER) - total(BEFORE),
        total(BEFORE) - total(LONG_BEFORE),
        total(LATER) - total(AFTER),
        total(AFTER) - loudest.iter().copied().fold(f32::MIN, f32::max),
        strongest.map_or(NO_FLUX, |it| it.candidate.flux).ln(),
        strongest.map_or(NEAR, |it| (it.at() - note.at).abs()) as f32,
        near.iter()
            .map(|it| it.log_odds(note.pitch))
            .fold(NOTHING_ROSE, f32::max),
        strongest.map_or(NOTHING_ROSE, |it| it.highest_log_odds()),
        f32::from(u8::from(note.is_repeated)),
        note.since.min(1.0) as f32,
        note.until.min(1.0) as f32,
        note.softest_db,
    ]
}

/// Whether a string of this pitch sounds after a strike: one of its partials stands above its level before.
///
/// A click or a knock between two notes rises as far as a string, but is over before the string that rang on has changed.
pub fn sounds_after(heard: &Heard, pitch: i32, at: f64) -> bool {
    (1..=PARTIALS)
        .map(|number| Partial::of(heard, pitch, number as f32, at))
        .map(|it| (it.after.max(it.later), it.before, it.loudest))
        .any(|(after, before, loudest)| after - before >= SOUNDS && after >= loudest - HEARD_BELOW)
}

/// The strikes around a time in seconds.
fn near(heard: &Heard, at: f64) -> &[Strike] {
    let from = heard.strikes.partition_point(|it| it.at() <= at - NEAR);
    let strikes = &heard.strikes[from..];
    &strikes[..strikes.partition_point(|it| it.at() < at + NEAR)]
}

/// The frequency of a partial of a pitch, at the tuning of the take.
fn hertz(heard: &Heard, pitch: i32, number: f32) -> f32 {
    let semitones = pitch as f32 - 69.0 + heard.tuning;
    440.0 * (semitones / 12.0).exp2() * number
}

/// The mean level at a frequency in a time around `at`, in dB.
fn level(heard: &Heard, hertz: f32, at: f64, (from, to): (f64, f64)) -> f32 {
    mean(&heard.levels.partial(hertz, at + from..at + to))
}

/// Times around the expected one, in seconds.
const LONG_BEFORE: (f64, f64) = (-0.2, -0.12);
const BEFORE: (f64, f64) = (-0.09, -0.05);
const AFTER: (f64, f64) = (0.05, 0.09);
const LATER: (f64, f64) = (0.12, 0.18);

/// How much of the sound after the expected time is looked at, in seconds.
pub const LOOKS_AHEAD: f64 = LATER.1;

/// The level of a partial around a moment, in dB.
struct Partial {
    long_before: f32,
    before: f32,
    after: f32,
    later: f32,
    /// The lower tenth and the highest level around.
    floor: f32,
    loudest: f32,
}

impl Partial {
    fn of(heard: &Heard, pitch: i32, number: f32, at: f64) -> Partial {
        let hertz = hertz(heard, pitch, number);
        let level = |time| level(heard, hertz, at, time);
        let mut around = heard.levels.partial(hertz, at - AROUND..at + AROUND);
        around.sort_by(f32::total_cmp);
        Partial {
            long_before: level(LONG_BEFORE),
            before: level(BEFORE),
            after: level(AFTER),
            later: level(LATER),
            floor: around.get(around.len() / 10).copied().unwrap_or(-120.0),
            loudest: around.last().copied().unwrap_or(-120.0),
        }
    }

    fn rise(&self) -> f32 {
        self.after - self.before
    }

    /// How far it stands above where it would be had it died away as before.
    fn excess(&self) -> f32 {
        self.rise() - 1.2 * (self.before - self.long_before).min(0.0)
    }

    fn weight(&self) -> f32 {
        (self.after - self.loudest + 40.0).max(0.0) + 0.001
    }
}

fn mean(values: &[f32]) -> f32 {
    values.iter().sum::<f32>() / values.len().max(1) as f32
}
