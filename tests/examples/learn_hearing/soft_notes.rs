//! Learns how a note that is too soft for a strike is told from one that was left out.

use std::error::Error;

use fretlib::hearing::learn;

use crate::boosting::{Rows, Trees};
use crate::played_take::PlayedTake;

/// Trees, and after how many of them they are measured.
const TREES: usize = 60;
const MEASURED_EVERY: usize = 10;

/// How near to its expected time a note was played in time, in seconds.
const IN_TIME: f64 = 0.09;

/// Odds from which a note counts as played, for the measure.
const PLAYED: [f32; 4] = [-1.0, -0.6, -0.2, 0.2];

/// The trees learned from the first folders; what they tell of the others is said as they grow.
pub fn learn(from: &[String], check: &[String]) -> Result<Trees, Box<dyn Error>> {
    let rows = rows(from)?;
    let check = self::rows(check)?;
    let mut trees = Trees::before(&rows, None);
    for count in 1..=TREES {
        trees.grow(&rows);
        if count % MEASURED_EVERY == 0 && !check.struck.is_empty() {
            say(count, &trees, &check);
        }
    }
    Ok(trees)
}

/// The notes for which no strike was found: those played in time and those left out.
fn rows(folders: &[String]) -> Result<Rows<{ learn::MEASURED_AGAIN }>, Box<dyn Error>> {
    let mut rows = Rows::default();
    for take in PlayedTake::all_in(folders)? {
        for note in learn::not_found(&take.heard()?, &take.melody()?) {
            let played = take.played.iter().find(|it| it.score_i == Some(note.index));
            match played {
                None => rows.push(note.values, false),
                Some(played) => {
                    let is_right = i32::from(take.score[note.index].midi) == played.midi;
                    if is_right && (played.on - note.expected).abs() < IN_TIME {
                        rows.push(note.values, true);
                    }
                }
            }
        }
    }
    Ok(rows)
}

fn say(count: usize, trees: &Trees, rows: &Rows<{ learn::MEASURED_AGAIN }>) {
    let played = rows.struck.iter().filter(|it| **it).count();
    eprintln!(
        "{count} trees: {played} played, {} left out",
        rows.struck.len() - played
    );
    for limit in PLAYED {
        let taken = rows.values.iter().map(|it| trees.log_odds(it) >= limit);
        let told: Vec<(bool, bool)> = taken.zip(rows.struck.iter().copied()).collect();
        let count = |told_as: (bool, bool)| told.iter().filter(|it| **it == told_as).count();
        eprintln!(
            "    from odds {limit:+.1}: {} played and found, {} left out and taken for played",
            count((true, true)),
            count((true, false)),
        );
    }
}
