//! Reading paths back.

use super::super::FingeredNote;
use super::frontier::Node;

/// Notes between two attempts to settle the common part of all paths.
const SETTLE: usize = 1024;

/// The fingered notes of past nodes, for reading paths back.
#[derive(Default)]
pub(super) struct Backtrace {
    /// The part common to all remaining paths.
    settled: Vec<FingeredNote>,
    /// The index of the node before the settled part.
    origin: u32,
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
                let (notes, origin) = self.back_from(note + 1, meeting);
                if self.settled.is_empty() {
                    self.origin = origin;
                }
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

    /// The fingered notes that lead to a node of the last of so many notes after the settled part, and the index of the node
    /// before them.
    fn back_from(&self, notes: usize, mut node: u32) -> (Vec<FingeredNote>, u32) {
        let mut notes: Vec<FingeredNote> = self.starts[..notes]
            .iter()
            .rev()
            .map(|begin| {
                let (fingered, back) = self.nodes[begin + node as usize];
                node = back;
                fingered
            })
            .collect();
        notes.reverse();
        (notes, node)
    }

    /// The fingered notes that lead to a node of the last note, and the index of the node before them.
    pub(super) fn way_to(&self, node: u32) -> (Vec<FingeredNote>, u32) {
        let (notes, origin) = self.back_from(self.starts.len(), node);
        match &self.settled[..] {
            [] => (notes, origin),
            settled => ([settled, &notes].concat(), self.origin),
        }
    }
}
