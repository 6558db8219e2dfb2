//! The cheapest paths through a sequence of stages, exactly.

use std::collections::HashMap;

use super::bare_notes::PassageCosts;
use super::voicing_cost::{Link, LinkKey, VoicingWeights, between_voices, fingers};

/// A voicing with what the search needs.
#[derive(Clone, Copy)]
pub(super) struct PathCandidate {
    /// Its own cost.
    pub(super) cost: f64,
    pub(super) link: Link,
    /// The melody's place and finger as one number.
    pub(super) melody: u16,
}

/// The voicings of one moment and the bare notes before them.
pub(super) struct PathStage<'a> {
    pub(super) candidates: &'a [PathCandidate],
    /// From the positions of the previous stage; from 0 at the first.
    pub(super) passage: &'a PassageCosts,
    /// True when the melody note is that of the previous stage and must keep its place.
    pub(super) is_joined: bool,
}

/// A path through all stages.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Path {
    pub(super) cost: f64,
    /// The index of the candidate at each stage.
    pub(super) candidates: Vec<usize>,
}

/// The cheapest way to a candidate of a given rank; from the end backwards in a table that is filled from there.
#[derive(Clone, Copy)]
pub(super) struct PartialPath {
    pub(super) cost: f64,
    /// The previous candidate and the rank of its path.
    before: (u32, u32),
}

/// Which way a table of ways is filled.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Sweep {
    /// From the first stage on.
    Onward,
    /// From the last stage back.
    Backward,
}

const NO_PATH: PartialPath = PartialPath {
    cost: f64::INFINITY,
    before: (0, 0),
};

/// Candidates in one position with the same inner voices (and, where it matters, the same place and finger for the
/// melody). The transition from one such group to another costs the same except for the fingers.
struct Group {
    /// Its first candidate, which represents all where fingers do not matter.
    link: Link,
    melody: u16,
    /// Candidates with the cost of the cheapest path to each, cheapest first.
    members: Vec<(u32, f64)>,
}

/// The `count` cheapest paths through the stages, cheapest first: no other path costs less than the last one.
///
/// `end` is the cost of ending in each position of the last stage.
pub(super) fn best_paths(
    stages: &[PathStage],
    weights: &VoicingWeights,
    end: &PassageCosts,
    count: usize,
) -> Vec<Path> {
    let Some(first) = stages.first() else {
        return Vec::new();
    };
    let mut table: Vec<Vec<PartialPath>> = vec![start(first, count)];
    for index in 1..stages.len() {
        let (from, to) = (&stages[index - 1], &stages[index]);
        let next = advance(from, &table[index - 1], to, Sweep::Onward, weights, count);
        table.push(next);
    }
    let last = &stages[stages.len() - 1];
    let mut ends: Vec<(f64, usize, usize)> = Vec::new();
    for (candidate, it) in last.candidates.iter().enumerate() {
        for rank in 0..count {
            let way = table[stages.len() - 1][candidate * count + rank];
            if way.cost.is_finite() {
                ends.push((way.cost + end.get(it.link.position, 0), candidate, rank));
            }
        }
    }
    ends.sort_by(|one, other| one.0.total_cmp(&other.0));
    ends.truncate(count);
    ends.into_iter()
        .map(|(cost, candidate, rank)| Path {
            cost,
            candidates: back(&table, count, candidate, rank),
        })
        .collect()
}

/// The ways to the candidates of the first stage.
pub(super) fn start(stage: &PathStage, count: usize) -> Vec<PartialPath> {
    let mut ways = vec![NO_PATH; stage.candidates.len() * count];
    for (index, it) in stage.candidates.iter().enumerate() {
        ways[index * count].cost = it.cost + stage.passage.get(0, it.link.position);
    }
    ways
}

/// The ways from the candidates of the last stage to the end, the cheapest of each.
pub(super) fn finish(stage: &PathStage, end: &PassageCosts) -> Vec<PartialPath> {
    let way = |it: &PathCandidate| PartialPath {
        cost: it.cost + end.get(it.link.position, 0),
        before: (0, 0),
    };
    stage.candidates.iter().map(way).collect()
}

/// The candidates that lead to one of the last stage of a table, its own the last.
pub(super) fn back(
    table: &[Vec<PartialPath>],
    count: usize,
    candidate: usize,
    rank: usize,
) -> Vec<usize> {
    let (mut candidate, mut rank) = (candidate, rank);
    let mut path = Vec::with_capacity(table.len());
    for ways in table.iter().rev() {
        path.push(candidate);
        let before = ways[candidate * count + rank].before;
        (candidate, rank) = (before.0 as usize, before.1 as usize);
    }
    path.reverse();
    path
}

/// Groups the candidates that can be reached at these costs.
fn groups(
    candidates: &[PathCandidate],
    by_melody: bool,
    cost: impl Fn(usize) -> f64,
) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut found: HashMap<(LinkKey, u16), usize> = HashMap::new();
    for (index, it) in candidates.iter().enumerate() {
        let cost = cost(index);
        if !cost.is_finite() {
            continue;
        }
        let melody = if by_melody { it.melody } else { 0 };
        let group = *found.entry((it.link.key(), melody)).or_insert_with(|| {
            groups.push(Group {
                link: it.link,
                melody,
                members: Vec::new(),
            });
            groups.len() - 1
        });
        groups[group].members.push((index as u32, cost));
    }
    for group in &mut groups {
        group
            .members
            .sort_by(|one, other| one.1.total_cmp(&other.1));
    }
    groups
}

/// The cheapest ways to every candidate of the next stage; of the stage before it, when the table is filled backward.
///
/// Exact: a candidate before is passed over only when even the most that staying and leading fingers can take off would
/// leave its way dearer than those found.
pub(super) fn advance(
    stage: &PathStage,
    ways: &[PartialPath],
    next: &PathStage,
    sweep: Sweep,
    weights: &VoicingWeights,
    count: usize,
) -> Vec<PartialPath> {
    let later = match sweep {
        Sweep::Onward => next,
        Sweep::Backward => stage,
    };
    let sources = groups(stage.candidates, later.is_joined, |index| {
        ways[index * count].cost
    });
    let targets = groups(next.candidates, later.is_joined, |_| 0.0);
    let mut found = vec![NO_PATH; next.candidates.len() * count];
    // For each previous group: the cost of the transition to the target's group without fingers, and the same plus the
    // cheapest path to it.
    let mut roads: Vec<(f64, f64)> = Vec::with_capacity(sources.len());
    for group in &targets {
        roads.clear();
        roads.extend(sources.iter().map(|source| {
            if source.melody != group.melody {
                return (f64::INFINITY, f64::INFINITY);
            }
            let (from, to) = match sweep {
                Sweep::Onward => (&source.link, &group.link),
                Sweep::Backward => (&group.link, &source.link),
            };
            let passage = later.passage.get(from.position, to.position);
            let road = passage + voices(from, to, weights);
            (road, road + source.members[0].1)
        }));
        let nearest =
            (0..roads.len()).min_by(|one, other| roads[*one].1.total_cmp(&roads[*other].1));
        for (target, _) in &group.members {
            let target = *target as usize;
            let mut reach = Reaching {
                stage,
                ways,
                target: &next.candidates[target],
                best: &mut found[target * count..(target + 1) * count],
                weights,
            };
            let most_saved = reach.target.link.most_saved(weights);
            if let Some(nearest) = nearest {
                reach.from(&sources[nearest], roads[nearest].0, most_saved);
            }
            for (index, (road, least)) in roads.iter().enumerate() {
                if Some(index) != nearest && reach.may_be_better(*least, most_saved) {
                    reach.from(&sources[index], *road, most_saved);
                }
            }
        }
    }
    found
}

/// The search for the cheapest paths to one candidate.
struct Reaching<'a> {
    stage: &'a PathStage<'a>,
    ways: &'a [PartialPath],
    target: &'a PathCandidate,
    best: &'a mut [PartialPath],
    weights: &'a VoicingWeights,
}

impl Reaching<'_> {
    fn may_be_better(&self, without_fingers: f64, most_saved: f64) -> bool {
        without_fingers + self.target.cost - most_saved < self.best[self.best.len() - 1].cost
    }

    fn from(&mut self, group: &Group, road: f64, most_saved: f64) {
        let count = self.best.len();
        for (index, cost) in &group.members {
            if !self.may_be_better(cost + road, most_saved) {
                break;
            }
            let mut chain = road + self.target.cost;
            // Fingers that stay or lead do so in either direction.
            fingers(
                &self.stage.candidates[*index as usize].link,
                &self.target.link,
                |term, amount| {
                    chain += self.weights.get(term) * amount;
                },
            );
            for rank in 0..count {
                let so_far = self.ways[*index as usize * count + rank].cost;
                let way = PartialPath {
                    cost: so_far + chain,
                    before: (*index, rank as u32),
                };
                if !insert(self.best, way) {
                    break;
                }
            }
        }
    }
}

fn voices(before: &Link, after: &Link, weights: &VoicingWeights) -> f64 {
    let mut cost = 0.0;
    between_voices(before, after, |term, amount| {
        cost += weights.get(term) * amount
    });
    cost
}

/// Inserts a path among the best; false when it is not one of them.
fn insert(best: &mut [PartialPath], way: PartialPath) -> bool {
    let place = best.partition_point(|it| it.cost <= way.cost);
    if place == best.len() || !way.cost.is_finite() {
        return false;
    }
    best[place..].rotate_right(1);
    best[place] = way;
    true
}
