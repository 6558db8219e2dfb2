//! The model of memory: FSRS-6, computed by the `fsrs` crate.

use fsrs::{ComputeParametersInput, FSRS, FSRSItem, FSRSReview, MemoryState, compute_parameters};
use thiserror::Error;

use super::ladder::AT_TEMPO;

/// A moment: seconds since 1970 (UTC), and the day on the player's own calendar, counted from 1970-01-01.
///
/// FSRS counts whole days between reviews and treats those of one day apart, so midnight must be the player's.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Moment {
    /// Seconds since 1970-01-01 00:00 UTC.
    pub seconds: i64,
    /// The day on the player's calendar.
    pub day: i32,
}

/// How well an item was answered.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Grade {
    /// Wrong.
    Wrong,
    /// Right, but shown a moment ago, which does not yet predict tomorrow.
    JustShown,
    /// Right, but slow for this player and this kind of question.
    Slow,
    /// Right and no slower than usual.
    Right,
}

impl Grade {
    /// The multiple of the usual time that still counts as quick. Chosen by ear.
    pub const SLOW: f64 = 1.5;

    /// The grade of an answer; `usual` is the median time of this player's right answers to this kind, when there are
    /// enough of them.
    pub fn of(is_right: bool, seconds: f64, usual: Option<f64>) -> Grade {
        match usual {
            _ if !is_right => Grade::Wrong,
            Some(usual) if seconds > usual * Grade::SLOW => Grade::Slow,
            _ => Grade::Right,
        }
    }

    /// The grade of a pass through a phrase at a tempo in percent of the tune's own; `before` is what was remembered of the
    /// phrase, `day` the day of the pass. `None` where the pass says nothing about playing it at its tempo:
    ///
    /// - a fault above the tune's own tempo takes nothing away, as in [`tempo_held`](super::tempo_held);
    /// - a right pass below it is right but slow, and only the first one of a day: more of them are practice on the way
    ///   up a ladder, and would say that the phrase is held less and less well.
    ///
    /// ```
    /// use fretlib::practice::Grade;
    ///
    /// assert_eq!(Grade::of_pass(true, 97, None, 0), Some(Grade::Right));
    /// assert_eq!(Grade::of_pass(true, 80, None, 0), Some(Grade::Slow));
    /// assert_eq!(Grade::of_pass(false, 80, None, 0), Some(Grade::Wrong));
    /// assert_eq!(Grade::of_pass(false, 120, None, 0), None);
    /// ```
    pub fn of_pass(
        is_right: bool,
        percent: u16,
        before: Option<&Memory>,
        day: i32,
    ) -> Option<Grade> {
        let off = f64::from(percent) / 100.0 - 1.0;
        let is_known_today = before.is_some_and(|it| it.is_right && it.last.day == day);
        match is_right {
            true if off >= -AT_TEMPO => Some(Grade::Right),
            true if is_known_today => None,
            true => Some(Grade::Slow),
            false if off > AT_TEMPO => None,
            false => Some(Grade::Wrong),
        }
    }

    /// Whether the answer was right.
    pub const fn is_right(self) -> bool {
        !matches!(self, Grade::Wrong)
    }

    /// Its number in FSRS: 1 again, 2 hard, 3 good. 4, easy, is never given, because an answer does not show that.
    pub const fn number(self) -> u32 {
        match self {
            Grade::Wrong | Grade::JustShown => 1,
            Grade::Slow => 2,
            Grade::Right => 3,
        }
    }

    /// The grade of an answer with this number.
    pub const fn from_number(number: i64, is_right: bool) -> Option<Grade> {
        match number {
            1 if is_right => Some(Grade::JustShown),
            1 => Some(Grade::Wrong),
            2 => Some(Grade::Slow),
            3 => Some(Grade::Right),
            _ => None,
        }
    }
}

/// The memory of an item that was asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Memory {
    /// Days until recall has fallen to 90 percent.
    pub stability: f32,
    /// From 1, easy, to 10.
    pub difficulty: f32,
    /// When it was last asked.
    pub last: Moment,
    /// Whether it was answered right then.
    pub is_right: bool,
}

/// The standing of an item, in the words of the screens.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Standing {
    /// Answered right when it was last asked, and likely to be answered right now.
    Holds,
    /// To be played again today: missed when it was last asked, or likely to be forgotten.
    Fades,
    /// Never asked.
    Untouched,
}

impl Standing {
    /// The word used on screens and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Standing::Holds => "holds",
            Standing::Fades => "fades",
            Standing::Untouched => "untouched",
        }
    }
}

/// How much earlier in the day an item may come back, in days. Chosen by ear.
const A_LITTLE_EARLIER: f64 = 0.25;

/// The parameters are not valid for FSRS.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error("the memory model cannot use these parameters")]
pub struct InvalidParameters;

/// The memory model with its parameters.
///
/// ```
/// use fretlib::practice::{Grade, MemoryModel, Moment};
///
/// let model = MemoryModel::default();
/// let on = |day: i32| Moment { seconds: i64::from(day) * 86_400, day };
/// let memory = model.review(None, Grade::Right, on(0));
/// assert_eq!(memory.stability, 2.3065);
/// assert!(model.recall(&memory, on(30)) < 0.7);
/// ```
#[derive(Clone, Debug, Default)]
pub struct MemoryModel {
    fsrs: FSRS,
    parameters: Vec<f32>,
}

impl MemoryModel {
    /// The number of reviews from which parameters are fitted to the player. Chosen by ear: at a few hundred the
    /// fit is better than the default for most learners.
    pub const REFIT_AFTER: usize = 400;

    /// A model with these parameters; the usual ones when there are none.
    ///
    /// # Errors
    ///
    /// When their number or values are not those of FSRS.
    pub fn new(parameters: &[f32]) -> Result<MemoryModel, InvalidParameters> {
        let is_finite = parameters.iter().all(|parameter| parameter.is_finite());
        let fsrs = FSRS::new(parameters).map_err(|_| InvalidParameters)?;
        if !is_finite {
            return Err(InvalidParameters);
        }
        Ok(MemoryModel {
            fsrs,
            parameters: parameters.to_vec(),
        })
    }

    /// The parameters it was made with; empty for the usual ones.
    pub fn parameters(&self) -> &[f32] {
        &self.parameters
    }

    /// The memory after a review. A day before the last review counts as the same day.
    pub fn review(&self, before: Option<Memory>, grade: Grade, at: Moment) -> Memory {
        let days = before.map_or(0, |memory| at.day.saturating_sub(memory.last.day).max(0));
        let review = FSRSReview {
            rating: grade.number(),
            delta_t: days.unsigned_abs(),
        };
        let state = before.map(|memory| MemoryState {
            stability: memory.stability,
            difficulty: memory.difficulty,
        });
        let item = FSRSItem {
            reviews: vec![review],
        };
        // FSRS rejects only NaN, and this function never returns one.
        let state = self.fsrs.memory_state(item, state).unwrap_or(MemoryState {
            stability: 0.1,
            difficulty: 10.0,
        });
        Memory {
            stability: state.stability,
            difficulty: state.difficulty,
            last: at,
            is_right: grade.is_right(),
        }
    }

    /// How likely it is to be answered right at a moment, from 0 to 1.
    ///
    /// An item missed when it was last asked counts as not known, although FSRS would expect it to be remembered for a
    /// while.
    pub fn recall(&self, memory: &Memory, at: Moment) -> f64 {
        if !memory.is_right {
            return 0.0;
        }
        let days = (at.seconds - memory.last.seconds).max(0) as f32 / 86_400.0;
        let state = MemoryState {
            stability: memory.stability,
            difficulty: memory.difficulty,
        };
        fsrs::current_retrievability(state, days, self.decay()).into()
    }

    /// The standing of an item at a moment, with `retention` as the aim.
    pub fn standing(&self, memory: Option<&Memory>, now: Moment, retention: f32) -> Standing {
        match memory {
            None => Standing::Untouched,
            Some(memory) if self.fades_at(memory, retention) <= now.seconds => Standing::Fades,
            Some(_) => Standing::Holds,
        }
    }

    /// When recall will have fallen to `retention`, in seconds since 1970; at once after a wrong answer.
    pub fn fades_at(&self, memory: &Memory, retention: f32) -> i64 {
        if !memory.is_right {
            return memory.last.seconds;
        }
        let days = self
            .fsrs
            .next_interval(Some(memory.stability), retention, 0);
        // FSRS counts whole days. A player who returns at six must find what was answered at five past six.
        let days = match f64::from(days) {
            days if days < 0.75 => days,
            days => days.round().max(1.0) - A_LITTLE_EARLIER,
        };
        memory.last.seconds + (days * 86_400.0) as i64
    }

    fn decay(&self) -> f32 {
        // The exponent of the forgetting curve is the last of the 21 parameters of FSRS-6.
        self.parameters
            .get(20)
            .copied()
            .unwrap_or(fsrs::FSRS6_DEFAULT_DECAY)
    }

    /// Parameters fitted to a player's own reviews: for each item its grades and days, in order.
    ///
    /// `None` when there are fewer than [`MemoryModel::REFIT_AFTER`] reviews, or nothing can be learned from them.
    pub fn refit(histories: &[Vec<(Grade, i32)>]) -> Option<MemoryModel> {
        if histories.iter().map(Vec::len).sum::<usize>() < MemoryModel::REFIT_AFTER {
            return None;
        }
        let mut train_set = Vec::new();
        for history in histories {
            let mut reviews: Vec<FSRSReview> = Vec::with_capacity(history.len());
            let mut before = None;
            for (grade, day) in history {
                let days = before.map_or(0, |before: i32| day.saturating_sub(before).max(0));
                before = Some(*day);
                reviews.push(FSRSReview {
                    rating: grade.number(),
                    delta_t: days.unsigned_abs(),
                });
                // FSRS learns from reviews a day or more after the one before.
                if days > 0 {
                    train_set.push(FSRSItem {
                        reviews: reviews.clone(),
                    });
                }
            }
        }
        let input = ComputeParametersInput {
            train_set,
            ..ComputeParametersInput::default()
        };
        MemoryModel::new(&compute_parameters(input).ok()?).ok()
    }
}

#[cfg(test)]
mod tests {
    use rand::rngs::ChaCha8Rng;
    use rand::{Rng, SeedableRng};

    use super::*;
    use crate::practice::properties::on;

    // Worked from the published formulas of FSRS-6 with its default parameters, outside the crate: grades 3 3 1 3 3, each
    // on the day it is due. Source: the algorithm page of the open-spaced-repetition project, "FSRS-6".
    #[test]
    fn a_worked_sequence_agrees_with_the_published_formulas() {
        let grades = [
            Grade::Right,
            Grade::Right,
            Grade::Wrong,
            Grade::Right,
            Grade::Right,
        ];
        let stabilities = [2.3065, 10.9643, 1.5383, 4.8763, 12.3117];
        let difficulties = [2.1181, 2.1112, 7.3922, 7.3801, 7.3679];
        let gaps = [2, 11, 2, 5, 12];
        let model = MemoryModel::default();
        let mut memory = None;
        let mut day = 0;
        for index in 0..5 {
            let after = model.review(memory, grades[index], on(day));
            assert!(
                (after.stability - stabilities[index]).abs() < 2e-3,
                "{after:?}"
            );
            assert!(
                (after.difficulty - difficulties[index]).abs() < 2e-3,
                "{after:?}"
            );
            // A missed item fades at once here, unlike in the formula.
            let right = Memory {
                is_right: true,
                ..after
            };
            let gap = (model.fades_at(&right, 0.9) - after.last.seconds) as f64 / 86_400.0;
            assert_eq!(gap.round() as i32, gaps[index]);
            day += gaps[index];
            memory = Some(after);
        }
    }

    // R(t, S) = (1 + F·t/S)^(−w20), F = 0.9^(−1/w20) − 1: at t = S it is 0.9 by definition. Source: as above.
    #[test]
    fn recall_follows_the_published_curve() {
        let model = MemoryModel::default();
        let memory = Memory {
            stability: 8.0,
            difficulty: 5.0,
            last: on(0),
            is_right: true,
        };
        let decay = 0.1542f64;
        let factor = 0.9f64.powf(-1.0 / decay) - 1.0;
        for day in [0, 1, 8, 80, 800] {
            let published = (1.0 + factor * f64::from(day) / 8.0).powf(-decay);
            assert!(
                (model.recall(&memory, on(day)) - published).abs() < 1e-4,
                "{day}"
            );
        }
        assert!((model.recall(&memory, on(8)) - 0.9).abs() < 1e-6);
    }

    #[test]
    fn slow_is_measured_by_the_players_own_speed() {
        let cases = [
            (false, 1.0, None, Grade::Wrong),
            (true, 60.0, None, Grade::Right),
            (true, 5.9, Some(4.0), Grade::Right),
            (true, 6.1, Some(4.0), Grade::Slow),
            (false, 6.1, Some(4.0), Grade::Wrong),
        ];
        for (is_right, seconds, usual, grade) in cases {
            assert_eq!(Grade::of(is_right, seconds, usual), grade);
        }
    }

    #[test]
    fn broken_parameters_are_refused() {
        assert!(MemoryModel::new(&[1.0, 2.0]).is_err());
        assert!(MemoryModel::new(&[f32::NAN; 21]).is_err());
        assert!(MemoryModel::new(&[]).is_ok());
    }

    #[test]
    fn a_clock_set_back_does_no_harm() {
        let model = MemoryModel::default();
        let memory = model.review(None, Grade::Right, on(100));
        let again = model.review(Some(memory), Grade::Right, on(90));
        assert!(again.stability >= memory.stability);
        assert_eq!(model.recall(&memory, on(90)), 1.0);
    }

    /// A player whose recall falls as in FSRS, but `slowness` times as slowly, asked again after these gaps.
    fn player(slowness: f64) -> Vec<Vec<(Grade, i32)>> {
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let truth = MemoryModel::default();
        (0..300)
            .map(|_| {
                let mut memory = truth.review(None, Grade::Right, on(0));
                let mut history = vec![(Grade::Right, 0)];
                let mut day = 0;
                for _ in 0..6 {
                    let gap = 1 + (random.next_u32() % 12) as i32;
                    day += gap;
                    let passed = Moment {
                        seconds: memory.last.seconds
                            + (f64::from(gap) * 86_400.0 / slowness) as i64,
                        day,
                    };
                    let is_right = f64::from(random.next_u32()) / f64::from(u32::MAX)
                        < truth.recall(&memory, passed);
                    let grade = if is_right { Grade::Right } else { Grade::Wrong };
                    memory = truth.review(Some(memory), grade, on(day));
                    history.push((grade, day));
                }
                history
            })
            .collect()
    }

    #[test]
    fn gaps_follow_the_player_once_there_are_enough_reviews() {
        assert!(MemoryModel::refit(&player(1.0)[..50]).is_none());
        let gap = |slowness| {
            let model = MemoryModel::refit(&player(slowness)).unwrap();
            let memory = model.review(None, Grade::Right, on(0));
            model.fades_at(&memory, 0.9) - memory.last.seconds
        };
        let (forgetful, usual, retentive) = (gap(0.1), gap(1.0), gap(10.0));
        assert!(
            forgetful < usual && usual < retentive,
            "{forgetful} {usual} {retentive}"
        );
    }
}
