//! Where in the melody the player is, from one strike to the next.

use super::expected::{Expected, expected};
use crate::melody::{Melody, Swing};

/// Costs of an alignment: a written note left out, a note added, another note, a start elsewhere than at the beginning, and
/// a jump. Chosen on takes of our own.
const SKIPPED: f32 = 1.0;
const ADDED: f32 = 0.8;
const WRONG: f32 = 0.9;
const START: f32 = 0.6;
const JUMP: f32 = 2.0;

/// By how much the best place must be better than any other before the end of the melody is believed.
const CERTAIN: f32 = 0.8;

/// Seconds to a quarter note before two notes were heard.
const USUAL: f64 = 0.5;

/// Follows a player through a melody, in any octave.
pub struct Follower {
    notes: Vec<Expected>,
    // The best way to each note that ends with the last strike, or before it.
    ways: Vec<Way>,
    strikes: u32,
}

/// A way through the melody up to a note.
#[derive(Clone, Copy, Debug)]
struct Way {
    cost: f32,
    // The first note of it and when it was struck, and when the last one was.
    from: usize,
    began: f64,
    last: f64,
}

/// Where the player is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Whereabouts {
    /// The note, counted from 0 in playing order.
    pub order: usize,
    /// The note of the melody that this is, counted from 0.
    pub index: usize,
    /// When it sounds, in quarter notes from the start of the performance.
    pub onset: f64,
    /// Seconds to a quarter note, as played.
    pub seconds_a_quarter: f64,
    /// When it was struck, in seconds from the start of the stream.
    pub at: f64,
    /// True when it is the last one, and nothing else is likely.
    pub is_end: bool,
}

impl Follower {
    pub fn new(melody: &Melody) -> Follower {
        let notes = expected(melody, melody.feel().and_then(Swing::of));
        Follower {
            ways: Vec::with_capacity(notes.len()),
            notes,
            strikes: 0,
        }
    }

    /// Forgets what was played.
    pub fn start_again(&mut self) {
        self.ways.clear();
        self.strikes = 0;
    }

    /// A note was struck: its sounding pitch, and when.
    pub fn hear(&mut self, pitch: u8, at: f64) {
        let class = i32::from(pitch) % 12;
        let is_first = self.strikes == 0;
        let added = ADDED * self.strikes as f32;
        let best = self.best().map(|(_, way)| way.cost);
        let mut found = Vec::with_capacity(self.notes.len());
        // The best way to any note before this one, with what was left out since.
        let mut before: Option<Way> = None;
        for (order, note) in self.notes.iter().enumerate() {
            let wrong = match note.pitch.rem_euclid(12) == class {
                true => 0.0,
                false => WRONG,
            };
            let start = match order {
                0 => 0.0,
                _ => START,
            };
            let jump = best.map_or(f32::INFINITY, |best| best + JUMP);
            let mut way = Way {
                cost: (added + start).min(jump) + wrong,
                from: order,
                began: at,
                last: at,
            };
            if let Some(before) = before
                && before.cost + wrong <= way.cost
            {
                way = Way {
                    cost: before.cost + wrong,
                    last: at,
                    ..before
                };
            }
            if !is_first {
                let stayed = self.ways[order];
                if stayed.cost + ADDED < way.cost {
                    way = Way {
                        cost: stayed.cost + ADDED,
                        ..stayed
                    };
                }
                before = before.map(|it| Way {
                    cost: it.cost + SKIPPED,
                    ..it
                });
                if before.is_none_or(|before| stayed.cost <= before.cost) {
                    before = Some(stayed);
                }
            }
            found.push(way);
        }
        self.ways = found;
        self.strikes += 1;
    }

    /// Where the player is; `None` before the first strike.
    pub fn whereabouts(&self) -> Option<Whereabouts> {
        let (order, way) = self.best()?;
        let (note, from) = (self.notes[order], self.notes[way.from]);
        let quarters = note.onset - from.onset;
        let seconds_a_quarter = match quarters > 1e-6 && way.last > way.began {
            true => ((way.last - way.began) / quarters).clamp(0.05, 4.0),
            false => USUAL,
        };
        let is_last = order + 1 == self.notes.len();
        let others = self.ways[..order].iter().map(|way| way.cost);
        let second = others.fold(f32::INFINITY, f32::min);
        // Begun at the beginning, or nowhere else half as likely.
        let is_end = is_last && (way.from == 0 || second > way.cost + CERTAIN);
        Some(Whereabouts {
            order,
            index: note.index,
            onset: note.onset,
            seconds_a_quarter,
            at: way.last,
            is_end,
        })
    }

    /// How long the note at this place lasts, in quarter notes.
    pub fn length_of(&self, order: usize) -> f64 {
        self.notes.get(order).map_or(1.0, |note| note.length)
    }

    /// The longest time from one note to the next, in quarter notes.
    pub fn longest_wait(&self) -> f64 {
        let waits = self.notes.windows(2).map(|it| it[1].onset - it[0].onset);
        waits.fold(1.0, f64::max)
    }

    /// The cheapest way; of equals the one that has come least far.
    fn best(&self) -> Option<(usize, Way)> {
        let ways = self.ways.iter().copied().enumerate();
        ways.min_by(|(_, one), (_, other)| one.cost.total_cmp(&other.cost))
    }
}
