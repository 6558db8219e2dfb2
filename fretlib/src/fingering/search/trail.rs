//! The way back through a search.

use super::super::{Fingering, Step};
use super::frontier::Node;

/// Notes between two attempts to settle what all paths share.
const SETTLE: usize = 1024;

/// The steps behind the nodes, for reading paths back.
#[derive(Default)]
pub(super) struct Trail {
    /// What all living paths share.
    settled: Vec<Step>,
    /// Since then: the steps of the nodes, note after note, each with the index of the node before within its note.
    steps: Vec<(Step, u32)>,
    /// Where the nodes of each of these notes begin.
    notes: Vec<usize>,
}

impl Trail {
    pub(super) fn push(&mut self, nodes: &[Node]) {
        self.notes.push(self.steps.len());
        self.steps
            .extend(nodes.iter().map(|node| (node.step, node.back)));
        if self.notes.len().is_multiple_of(SETTLE) {
            self.settle(nodes.len());
        }
    }

    /// Settles the notes up to the last one at which all living paths meet in one node; `last` nodes are alive.
    fn settle(&mut self, last: usize) {
        let mut alive: Vec<u32> = (0..last as u32).collect();
        for note in (0..self.notes.len()).rev() {
            if let [meeting] = alive[..] {
                let steps = self.back_from(note, meeting);
                self.settled.extend(steps);
                // What follows leads back to the meeting, which is settled.
                let begin = self
                    .notes
                    .get(note + 1)
                    .copied()
                    .unwrap_or(self.steps.len());
                self.steps.drain(..begin);
                self.notes.drain(..=note);
                self.notes.iter_mut().for_each(|it| *it -= begin);
                return;
            }
            let begin = self.notes[note];
            alive
                .iter_mut()
                .for_each(|node| *node = self.steps[begin + *node as usize].1);
            alive.sort_unstable();
            alive.dedup();
        }
    }

    /// The steps that lead to a node of a note, both counted from what is settled.
    fn back_from(&self, note: usize, mut node: u32) -> Vec<Step> {
        let mut steps: Vec<Step> = self.notes[..=note]
            .iter()
            .rev()
            .map(|begin| {
                let (step, back) = self.steps[begin + node as usize];
                node = back;
                step
            })
            .collect();
        steps.reverse();
        steps
    }

    /// The fingerings that end in the cheapest of the last nodes, best first, each over places of its own.
    pub(super) fn best(self, ends: &[Node], count: usize) -> Vec<Fingering> {
        let mut order: Vec<usize> = (0..ends.len()).collect();
        order.sort_by(|one, other| ends[*one].cost.total_cmp(&ends[*other].cost));
        let mut paths = Vec::new();
        let mut fingerings = Vec::new();
        for node in order {
            if fingerings.len() == count {
                break;
            }
            if paths.contains(&ends[node].path) {
                continue;
            }
            paths.push(ends[node].path);
            let mut steps = self.settled.clone();
            if let Some(last) = self.notes.len().checked_sub(1) {
                steps.extend(self.back_from(last, node as u32));
            }
            fingerings.push(Fingering {
                steps,
                cost: ends[node].cost,
            });
        }
        fingerings
    }
}
