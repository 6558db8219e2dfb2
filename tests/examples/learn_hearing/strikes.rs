//! Learns how a struck note is told from a string that rings on, by itself and beside the notes around it.

use std::collections::BTreeMap;
use std::error::Error;

use fretlib::hearing::{Heard, learn};

use crate::boosting::{Rows, Trees};
use crate::played_take::{PlayedNote, PlayedTake};

/// Trees, and after how many of them they are measured.
const TREES: usize = 160;
const MEASURED_EVERY: usize = 20;

/// How near a strike must be to a played note, in seconds: the window of the usual scores of transcription.
/// Source: C. Raffel and others, mir_eval, ISMIR 2014.
const NEAR: f64 = 0.05;

/// How the strikes of a recording are measured.
type Measure<const N: usize> = fn(&Heard) -> Vec<learn::MeasuredStrike<N>>;

/// The rows of some folders: which strike each belongs to, and how many notes were played.
struct Lesson<const N: usize> {
    rows: Rows<N>,
    strikes: Vec<usize>,
    notes: usize,
}

/// The trees that tell a strike by itself, learned from the first folders; how well they transcribe the others is said
/// as they grow.
pub fn learn(from: &[String], check: &[String]) -> Result<Trees, Box<dyn Error>> {
    grow(learn::measured, None, from, check)
}

/// The trees that tell what its neighbours add to the odds of a strike.
pub fn learn_neighbours(from: &[String], check: &[String]) -> Result<Trees, Box<dyn Error>> {
    let known = Some(learn::ODDS_BY_ITSELF);
    grow(learn::measured_among_neighbours, known, from, check)
}

fn grow<const N: usize>(
    measure: Measure<N>,
    known: Option<usize>,
    from: &[String],
    check: &[String],
) -> Result<Trees, Box<dyn Error>> {
    let lesson = Lesson::of(measure, from)?;
    let check = Lesson::of(measure, check)?;
    let mut trees = Trees::before(&lesson.rows, known);
    for count in 1..=TREES {
        trees.grow(&lesson.rows);
        if count % MEASURED_EVERY == 0 && check.notes > 0 {
            eprintln!("{count} trees: F {:.4}", check.score(&trees));
        }
    }
    Ok(trees)
}

impl<const N: usize> Lesson<N> {
    fn of(measure: Measure<N>, folders: &[String]) -> Result<Lesson<N>, Box<dyn Error>> {
        let mut lesson = Lesson {
            rows: Rows::default(),
            strikes: Vec::new(),
            notes: 0,
        };
        for take in PlayedTake::all_in(folders)? {
            lesson.add(measure(&take.heard()?), &take.played);
        }
        Ok(lesson)
    }

    fn add(&mut self, measured: Vec<learn::MeasuredStrike<N>>, played: &[PlayedNote]) {
        self.notes += played.len();
        let times: Vec<f64> = measured.iter().map(|it| it.at).collect();
        let played = matched(&times, played);
        let first = self.strikes.last().map_or(0, |it| it + 1);
        for (number, strike) in measured.into_iter().enumerate() {
            for (pitch, values) in strike.pitches {
                self.rows.push(values, played.get(&number) == Some(&pitch));
                self.strikes.push(first + number);
            }
        }
    }

    /// F of a transcription in which each strike counts from even odds on, at its likeliest pitch.
    fn score(&self, trees: &Trees) -> f64 {
        let mut likeliest: BTreeMap<usize, (f32, bool)> = BTreeMap::new();
        for (row, strike) in self.strikes.iter().enumerate() {
            let odds = trees.log_odds(&self.rows.values[row]);
            let best = likeliest.entry(*strike).or_insert((f32::MIN, false));
            if odds > best.0 {
                *best = (odds, self.rows.struck[row]);
            }
        }
        let heard: Vec<bool> = likeliest
            .values()
            .filter(|(odds, _)| *odds > 0.0)
            .map(|(_, struck)| *struck)
            .collect();
        let right = heard.iter().filter(|struck| **struck).count();
        2.0 * right as f64 / (heard.len() + self.notes) as f64
    }
}

/// The pitch played at each strike; a note belongs to the nearest strike, and each to one.
fn matched(strikes: &[f64], played: &[PlayedNote]) -> BTreeMap<usize, i32> {
    let mut pairs: Vec<(f64, usize, usize)> = strikes
        .iter()
        .enumerate()
        .flat_map(|(number, at)| {
            let notes = played.iter().enumerate();
            notes.map(move |(k, note)| ((at - note.on).abs(), number, k))
        })
        .filter(|(apart, _, _)| *apart < NEAR)
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut pitches = BTreeMap::new();
    let mut taken = vec![false; played.len()];
    for (_, strike, note) in pairs {
        if !taken[note] && !pitches.contains_key(&strike) {
            taken[note] = true;
            pitches.insert(strike, played[note].midi);
        }
    }
    pitches
}
