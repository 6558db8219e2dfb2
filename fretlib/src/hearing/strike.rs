//! How likely it is that a string was struck, and at which pitch.

use super::listener::Heard;
use super::neighbours;
use super::strike_candidate::{HIGHEST, LOWEST, STEPS, StrikeCandidate};
use super::strike_trees::{START, TREES};
use super::trees::{log_odds, logistic};

/// The number of semitones whose combs are compared with a strike.
const PITCHES: usize = HIGHEST - LOWEST + 1;

/// A candidate with a value for every pitch at the tuning of the take.
#[derive(Clone, Debug)]
pub struct Strike {
    pub candidate: StrikeCandidate,
    // The cosine with each semitone, from the lowest on.
    cosines: Vec<f32>,
    // For each pitch the logarithm of the odds that it was struck.
    log_odds: [f32; PITCHES],
    tuning: f32,
}

/// What a strike sounds like by itself or among its neighbours, without knowing the melody.
#[derive(Clone, Copy, Debug)]
pub struct Sounded {
    /// The likeliest pitch: a MIDI note number.
    pub pitch: u8,
    /// The chance that a string was struck at this pitch, from 0 to 1.
    pub chance: f32,
}

/// How far the tuning of a take is from equal temperament at A4 = 440 Hz, in semitones between −0.5 and 0.5.
///
/// The circular mean over the best combs of all strikes.
pub fn tuning(candidates: &[StrikeCandidate]) -> f32 {
    let (mut sine, mut cosine) = (0.0f32, 0.0f32);
    for candidate in candidates {
        let (best, offset) = finest(&candidate.cosines, |_| true);
        let turn = std::f32::consts::TAU * (best as f32 + offset - 2.0) / STEPS as f32;
        let weight = candidate.flux.min(0.3) * candidate.cosines[best];
        sine += weight * turn.sin();
        cosine += weight * turn.cos();
    }
    sine.atan2(cosine) / std::f32::consts::TAU
}

/// The index of the highest wanted value, and the offset of the top of a parabola through its neighbours.
fn finest(values: &[f32], wanted: impl Fn(usize) -> bool) -> (usize, f32) {
    let best = (0..values.len())
        .filter(|&k| wanted(k))
        .max_by(|&a, &b| values[a].total_cmp(&values[b]))
        .unwrap_or(0);
    let (Some(below), Some(above)) = (best.checked_sub(1).map(|k| values[k]), values.get(best + 1))
    else {
        return (best, 0.0);
    };
    let bend = below - 2.0 * values[best] + above;
    if bend.abs() < 1e-9 {
        return (best, 0.0);
    }
    (best, (0.5 * (below - above) / bend).clamp(-0.5, 0.5))
}

impl Strike {
    pub fn new(candidate: StrikeCandidate, tuning: f32) -> Strike {
        let cosines: Vec<f32> = (0..PITCHES)
            .map(|semitone| {
                near(semitone, tuning)
                    .filter_map(|comb| candidate.cosines.get(comb))
                    .copied()
                    .fold(0.0, f32::max)
            })
            .collect();
        let mut strike = Strike {
            candidate,
            cosines,
            log_odds: [NOTHING_ROSE; PITCHES],
            tuning,
        };
        for (semitone, pitch) in (LOWEST as i32..=HIGHEST as i32).enumerate() {
            if let Some(measured) = strike.measured(pitch, &[]) {
                strike.log_odds[semitone] = log_odds(START, &TREES, &measured);
            }
        }
        strike
    }

    /// Seconds from the start of the recording.
    pub fn at(&self) -> f64 {
        self.candidate.at
    }

    fn cosine(&self, pitch: i32) -> f32 {
        usize::try_from(pitch - LOWEST as i32)
            .ok()
            .and_then(|semitone| self.cosines.get(semitone))
            .copied()
            .unwrap_or(0.0)
    }

    /// How far the sound is from `pitch` at the tuning of the take, in cents.
    pub fn cents(&self, pitch: u8, tuning: f32) -> f32 {
        let semitone = usize::from(pitch) - LOWEST;
        let allowed = near(semitone, tuning);
        let (best, offset) = finest(&self.candidate.cosines, |comb| allowed.contains(&comb));
        let steps = best as f32 + offset - 2.0 - (semitone * STEPS) as f32;
        100.0 * (steps / STEPS as f32 - tuning)
    }

    /// The chance that a note of this pitch was struck here, when one is expected about now; from 0 to 1.
    ///
    /// `under` are pitches that are struck with it, which may sound louder.
    pub fn chance_of(&self, pitch: i32, under: &[i32]) -> f32 {
        let odds = match under {
            [] => self.log_odds(pitch),
            under => self
                .measured(pitch, under)
                .map_or(NOTHING_ROSE, |it| log_odds(START, &TREES, &it)),
        };
        logistic(odds + EXPECTED)
    }

    /// What was heard, whatever the melody has there.
    pub fn sounded(&self) -> Sounded {
        let odds = |pitch: u8| self.log_odds(pitch.into());
        let pitch = (LOWEST as u8..=HIGHEST as u8)
            .max_by(|&a, &b| odds(a).total_cmp(&odds(b)))
            .unwrap_or(LOWEST as u8);
        Sounded {
            pitch,
            chance: logistic(odds(pitch)),
        }
    }

    /// The logarithm of the odds of the likeliest other pitch.
    pub fn rival_log_odds(&self, pitch: i32) -> f32 {
        (LOWEST as i32..=HIGHEST as i32)
            .filter(|it| *it != pitch)
            .map(|it| self.log_odds(it))
            .fold(NOTHING_ROSE, f32::max)
    }

    /// Changes the logarithm of the odds of a pitch.
    pub fn set_log_odds(&mut self, pitch: i32, log_odds: f32) {
        let semitone = usize::try_from(pitch - LOWEST as i32).ok();
        if let Some(known) = semitone.and_then(|it| self.log_odds.get_mut(it)) {
            *known = log_odds;
        }
    }

    /// The logarithm of the odds of the likeliest pitch.
    pub fn highest_log_odds(&self) -> f32 {
        self.log_odds.iter().copied().fold(NOTHING_ROSE, f32::max)
    }

    /// The logarithm of the odds that this pitch was struck, whatever the melody has there.
    pub fn log_odds(&self, pitch: i32) -> f32 {
        usize::try_from(pitch - LOWEST as i32)
            .ok()
            .and_then(|semitone| self.log_odds.get(semitone))
            .copied()
            .unwrap_or(NOTHING_ROSE)
    }

    /// What is measured of a note of this pitch beside those `under` it; `None` where nothing like it rose.
    pub fn measured(&self, pitch: i32, under: &[i32]) -> Option<[f32; MEASURED]> {
        let semitone = usize::try_from(pitch - LOWEST as i32).ok()?;
        let near = near(semitone, self.tuning);
        let it = &self.candidate;
        let comb = it.fitting.iter().find(|fits| near.contains(&fits.comb))?;
        let cosine = self.cosine(pitch);
        let least = cosine.max(LEAST_COSINE);
        let rival = (LOWEST as i32..=HIGHEST as i32)
            .filter(|other| *other != pitch && !under.contains(other))
            .map(|other| self.cosine(other))
            .fold(0.0, f32::max);
        let at = |interval: i32| match under.contains(&(pitch + interval)) {
            true => 0.0,
            false => self.cosine(pitch + interval),
        };
        Some([
            it.flux.ln().min(0.0),
            it.gain,
            cosine,
            cosine.max(rival),
            (cosine - rival) / least,
            (cosine - at(-1).max(at(1))) / least,
            at(-12),
            at(12),
            at(-19),
            at(19),
            at(-7),
            at(7),
            (it.level_db - it.before_db).clamp(-10.0, 30.0),
            it.level_db - it.local_db,
            it.sustain_db.clamp(-30.0, 5.0),
            it.dip_db.clamp(0.0, 40.0),
            pitch as f32,
            comb.after,
            comb.before,
            comb.later,
            comb.first_rise,
            comb.odd_rise,
            comb.even_rise,
            comb.median_rise,
            comb.first_share,
            comb.odd_share,
            comb.holds,
        ])
    }
}

/// How many values are measured of a pitch.
pub const MEASURED: usize = 27;

/// Cosines below this are noise; the floor limits their ratios.
const LEAST_COSINE: f32 = 0.05;

/// The logarithm of the odds of a pitch at which nothing rose.
pub const NOTHING_ROSE: f32 = -12.0;

/// By how much the melody raises the logarithm of the odds of the note that it has there; chosen on takes of our own.
const EXPECTED: f32 = 2.0;

/// The combs within 0.35 semitones of a semitone at this tuning.
fn near(semitone: usize, tuning: f32) -> std::ops::RangeInclusive<usize> {
    let centre = ((semitone as f32 + tuning) * STEPS as f32 + 2.0).max(0.0);
    ((centre - 1.75).max(0.0).ceil() as usize)..=((centre + 1.75).floor() as usize)
}

/// What the trees are told about a strike.
#[derive(Clone, Debug)]
pub struct MeasuredStrike<const N: usize> {
    /// Seconds from the start of the recording.
    pub at: f64,
    /// The pitches that may have been struck, as they sound, with what is measured of each.
    pub pitches: Vec<(i32, [f32; N])>,
}

/// What is measured of every strike of a recording by itself.
pub fn measured(heard: &Heard) -> Vec<MeasuredStrike<MEASURED>> {
    let of_strike = |strike: &Strike| MeasuredStrike {
        at: strike.at(),
        pitches: (LOWEST as i32..=HIGHEST as i32)
            .filter_map(|pitch| Some((pitch, strike.measured(pitch, &[])?)))
            .collect(),
    };
    heard.strikes.iter().map(of_strike).collect()
}

/// What is measured of every strike of a recording among its neighbours.
pub fn measured_among_neighbours(heard: &Heard) -> Vec<MeasuredStrike<{ neighbours::MEASURED }>> {
    let alone = |it: &Strike| Strike::new(it.candidate.clone(), it.tuning);
    let strikes: Vec<Strike> = heard.strikes.iter().map(alone).collect();
    let measured = neighbours::measured(&strikes);
    strikes
        .iter()
        .zip(measured)
        .map(|(strike, pitches)| MeasuredStrike {
            at: strike.at(),
            pitches,
        })
        .collect()
}
