//! A simulated player over sixty days: the schedule with and without learning a phrase first, against plain random order
//! and against fixed blocks.
//!
//! `cargo run --release -p fretlib --example sixty_days`
//!
//! The player does not forget as the schedule's own model says, or the comparison would be its own proof. Recall halves
//! with every half-life: 2^(−t/h). A right answer lengthens the half-life by `growth` times what had been forgotten; a wrong
//! one shortens it. Half-lives are measured against the published averages of FSRS-6: after a first wrong answer recall is
//! 0.9 for 0.212 days, a half-life of 1.4 days; a right answer at recall 0.9 makes memory last about 3.4 times as long, a
//! growth of 24. The usual player has half of that, since fingers are slower than words; the others a quarter and all of it.
//!
//! A phrase that is shown leaves half of what an answer leaves, right or told: asking beats showing (Latimier et al. 2021,
//! Educ. Psychol. Rev. 33). By how much for fingers is a guess.

use fretlib::neck::Position;
use fretlib::practice::{
    Grade, Item, Kind, Lesson, MemoryModel, Moment, PlacementKey, Reason, Schedule, SessionAim,
    TuneId,
};
use fretlib::theory::Octave;
use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};

const DAYS: i32 = 60;
/// Without any practice after the sixty days.
const LATER: i32 = 74;
const MINUTES_A_DAY: f64 = 15.0;
const SECONDS_RIGHT: f64 = 8.0;
const SECONDS_WRONG: f64 = 16.0;
/// One run for each, so that no figure is the luck of one.
const SEEDS: std::ops::Range<u64> = 0..20;
/// For each stage of a phrase that is shown: playing it through slowly, twice or so.
const SECONDS_SHOWN: f64 = 12.0;

/// How a player remembers.
#[derive(Clone, Copy)]
struct Player {
    name: &'static str,
    /// Days in which a first answer is half forgotten.
    first: f64,
    /// By how much a half-life grows when an answer comes at the last moment.
    growth: f64,
    /// What is left of a half-life after a wrong answer.
    relapse: f64,
}

const PLAYERS: [Player; 3] = [
    Player {
        name: "forgetful",
        first: 0.7,
        growth: 6.0,
        relapse: 0.3,
    },
    Player {
        name: "usual",
        first: 1.4,
        growth: 12.0,
        relapse: 0.4,
    },
    Player {
        name: "retentive",
        first: 2.8,
        growth: 24.0,
        relapse: 0.6,
    },
];

#[derive(Clone, Copy)]
struct Trace {
    half_life: f64,
    last: f64,
}

struct Mind {
    player: Player,
    traces: Vec<Option<Trace>>,
    random: ChaCha8Rng,
    seconds: f64,
}

impl Mind {
    fn new(player: Player, items: usize, seed: u64) -> Mind {
        Mind {
            player,
            traces: vec![None; items],
            random: ChaCha8Rng::seed_from_u64(seed),
            seconds: 0.0,
        }
    }

    fn recall(&self, item: usize, day: f64) -> f64 {
        self.traces[item].map_or(0.0, |trace| {
            2f64.powf(-(day - trace.last) / trace.half_life)
        })
    }

    /// Asks the player; the answer is shown after a wrong one, so each asking leaves a trace.
    fn ask(&mut self, item: usize, day: f64) -> bool {
        let recall = self.recall(item, day);
        let is_right = f64::from(self.random.next_u32()) / f64::from(u32::MAX) < recall;
        let half_life = match self.traces[item] {
            None => self.player.first,
            Some(trace) if is_right => {
                let grown = trace.half_life * (1.0 + self.player.growth * (1.0 - recall));
                grown.max(self.player.first)
            }
            Some(trace) => (trace.half_life * self.player.relapse).max(self.player.first / 2.0),
        };
        self.traces[item] = Some(Trace {
            half_life,
            last: day,
        });
        self.seconds += if is_right {
            SECONDS_RIGHT
        } else {
            SECONDS_WRONG
        };
        is_right
    }

    /// Shows a phrase: what has no trace gets a weak one.
    fn learn(&mut self, shown: impl Iterator<Item = usize>, lesson: &Lesson, day: f64) {
        for item in shown {
            self.traces[item].get_or_insert(Trace {
                half_life: self.player.first / 2.0,
                last: day,
            });
        }
        self.seconds += SECONDS_SHOWN * lesson.stages().len() as f64;
    }

    fn remembered(&self, day: f64) -> f64 {
        (0..self.traces.len())
            .map(|item| self.recall(item, day))
            .sum()
    }

    /// What is still remembered two weeks later, for each minute of practice.
    fn learned_a_minute(&self) -> f64 {
        self.remembered(f64::from(LATER)) * 60.0 / self.seconds
    }
}

/// Prints the means over all runs of one way to practise.
fn print_means(way: &str, runs: &[Mind]) {
    let mean = |of: &dyn Fn(&Mind) -> f64| runs.iter().map(of).sum::<f64>() / runs.len() as f64;
    println!(
        "  {way:<22} {:>5.0} of {} on day {DAYS}, {:>5.0} on day {LATER}, {:>5.0} minutes, {:.2} a minute",
        mean(&|mind| mind.remembered(f64::from(DAYS))),
        runs[0].traces.len(),
        mean(&|mind| mind.remembered(f64::from(LATER))),
        mean(&|mind| mind.seconds / 60.0),
        mean(&Mind::learned_a_minute)
    );
}

/// One tune: eight phrases, asked in four ways at twelve placements and in three ways by itself.
fn items() -> Vec<Item> {
    let mut items = Vec::new();
    for phrase in 0..8 {
        for kind in Kind::ASKED {
            let positions: Vec<Option<u8>> = match kind.is_on_the_neck() {
                true => (1..=12).map(Some).collect(),
                false => vec![None],
            };
            for position in positions {
                let placement = position.and_then(|number| Position::new(number).ok());
                items.push(Item {
                    tune: TuneId::from_bytes([0; 16]),
                    phrase,
                    kind,
                    placement: placement.map(|position| PlacementKey {
                        position,
                        octave: Octave::WRITTEN,
                    }),
                });
            }
        }
    }
    items
}

/// Fifteen minutes of a day, `day` moving on by the time that passes.
fn each_day(mind: &mut Mind, mut session: impl FnMut(&mut Mind, i32, f64) -> bool) {
    for day in 0..DAYS {
        let before = mind.seconds;
        while mind.seconds - before < MINUTES_A_DAY * 60.0 {
            let now = f64::from(day) + (mind.seconds - before) / 86_400.0;
            if !session(mind, day, now) {
                break;
            }
        }
    }
}

fn scheduled(player: Player, items: &[Item], learn_first: bool, seed: u64) -> Mind {
    let mut mind = Mind::new(player, items.len(), seed);
    let mut random = ChaCha8Rng::seed_from_u64(!seed);
    let mut known: Vec<_> = items.iter().map(|item| (*item, None)).collect();
    let mut model = MemoryModel::default();
    let mut histories: Vec<Vec<(Grade, i32)>> = vec![Vec::new(); items.len()];
    let mut today = None;
    let mut schedule = Schedule::new(known.clone(), model.clone(), SessionAim::default());
    each_day(&mut mind, |mind, day, now| {
        let moment = Moment {
            seconds: (now * 86_400.0) as i64,
            day,
        };
        if today.replace(day) != Some(day) {
            // A new session: the model is fitted once a week when there is enough to learn from.
            known = schedule.items().to_vec();
            if day % 7 == 6
                && let Some(fitted) = MemoryModel::refit(&histories)
            {
                model = fitted;
            }
            schedule = Schedule::new(known.clone(), model.clone(), SessionAim::default());
        }
        let Some((item, reason)) =
            schedule.next(moment, |count| random.next_u32() as usize % count.max(1))
        else {
            return false;
        };
        // What is only weak still holds: the day's work is done.
        if reason == Reason::Weak {
            return false;
        }
        if learn_first && let Some(lesson) = schedule.lesson(item, items[0].placement) {
            let is_shown = |(_, it): &(usize, &Item)| {
                it.phrase == lesson.phrase
                    && (it.placement.is_none() || it.placement == lesson.placement)
            };
            let shown = items.iter().enumerate().filter(is_shown);
            mind.learn(shown.map(|(index, _)| index), &lesson, now);
        }
        let grade = if mind.ask(item, now) {
            Grade::Right
        } else {
            Grade::Wrong
        };
        let grade = schedule.grade(item, grade);
        schedule.answered(item, grade, moment);
        histories[item].push((grade, day));
        true
    });
    mind
}

fn at_random(player: Player, items: &[Item], seed: u64) -> Mind {
    let mut mind = Mind::new(player, items.len(), seed);
    let mut random = ChaCha8Rng::seed_from_u64(!seed);
    each_day(&mut mind, |mind, _, now| {
        let item = random.next_u32() as usize % items.len();
        mind.ask(item, now);
        true
    });
    mind
}

/// A phrase at a time, ten answers to each item in a row, then the next, round and round.
fn in_blocks(player: Player, items: &[Item], seed: u64) -> Mind {
    const IN_A_ROW: usize = 10;
    let mut mind = Mind::new(player, items.len(), seed);
    let mut count = 0;
    each_day(&mut mind, |mind, _, now| {
        mind.ask(count / IN_A_ROW % items.len(), now);
        count += 1;
        true
    });
    mind
}

fn main() {
    let items = items();
    println!(
        "items remembered (sum of recall), {MINUTES_A_DAY} minutes a day at most, means of {} runs",
        SEEDS.count()
    );
    for player in PLAYERS {
        println!("{} player", player.name);
        let runs = |run: &dyn Fn(u64) -> Mind| SEEDS.map(run).collect::<Vec<Mind>>();
        let learned = runs(&|seed| scheduled(player, &items, true, seed));
        let asked = runs(&|seed| scheduled(player, &items, false, seed));
        print_means("schedule, learn first", &learned);
        print_means("schedule, ask at once", &asked);
        print_means(
            "plain random",
            &runs(&|seed| at_random(player, &items, seed)),
        );
        print_means(
            "fixed blocks",
            &runs(&|seed| in_blocks(player, &items, seed)),
        );
        let gains: Vec<f64> = learned
            .iter()
            .zip(&asked)
            .map(|(learned, asked)| learned.learned_a_minute() / asked.learned_a_minute() - 1.0)
            .collect();
        println!(
            "  learn first gains {:+.1} to {:+.1} % a minute, and is ahead in {} of {} runs",
            100.0 * gains.iter().copied().fold(f64::INFINITY, f64::min),
            100.0 * gains.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            gains.iter().filter(|gain| **gain > 0.0).count(),
            gains.len()
        );
    }
}
