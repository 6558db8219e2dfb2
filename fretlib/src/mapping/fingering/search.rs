//! The cheapest way through a line, exactly.
//!
//! Dynamic programming over the notes. What the costs of later notes can depend on is a node: the step, what the hand
//! remembers since it last moved, and how often it has moved when that is limited. The hand forgets when it moves, so nodes
//! stay few and the work grows with the number of notes alone. Paths are settled as soon as all that are alive agree, so
//! memory stays small on the longest melody.

use std::ops::Range;

use super::cost::{self, Past, Spans, Term, Weights};
use super::limits::{Impossible, Limits};
use super::line::Line;
use super::{Fingering, Player, Step};
use crate::neck::{Finger, Position};

/// What the best fingering is best at.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Aim {
    /// The least effort in all.
    #[default]
    Least,
    /// The easiest hardest moment; among equals the least effort in all.
    EasiestPeak,
}

/// An extra cost of a step at a note (its index), for learning weights.
pub type Leaning<'a> = &'a dyn Fn(usize, &Step) -> f64;

/// The `count` cheapest fingerings, best first, no two of them at the same places throughout.
///
/// Other fingers at the same places are not another fingering here. Fewer come back when there are fewer.
///
/// # Errors
///
/// When no fingering keeps the limits: the first note that cannot be had, and what would free it.
pub fn find(
    player: &Player,
    line: &Line,
    weights: &Weights,
    limits: &Limits,
    aim: Aim,
    count: usize,
) -> Result<Vec<Fingering>, Impossible> {
    let search = Search::new(player, line, weights, limits, &|_, _| 0.0);
    let outcome = match aim {
        Aim::Least => search.run(Sum::Whole, f64::INFINITY, count.max(1)),
        Aim::EasiestPeak => search.run(Sum::Peak, f64::INFINITY, 1).and_then(|best| {
            // The same sums in another order may differ in their last digits.
            let peak = best[0].cost;
            search.run(Sum::Whole, peak + 1e-9 * peak.abs().max(1.0), count.max(1))
        }),
    };
    outcome.map_err(|index| impossible(player, line, weights, limits, index))
}

/// The cheapest fingering when `leaning` is added to the cost of every step; `None` when there is none.
pub fn find_leaning(
    player: &Player,
    line: &Line,
    weights: &Weights,
    limits: &Limits,
    leaning: Leaning,
) -> Option<Fingering> {
    Search::new(player, line, weights, limits, leaning)
        .run(Sum::Whole, f64::INFINITY, 1)
        .ok()?
        .pop()
}

fn impossible(
    player: &Player,
    line: &Line,
    weights: &Weights,
    limits: &Limits,
    index: usize,
) -> Impossible {
    let freed = |rest: &Limits| match Search::new(player, line, weights, rest, &|_, _| 0.0).run(
        Sum::Whole,
        f64::INFINITY,
        1,
    ) {
        Ok(_) => true,
        Err(stuck) => stuck > index,
    };
    Impossible {
        note: index + 1,
        midi: line.notes()[index].midi,
        reliefs: limits
            .without_each()
            .into_iter()
            .filter(|(_, rest)| freed(rest))
            .map(|(relief, _)| relief)
            .collect(),
    }
}

/// How the costs of moments make the cost of a path.
#[derive(Clone, Copy)]
enum Sum {
    Whole,
    Peak,
}

impl Sum {
    fn join(self, before: f64, moment: f64) -> f64 {
        match self {
            Sum::Whole => before + moment,
            Sum::Peak => before.max(moment),
        }
    }
}

/// A way to have got as far as one note.
struct Node {
    step: Step,
    past: Past,
    shifts: u8,
    cost: f64,
    /// Tells paths over different places apart.
    path: u64,
    back: u32,
}

/// The steps for one pitch, with their own costs as a short and as a long note.
struct Menu {
    steps: Vec<Step>,
    short: Vec<f64>,
    long: Vec<f64>,
}

struct Search<'a> {
    spans: Spans,
    line: &'a Line,
    weights: &'a Weights,
    limits: &'a Limits,
    leaning: Leaning<'a>,
    menus: Vec<Option<Menu>>,
    /// Cost of moving so many frets in no time, on the beat and off it.
    moves: [Vec<f64>; 2],
}

/// Notes between two attempts to settle what all paths share.
const SETTLE: usize = 1024;

impl<'a> Search<'a> {
    fn new(
        player: &'a Player<'a>,
        line: &'a Line,
        weights: &'a Weights,
        limits: &'a Limits,
        leaning: Leaning<'a>,
    ) -> Search<'a> {
        let mut menus: Vec<Option<Menu>> = (0..128).map(|_| None).collect();
        for note in line.notes() {
            let menu =
                menus[usize::from(note.midi)].get_or_insert_with(|| Menu::new(player, note.midi));
            menu.price(player, weights, note.seconds);
        }
        let moves = [true, false].map(|on_beat| {
            let price = |distance| {
                let mut sum = 0.0;
                cost::moving(on_beat, 1.0, distance, |term, amount| {
                    sum += weights.get(term) * amount
                });
                sum
            };
            (0..=Position::HIGHEST).map(price).collect()
        });
        Search {
            spans: Spans::new(player),
            line,
            weights,
            limits,
            leaning,
            menus,
            moves,
        }
    }

    /// The cheapest paths, none with a moment dearer than `cap`; the index of the first note no path reaches otherwise.
    fn run(&self, sum: Sum, cap: f64, count: usize) -> Result<Vec<Fingering>, usize> {
        let mut trail = Trail::default();
        let mut nodes: Vec<Node> = Vec::new();
        for index in 0..self.line.notes().len() {
            nodes = self.advance(index, &nodes, sum, cap, count);
            if nodes.is_empty() {
                return Err(index);
            }
            trail.push(&nodes);
        }
        nodes
            .iter()
            .enumerate()
            .for_each(|(index, node)| trail.ends.push((node.cost, node.path, index as u32)));
        Ok(trail.best(count))
    }

    fn advance(
        &self,
        index: usize,
        before: &[Node],
        sum: Sum,
        cap: f64,
        count: usize,
    ) -> Vec<Node> {
        let note = self.line.notes()[index];
        let Some(menu) = &self.menus[usize::from(note.midi)] else {
            return Vec::new();
        };
        let own = menu.costs(note.seconds);
        let last = self.line.notes().len();
        let mut nodes = Vec::with_capacity(menu.steps.len());
        let ground = Ground::new(self, index, before, count);
        for (step, own) in menu.steps.iter().zip(own) {
            if !self.limits.allow(index + 1, last, step) {
                continue;
            }
            let own = own + (self.leaning)(index, step);
            let first = nodes.len();
            if index == 0 {
                if own <= cap {
                    nodes.push(Node {
                        step: *step,
                        past: Past::first(self.line, index, step),
                        shifts: 0,
                        cost: own,
                        path: place_mark(0, step),
                        back: 0,
                    });
                }
                continue;
            }
            self.stay(
                index, step, own, &ground, before, sum, cap, count, &mut nodes, first,
            );
            self.shift(
                index, step, own, &ground, before, sum, cap, count, &mut nodes, first,
            );
        }
        nodes
    }

    /// Adds the ways to play `step` from where the hand is.
    #[allow(clippy::too_many_arguments)]
    fn stay(
        &self,
        index: usize,
        step: &Step,
        own: f64,
        ground: &Ground,
        before: &[Node],
        sum: Sum,
        cap: f64,
        count: usize,
        nodes: &mut Vec<Node>,
        first: usize,
    ) {
        for back in ground.here[usize::from(step.position.get())].clone() {
            let node = &before[back];
            let mut moment = own + ground.across(&node.step, step);
            let reached = cost::staying(
                &self.spans,
                self.line,
                index,
                &node.past,
                step,
                |term, amount| {
                    moment += self.weights.get(term) * amount;
                },
            );
            if reached && moment <= cap {
                keep(
                    nodes,
                    first,
                    count,
                    Node {
                        step: *step,
                        past: node.past.then(self.line, index, step),
                        shifts: node.shifts,
                        cost: sum.join(node.cost, moment),
                        path: place_mark(node.path, step),
                        back: back as u32,
                    },
                );
            }
        }
    }

    /// Adds the ways to come to `step` from another position.
    #[allow(clippy::too_many_arguments)]
    fn shift(
        &self,
        index: usize,
        step: &Step,
        own: f64,
        ground: &Ground,
        before: &[Node],
        sum: Sum,
        cap: f64,
        count: usize,
        nodes: &mut Vec<Node>,
        first: usize,
    ) {
        let past = Past::first(self.line, index, step);
        let alone = count == 1 && self.limits.max_shifts.is_none();
        let mut best: Option<Node> = None;
        for &back in &ground.leaving {
            let node = &before[back as usize];
            // Nodes come cheapest first: once the cheapest shift there is could not improve on what is kept, none will.
            let least = sum.join(node.cost, own + ground.least);
            if alone && best.as_ref().is_some_and(|best| least >= best.cost) {
                break;
            }
            if node.step.position == step.position {
                continue;
            }
            let shifts = match self.limits.max_shifts {
                Some(most) if node.shifts >= most => continue,
                Some(_) => node.shifts + 1,
                None => 0,
            };
            let distance = node.step.position.get().abs_diff(step.position.get());
            let hurry = ground.hurry[usize::from(node.step.finger.is_none())];
            let mut moment = own
                + ground.across(&node.step, step)
                + hurry * self.moves[usize::from(!ground.on_beat)][usize::from(distance)];
            cost::landing(&node.step, step, |term, amount| {
                moment += self.weights.get(term) * amount
            });
            if moment > cap {
                continue;
            }
            let arrived = Node {
                step: *step,
                past,
                shifts,
                cost: sum.join(node.cost, moment),
                path: place_mark(node.path, step),
                back,
            };
            if !alone {
                keep(nodes, first, count, arrived);
            } else if best.as_ref().is_none_or(|best| arrived.cost < best.cost) {
                best = Some(arrived);
            }
        }
        if let Some(best) = best {
            keep(nodes, first, count, best);
        }
    }
}

impl Menu {
    /// The steps by position, so that the nodes of a position stand together.
    fn new(player: &Player, midi: u8) -> Menu {
        let mut steps = player.steps_for(midi);
        steps.sort_by_key(|step| step.position);
        Menu {
            steps,
            short: Vec::new(),
            long: Vec::new(),
        }
    }

    fn price(&mut self, player: &Player, weights: &Weights, seconds: f64) {
        let costs = if cost::is_long(seconds) {
            &mut self.long
        } else {
            &mut self.short
        };
        if costs.is_empty() {
            costs.extend(self.steps.iter().map(|step| {
                let mut sum = 0.0;
                cost::alone(player, seconds, step, |term, amount| {
                    sum += weights.get(term) * amount
                });
                sum
            }));
        }
    }

    fn costs(&self, seconds: f64) -> &[f64] {
        if cost::is_long(seconds) {
            &self.long
        } else {
            &self.short
        }
    }
}

/// What the steps of one note share: the nodes before it in order, and the costs that do not depend on the step.
struct Ground {
    /// Indices of the nodes before, by position.
    here: [Range<usize>; Position::HIGHEST as usize + 1],
    /// Indices of the nodes a shift may begin at, cheapest first.
    leaving: Vec<u32>,
    /// The hurry of a shift after a stopped and after an open string.
    hurry: [f64; 2],
    on_beat: bool,
    /// No shift costs less than this.
    least: f64,
    across: [f64; 12],
}

impl Ground {
    fn new(search: &Search, index: usize, before: &[Node], count: usize) -> Ground {
        let mut here = std::array::from_fn(|_| 0..0);
        for (index, node) in before.iter().enumerate() {
            let range: &mut Range<usize> = &mut here[usize::from(node.step.position.get())];
            if *range == (0..0) {
                range.start = index;
            }
            range.end = index + 1;
        }
        let mut leaving: Vec<u32> = (0..before.len() as u32).collect();
        leaving.sort_unstable_by(|one, other| {
            before[*one as usize]
                .cost
                .total_cmp(&before[*other as usize].cost)
        });
        if count == 1 && search.limits.max_shifts.is_none() {
            // A shift forgets all but the last step: of nodes with the same step only the cheapest can be left for good.
            let mut seen = [[0u64; 13]; 5];
            leaving.retain(|&back| {
                let step = before[back as usize].step;
                let row = &mut seen[step.finger.map_or(0, Finger::get) as usize]
                    [usize::from(step.place.string.get())];
                let bit = 1 << step.position.get();
                let fresh = *row & bit == 0;
                *row |= bit;
                fresh
            });
        }
        let (hurry, on_beat, across) = if index == 0 {
            ([1.0; 2], true, [0.0; 12])
        } else {
            let price = |strings: usize| {
                let mut sum = 0.0;
                cost::across(search.line, index, strings as u8, |term, amount| {
                    sum += search.weights.get(term) * amount;
                });
                sum
            };
            (
                [false, true].map(|open| cost::hurry(search.line, index, open)),
                search.line.notes()[index].on_beat,
                std::array::from_fn(price),
            )
        };
        let least = hurry[0].min(hurry[1]) * search.moves[usize::from(!on_beat)][1]
            + search.weights.get(Term::Guide);
        Ground {
            here,
            leaving,
            hurry,
            on_beat,
            least,
            across,
        }
    }

    fn across(&self, from: &Step, to: &Step) -> f64 {
        self.across[usize::from(from.place.string.get().abs_diff(to.place.string.get()))]
    }
}

/// Keeps the `count` cheapest nodes that stand for the same, each with its own path over the neck.
fn keep(nodes: &mut Vec<Node>, first: usize, count: usize, node: Node) {
    let mut alike = 0;
    let mut dearest: Option<usize> = None;
    for (index, kept) in nodes.iter().enumerate().skip(first) {
        if kept.past != node.past || kept.shifts != node.shifts {
            continue;
        }
        if count > 1 && kept.path == node.path {
            if node.cost < kept.cost {
                nodes[index] = node;
            }
            return;
        }
        alike += 1;
        if dearest.is_none_or(|dearest| nodes[dearest].cost < kept.cost) {
            dearest = Some(index);
        }
    }
    match dearest {
        Some(dearest) if alike >= count => {
            if node.cost < nodes[dearest].cost {
                nodes[dearest] = node;
            }
        }
        _ => nodes.push(node),
    }
}

/// Marks a path as having come over a place (FNV-1a over the strings; the pitch and the string give the fret).
fn place_mark(path: u64, step: &Step) -> u64 {
    (path ^ u64::from(step.place.string.get()) ^ 0xcbf2_9ce4_8422_2325)
        .wrapping_mul(0x0000_0100_0000_01b3)
        .rotate_left(17)
}

/// The steps behind the nodes, for reading paths back.
#[derive(Default)]
struct Trail {
    /// What all living paths share.
    settled: Vec<Step>,
    /// Since then: the steps of each note's nodes, with the index of the node before.
    columns: Vec<Vec<(Step, u32)>>,
    /// Cost, mark and index of the last nodes.
    ends: Vec<(f64, u64, u32)>,
}

impl Trail {
    fn push(&mut self, nodes: &[Node]) {
        self.columns
            .push(nodes.iter().map(|node| (node.step, node.back)).collect());
        if self.columns.len().is_multiple_of(SETTLE) {
            self.settle();
        }
    }

    /// Settles the notes up to the last one at which all living paths meet in one node.
    fn settle(&mut self) {
        let Some(last) = self.columns.last() else {
            return;
        };
        let mut alive: Vec<u32> = (0..last.len() as u32).collect();
        for column in (0..self.columns.len()).rev() {
            if let [meeting] = alive[..] {
                let steps = self.back_from(column, meeting);
                self.settled.extend(steps);
                self.columns.drain(..=column);
                // What follows leads back to the meeting, which is settled.
                return;
            }
            alive = alive
                .iter()
                .map(|node| self.columns[column][*node as usize].1)
                .collect();
            alive.sort_unstable();
            alive.dedup();
        }
    }

    fn back_from(&self, column: usize, node: u32) -> Vec<Step> {
        let mut node = node as usize;
        let mut steps: Vec<Step> = self.columns[..=column]
            .iter()
            .rev()
            .map(|nodes| {
                let (step, back) = nodes[node];
                node = back as usize;
                step
            })
            .collect();
        steps.reverse();
        steps
    }

    fn best(mut self, count: usize) -> Vec<Fingering> {
        self.ends.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut paths = Vec::new();
        let mut fingerings = Vec::new();
        for (cost, path, node) in &self.ends {
            if fingerings.len() == count {
                break;
            }
            if count > 1 && paths.contains(path) {
                continue;
            }
            paths.push(*path);
            let mut steps = self.settled.clone();
            if let Some(column) = self.columns.len().checked_sub(1) {
                steps.extend(self.back_from(column, *node));
            }
            fingerings.push(Fingering { steps, cost: *cost });
        }
        fingerings
    }
}

#[cfg(test)]
mod tests;
