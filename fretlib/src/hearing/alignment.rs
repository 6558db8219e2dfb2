//! Which strike is which note of a melody.
//!
//! Edit distance with the operations of a musician: a note played, left out, added or played wrong; and a jump to the
//! start of a bar, for players who begin again or skip a strain.

use super::expected::Expected;
use super::strike::{Sounded, Strike};

/// Costs of the operations, in units of a note left out; chosen on takes of our own.
const LEFT_OUT: f32 = 1.0;
const ADDED: f32 = 0.75;
/// A gap between two notes that is nothing like the written one at the tempo of the take.
const UNEVEN: f32 = 1.5;
/// Even an unlikely strike costs a little when it is ignored, so that an empty match is never free.
const NO_STRIKE: f32 = 0.05;
const WRONG: f32 = 0.9;
const WRONG_OCTAVE: f32 = 0.7;
const JUMP: f32 = 4.5;
/// A repeat that is not taken is not a mistake.
const SKIPPED_REPEAT: f32 = 0.3;
/// Most players begin at the beginning; strains are often alike but for a note.
const ELSEWHERE: f32 = 0.6;
/// How many missing notes of the first bar count.
const MOST_SKIPPED: usize = 4;
/// Seconds off the expected time that cost as much as a note left out, and the most that time can cost.
const OFF: f32 = 0.2;
const MOST_OFF: f32 = 1.6;
/// The same for a note of another pitch: from some 90 ms on it is rather a note left out and one added.
const OFF_AND_WRONG: f32 = 0.1;

/// A note is in tune when the chance of it is at least this share of the chance that there was a strike at all.
const IN_TUNE: f32 = 0.2;

/// Up to this chance a strike that is taken for a note is none for certain.
const DOUBTFUL: f32 = 0.3;

/// A strike taken for a note: their numbers.
pub type Match = (usize, usize);

#[derive(Clone, Copy, PartialEq)]
enum EditOperation {
    Start,
    Matched,
    LeftOut,
    Added,
    Jumped,
    RepeatSkipped,
}

/// The cheapest assignment of strikes to notes `shift` semitones from where they are written.
///
/// With `seconds_a_quarter`, the gap between two matches is compared with the written one; without it, time is ignored.
/// Returns the cost, and a run of matches for each part played without a jump.
pub fn route(
    strikes: &[(&Strike, Sounded)],
    notes: &[Expected],
    shift: i32,
    seconds_a_quarter: Option<f64>,
) -> (f32, Vec<Vec<Match>>) {
    let width = notes.len() + 1;
    let mut steps = vec![EditOperation::Start; (strikes.len() + 1) * width];
    let mut jumped_from = vec![0usize; strikes.len() + 1];
    let skips = skipped_repeats(notes);
    // A player may begin at any bar; inside a bar the earlier notes count as left out. Of equal strains the first is
    // taken.
    let mut skipped = 0;
    let mut costs: Vec<f32> = (0..width)
        .map(|k| {
            let is_start = notes.get(k).is_none_or(|it| it.opens_bar);
            skipped = if is_start { 0 } else { skipped + 1 };
            let elsewhere = if k > 0 { ELSEWHERE } else { 0.0 };
            LEFT_OUT * skipped.min(MOST_SKIPPED) as f32 + elsewhere + 1e-5 * k as f32
        })
        .collect();
    // The last match on the cheapest way to each state.
    let mut last: Vec<Option<Match>> = vec![None; width];
    for (number, (strike, sounded)) in strikes.iter().enumerate() {
        let row = (number + 1) * width;
        let mut next = with_one_added(&costs, *sounded);
        let mut next_last = last.clone();
        steps[row..row + width].fill(EditOperation::Added);
        for (k, note) in notes.iter().enumerate() {
            let gap = seconds_a_quarter
                .zip(last[k])
                .map_or(0.0, |(quarter, (from, to))| {
                    let heard = strike.at() - strikes[from].0.at();
                    uneven(heard, quarter * (note.onset - notes[to].onset))
                });
            let cost = costs[k] + mismatch(strike, *sounded, note.pitch + shift) + gap;
            if cost < next[k + 1] {
                next[k + 1] = cost;
                next_last[k + 1] = Some((number, k));
                steps[row + k + 1] = EditOperation::Matched;
            }
        }
        let from = lowest(&next);
        jumped_from[number + 1] = from;
        for (k, note) in notes.iter().enumerate() {
            if note.opens_bar && next[from] + JUMP < next[k] {
                next[k] = next[from] + JUMP;
                next_last[k] = None;
                steps[row + k] = EditOperation::Jumped;
            }
        }
        for &(from, to) in &skips {
            if next[from] + SKIPPED_REPEAT < next[to] {
                next[to] = next[from] + SKIPPED_REPEAT;
                next_last[to] = None;
                steps[row + to] = EditOperation::RepeatSkipped;
            }
        }
        for k in 1..width {
            if next[k - 1] + LEFT_OUT < next[k] {
                next[k] = next[k - 1] + LEFT_OUT;
                next_last[k] = next_last[k - 1];
                steps[row + k] = EditOperation::LeftOut;
            }
        }
        costs = next;
        last = next_last;
    }
    let mut note = lowest(&costs);
    let cost = costs[note];
    let mut strike = strikes.len();
    let mut runs = vec![Vec::new()];
    loop {
        match steps[strike * width + note] {
            EditOperation::Start => break,
            EditOperation::Added => strike -= 1,
            EditOperation::LeftOut => note -= 1,
            EditOperation::Matched => {
                strike -= 1;
                note -= 1;
                if let Some(run) = runs.last_mut() {
                    run.push((strike, note));
                }
            }
            EditOperation::Jumped => {
                note = jumped_from[strike];
                runs.push(Vec::new());
            }
            EditOperation::RepeatSkipped => {
                let skip = skips.iter().find(|(_, to)| *to == note);
                note = skip.map_or(note, |(from, _)| *from);
                runs.push(Vec::new());
            }
        }
    }
    runs.retain(|run| !run.is_empty());
    runs.reverse();
    runs.iter_mut().for_each(|run| run.reverse());
    (cost, runs)
}

/// What a gap between two matches costs, in seconds as it was heard and as it is written.
fn uneven(heard: f64, written: f64) -> f32 {
    UNEVEN * ((heard - written).abs() / (heard + written).max(1e-3)) as f32
}

/// Where a player without repeats continues: from the end of a strain's first time to the music after its last.
fn skipped_repeats(notes: &[Expected]) -> Vec<(usize, usize)> {
    let mut ends = std::collections::HashMap::new();
    let mut skips = Vec::new();
    for (k, pair) in notes.windows(2).enumerate() {
        let goes_on = pair[1].index == pair[0].index + 1;
        match ends.get(&pair[0].index) {
            // The first time round this note was followed by a jump back.
            Some(&from) if goes_on => skips.push((from, k + 1)),
            Some(_) => {}
            None if !goes_on => {
                ends.insert(pair[0].index, k + 1);
            }
            None => {}
        }
    }
    skips
}

fn mismatch(strike: &Strike, sounded: Sounded, pitch: i32) -> f32 {
    let doubt = 0.3 * (1.0 - sounded.chance);
    if i32::from(sounded.pitch) == pitch || strike.chance_of(pitch, &[]) >= IN_TUNE * sounded.chance
    {
        return doubt;
    }
    doubt + wrong(sounded, pitch)
}

fn wrong(sounded: Sounded, pitch: i32) -> f32 {
    if (i32::from(sounded.pitch) - pitch) % 12 == 0 {
        WRONG_OCTAVE
    } else {
        WRONG
    }
}

fn lowest(costs: &[f32]) -> usize {
    (0..costs.len())
        .min_by(|&a, &b| costs[a].total_cmp(&costs[b]))
        .unwrap_or(0)
}

/// A strike assigned to a note of known time and pitch.
#[derive(Clone, Copy, Debug)]
pub struct TimedMatch {
    /// The strike's number.
    pub strike: usize,
    /// The note's number.
    pub note: usize,
    /// True when its pitch is the expected one.
    pub in_tune: bool,
    /// The chance that the note expected was struck.
    pub chance: f32,
}

impl TimedMatch {
    /// Whether the note is in tune, but may well not have been struck.
    pub fn is_doubtful(&self) -> bool {
        self.in_tune && self.chance <= DOUBTFUL
    }
}

/// The cost of each state when a strike belongs to no note.
fn with_one_added(costs: &[f32], sounded: Sounded) -> Vec<f32> {
    let added = NO_STRIKE + ADDED * sounded.chance;
    costs.iter().map(|cost| cost + added).collect()
}

/// The cheapest assignment of strikes to notes, without jumps, when the time of each note is roughly known.
///
/// `pitches` and `times` (seconds) hold a value for each note. A soft strike that is not a note by itself counts here
/// if pitch and time are right. `under` has the pitches that are struck with each note.
pub fn timed(
    strikes: &[(&Strike, Sounded)],
    pitches: &[i32],
    under: &[&[i32]],
    times: &[f64],
) -> Vec<TimedMatch> {
    let width = pitches.len() + 1;
    let mut steps = vec![EditOperation::Start; (strikes.len() + 1) * width];
    let mut costs: Vec<f32> = (0..width).map(|k| LEFT_OUT * k as f32).collect();
    steps[1..width].fill(EditOperation::LeftOut);
    for (number, (strike, sounded)) in strikes.iter().enumerate() {
        let row = (number + 1) * width;
        let mut next = with_one_added(&costs, *sounded);
        steps[row..row + width].fill(EditOperation::Added);
        for k in 0..pitches.len() {
            let off = (strike.at() - times[k]).abs() as f32;
            if off > 4.0 {
                continue;
            }
            let (cost, in_tune, _) = cost_of(strike, *sounded, pitches[k], under[k]);
            let scale = if in_tune { OFF } else { OFF_AND_WRONG };
            let cost = costs[k] + cost + (off / scale).min(MOST_OFF);
            if cost < next[k + 1] {
                next[k + 1] = cost;
                steps[row + k + 1] = EditOperation::Matched;
            }
        }
        for k in 1..width {
            if next[k - 1] + LEFT_OUT < next[k] {
                next[k] = next[k - 1] + LEFT_OUT;
                steps[row + k] = EditOperation::LeftOut;
            }
        }
        costs = next;
    }
    let (mut strike, mut note) = (strikes.len(), pitches.len());
    let mut matches = Vec::new();
    loop {
        match steps[strike * width + note] {
            EditOperation::Start | EditOperation::Jumped | EditOperation::RepeatSkipped => break,
            EditOperation::Added => strike -= 1,
            EditOperation::LeftOut => note -= 1,
            EditOperation::Matched => {
                strike -= 1;
                note -= 1;
                let (_, in_tune, chance) = cost_of(
                    strikes[strike].0,
                    strikes[strike].1,
                    pitches[note],
                    under[note],
                );
                matches.push(TimedMatch {
                    strike,
                    note,
                    in_tune,
                    chance,
                });
            }
        }
    }
    matches.reverse();
    matches
}

/// The cost of assigning a strike to a note, whether it is in tune then, and the chance that this note was struck.
fn cost_of(strike: &Strike, sounded: Sounded, pitch: i32, under: &[i32]) -> (f32, bool, f32) {
    let chance = strike.chance_of(pitch, under);
    let right = (-0.25 * chance.max(1e-6).ln()).min(MOST_OFF);
    if i32::from(sounded.pitch) == pitch {
        return (right, true, chance);
    }
    let otherwise = wrong(sounded, pitch) + (1.0 - sounded.chance);
    if chance >= IN_TUNE * sounded.chance && right <= otherwise {
        (right, true, chance)
    } else {
        (otherwise, false, chance)
    }
}
