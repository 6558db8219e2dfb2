//! Reading the best paths back.

use super::super::{FingeredNote, Fingering};
use super::frontier::Node;

/// Notes between two attempts to settle the common part of all paths.
const SETTLE: usize = 1024;

/// The fingered notes of past nodes, for reading paths back.
#[derive(Default)]
pub(super) struct Backtrace {
    /// The part common to all remaining paths.
    settled: Vec<FingeredNote>,
    /// After that part: the fingered notes of the nodes, note by note, each with the index of the node before it.
    nodes: Vec<(FingeredNote, u32)>,
    /// The start of each note's nodes.
    starts: Vec<usize>,
}

impl Backtrace {
    pub(super) fn push(&mut self, nodes: &[Node]) {
        self.starts.push(self.nodes.len());
        self.nodes
            .extend(nodes.iter().map(|node| (node.note, node.back)));
        if self.starts.len().is_multiple_of(SETTLE) {
            self.settle(nodes.len());
        }
    }

    /// Settles the notes up to the last one at which all remaining paths meet in one node; there are `last` nodes.
    fn settle(&mut self, last: usize) {
        let mut alive: Vec<u32> = (0..last as u32).collect();
        for note in (0..self.starts.len()).rev() {
            if let [meeting] = alive[..] {
                let notes = self.back_from(note, meeting);
                self.settled.extend(notes);
                // The nodes after it all lead back to that settled note.
                let begin = self
                    .starts
                    .get(note + 1)
                    .copied()
                    .unwrap_or(self.nodes.len());
                self.nodes.drain(..begin);
                self.starts.drain(..=note);
                self.starts.iter_mut().for_each(|it| *it -= begin);
                return;
            }
            let begin = self.starts[note];
            alive
                .iter_mut()
                .for_each(|node| *node = self.nodes[begin + *node as usize].1);
            alive.sort_unstable();
            alive.dedup();
        }
    }

    /// The fingered notes that lead to a node of a note, both counted from the end of the settled part.
    fn back_from(&self, note: usize, mut node: u32) -> Vec<FingeredNote> {
        let mut notes: Vec<FingeredNote> = self.starts[..=note]
            .iter()
            .rev()
            .map(|begin| {
                let (fingered, back) = self.nodes[begin + node as usize];
                node = back;
                fingered
            })
            .collect();
        notes.reverse();
        notes
    }

    /// The fingerings that end in the cheapest of the last nodes, best first, no two over the same places.
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
            let mut notes = self.settled.clone();
            if let Some(last) = self.starts.len().checked_sub(1) {
                notes.extend(self.back_from(last, node as u32));
            }
            fingerings.push(Fingering {
                notes,
                cost: ends[node].cost,
            });
        }
        fingerings
    }
}
