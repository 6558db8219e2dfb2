//! How likely it is that a string was struck, and at which pitch.

use super::strike_candidate::{HIGHEST, LOWEST, STEPS, StrikeCandidate};

/// The number of semitones whose combs are compared with a strike.
const PITCHES: usize = HIGHEST - LOWEST + 1;

/// A candidate with a value for every pitch at the tuning of the take.
#[derive(Clone, Debug)]
pub struct Strike {
    pub candidate: StrikeCandidate,
    // The cosine with each semitone, from the lowest on.
    cosines: Vec<f32>,
    /// The best pitch: a MIDI note number as it sounds.
    pub best: u8,
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
        let best = (0..PITCHES)
            .max_by(|&a, &b| cosines[a].total_cmp(&cosines[b]))
            .unwrap_or(0);
        Strike {
            candidate,
            cosines,
            best: (LOWEST + best) as u8,
        }
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

    /// How much better the best pitch fits than this one.
    pub fn behind(&self, pitch: i32) -> f32 {
        self.cosine(self.best.into()) - self.cosine(pitch)
    }

    /// The most likely pitch given only the previous pitch; large leaps are rare.
    pub fn pitch_after(&self, before: Option<u8>) -> u8 {
        let value = |pitch: u8| {
            let leap = before.map_or(0, |before| before.abs_diff(pitch));
            self.cosine(pitch.into()) - LEAP * f32::from(leap.min(36))
        };
        (LOWEST as u8..=HIGHEST as u8)
            .max_by(|&a, &b| value(a).total_cmp(&value(b)))
            .unwrap_or(self.best)
    }

    /// How far the sound is from `pitch` at the tuning of the take, in cents.
    pub fn cents(&self, pitch: u8, tuning: f32) -> f32 {
        let semitone = usize::from(pitch) - LOWEST;
        let allowed: Vec<usize> = near(semitone, tuning).collect();
        let (best, offset) = finest(&self.candidate.cosines, |comb| allowed.contains(&comb));
        let steps = best as f32 + offset - 2.0 - (semitone * STEPS) as f32;
        100.0 * (steps / STEPS as f32 - tuning)
    }

    /// The chance that a string was struck here, given only the previous pitch; from 0 to 1.
    pub fn chance(&self, pitch: u8, before: Option<u8>) -> f32 {
        if self.is_damping() {
            return 0.0;
        }
        let pitch = i32::from(pitch);
        let it = &self.candidate;
        let flux = it.flux.ln().min(0.0);
        let cosine = self.cosine(pitch);
        let rival = (0..PITCHES as i32)
            .map(|semitone| semitone + LOWEST as i32)
            .filter(|&it| it != pitch)
            .map(|it| self.cosine(it))
            .fold(0.0, f32::max);
        let over = |other: f32| (cosine - other) / cosine.max(LEAST_COSINE);
        let sustain = it.sustain_db.clamp(-30.0, 0.0);
        let mut sum = -0.904 + 1.276 * flux - 1.198 * it.gain
            + 3.139 * cosine
            + 4.637 * over(self.neighbour(pitch))
            + 17.858 * over(rival)
            - 0.0136 * (it.level_db - it.local_db)
            + 0.1205 * sustain;
        if before.is_some_and(|it| i32::from(it) == pitch) {
            sum += 6.439 - 4.088 * it.gain + 3.498 * flux - 0.301 * self.rise()
                + 0.530 * self.dip()
                - 0.366 * sustain;
        }
        logistic(sum)
    }

    /// The chance that a note of this pitch was struck here, when one is expected about now; from 0 to 1.
    ///
    /// `before` is the pitch of the note before it: a string that rings on at that pitch is easily taken for a new strike.
    /// `under` are pitches that are struck with it, which may sound louder.
    pub fn chance_of(&self, pitch: i32, before: Option<i32>, under: &[i32]) -> f32 {
        if self.is_damping() {
            return 0.0;
        }
        let it = &self.candidate;
        let flux = it.flux.ln().min(0.0);
        // If another octave fits far better, that octave was played.
        let best = match under {
            [] => self.best.into(),
            under => self.best_beside(under),
        };
        if (best - pitch) % 12 == 0 && self.cosine(best) - self.cosine(pitch) > OTHER_OCTAVE {
            return 0.0;
        }
        let cosine = self.cosine(pitch);
        let best = self.cosine(best).max(LEAST_COSINE);
        let mut sum = 2.593 + 1.330 * flux - 2.650 * it.gain + 7.845 * best
            - 15.893 * (best - cosine) / best
            + 1.951 * (cosine - self.neighbour(pitch)) / best
            - 0.0276 * (it.level_db - it.local_db);
        if before == Some(pitch) {
            sum += 5.867 + 1.156 * flux - 0.565 * self.rise() + 0.429 * self.dip() - 10.908 * best;
        }
        logistic(sum)
    }

    /// True for the click of damping a string: a tenth of a second later there is silence.
    ///
    /// Limits chosen on takes of our own.
    fn is_damping(&self) -> bool {
        let it = &self.candidate;
        it.sustain_db < -14.0 && it.level_db + it.sustain_db < it.local_db - 32.0
    }

    /// The best pitch but for some.
    fn best_beside(&self, under: &[i32]) -> i32 {
        (LOWEST as i32..=HIGHEST as i32)
            .filter(|pitch| !under.contains(pitch))
            .max_by(|&a, &b| self.cosine(a).total_cmp(&self.cosine(b)))
            .unwrap_or(self.best.into())
    }

    fn neighbour(&self, pitch: i32) -> f32 {
        self.cosine(pitch - 1).max(self.cosine(pitch + 1))
    }

    /// How much the level rises.
    fn rise(&self) -> f32 {
        (self.candidate.level_db - self.candidate.before_db).clamp(-5.0, 10.0)
    }

    /// How far the level fell before.
    fn dip(&self) -> f32 {
        self.candidate.dip_db.clamp(0.0, 20.0)
    }
}

/// Cosines below this are noise; the floor limits their ratios.
const LEAST_COSINE: f32 = 0.05;

/// How much better another octave must fit to be the one that was played; octaves share half of their overtones.
const OTHER_OCTAVE: f32 = 0.14;

/// What a semitone of leap costs, in cosine; chosen on takes of our own.
const LEAP: f32 = 0.002;

/// The combs within 0.35 semitones of a semitone at this tuning.
fn near(semitone: usize, tuning: f32) -> impl Iterator<Item = usize> {
    let centre = ((semitone as f32 + tuning) * STEPS as f32 + 2.0).max(0.0);
    ((centre - 1.75).max(0.0).ceil() as usize)..=((centre + 1.75).floor() as usize)
}

fn logistic(x: f32) -> f32 {
    1.0 / (1.0 + (-x).exp())
}
