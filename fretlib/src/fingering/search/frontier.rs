//! The partial paths up to one note, and which of them are worth extending.

use std::ops::Range;

use super::super::FingeredNote;
use super::super::hand_state::HandState;

/// A partial path up to one note.
#[derive(Clone, Copy)]
pub(super) struct Node {
    pub(super) note: FingeredNote,
    pub(super) state: HandState,
    /// How often the hand has moved; counted only when limited.
    pub(super) shifts: u8,
    pub(super) cost: f64,
    /// Tells paths over different places apart.
    pub(super) path: u64,
    /// The index of the previous node.
    pub(super) back: u32,
}

impl Node {
    /// True when every continuation costs no more from here than from `other`, which plays the note the same way.
    ///
    /// Remembered notes can only make later notes dearer (the terms that read them are never negative), so a node that
    /// remembers less at no higher cost is as good.
    fn is_as_good_as(&self, other: &Node) -> bool {
        self.cost <= other.cost
            && self.shifts <= other.shifts
            && self.state.remembers_no_more_than(&other.state)
    }
}

/// Adds a place to the hash of a path (FNV-1a over the strings; pitch and string give the fret).
pub(super) fn place_mark(path: u64, note: &FingeredNote) -> u64 {
    (path ^ u64::from(note.place.string.get()) ^ 0xcbf2_9ce4_8422_2325)
        .wrapping_mul(0x0000_0100_0000_01b3)
        .rotate_left(17)
}

/// The nodes of one note, grouped by candidate, in the order of the candidates.
pub(super) struct Frontier {
    nodes: Vec<Node>,
    /// Where the nodes of each candidate end.
    ends: Vec<u32>,
    /// How many paths over different places to keep.
    count: usize,
    /// The most that a way to play the candidate at hand may have cost.
    most: f64,
    /// True as long as none has cost more.
    is_all: bool,
    /// Scratch for counting paths.
    paths: Vec<u64>,
}

impl Frontier {
    pub(super) fn new(count: usize) -> Frontier {
        Frontier {
            nodes: Vec::new(),
            ends: Vec::new(),
            count,
            most: f64::INFINITY,
            is_all: true,
            paths: Vec::new(),
        }
    }

    pub(super) fn clear(&mut self) {
        self.nodes.clear();
        self.ends.clear();
    }

    pub(super) fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// The nodes of a range of candidates, with their indices.
    pub(super) fn of_candidates(
        &self,
        candidates: Range<usize>,
    ) -> impl Iterator<Item = (u32, &Node)> {
        let (first, end) = (self.start(candidates.start), self.start(candidates.end));
        (first..).zip(&self.nodes[first as usize..end as usize])
    }

    /// The cheapest node of a candidate, with its index.
    pub(super) fn cheapest(&self, candidate: usize) -> Option<(u32, &Node)> {
        let first = self.start(candidate);
        (first < self.ends[candidate]).then(|| (first, &self.nodes[first as usize]))
    }

    /// Where the nodes of a candidate start.
    fn start(&self, candidate: usize) -> u32 {
        match candidate {
            0 => 0,
            _ => self.ends[candidate - 1],
        }
    }

    /// Sets the highest cost of nodes of the current candidate.
    pub(super) fn expect_at_most(&mut self, most: f64) {
        self.most = most;
    }

    /// True when a node of the current candidate with this cost would be left out; it then counts as left out.
    pub(super) fn leaves_out(&mut self, cost: f64) -> bool {
        let is_out = cost > self.most;
        if is_out && self.most > f64::NEG_INFINITY {
            self.is_all = false;
        }
        is_out
    }

    /// True when no node was left out for its cost.
    pub(super) fn is_all(&self) -> bool {
        self.is_all
    }

    /// Adds a node of the current candidate, unless it costs more than expected.
    pub(super) fn add(&mut self, node: Node) {
        if !self.leaves_out(node.cost) {
            self.nodes.push(node);
        }
    }

    /// Finishes the current candidate: only nodes worth extending stay, cheapest first.
    #[inline]
    pub(super) fn next_candidate(&mut self) {
        let first = self.ends.last().map_or(0, |end| *end as usize);
        if self.nodes.len() > first + 1 {
            self.cull(first);
        }
        self.ends.push(self.nodes.len() as u32);
    }

    fn cull(&mut self, first: usize) {
        let added = &mut self.nodes[first..];
        added.sort_unstable_by(|one, other| one.cost.total_cmp(&other.cost));
        let mut kept = 1;
        for index in 1..added.len() {
            if !is_needless(&added[index], &added[..kept], self.count, &mut self.paths) {
                added.swap(kept, index);
                kept += 1;
            }
        }
        self.nodes.truncate(first + kept);
    }
}

/// True when enough paths are as good, or when one over the same places is; `paths` is a scratch buffer.
fn is_needless(node: &Node, kept: &[Node], count: usize, paths: &mut Vec<u64>) -> bool {
    let mut as_good = kept.iter().filter(|it| it.is_as_good_as(node));
    if count == 1 {
        return as_good.next().is_some();
    }
    paths.clear();
    for it in as_good {
        if it.path == node.path {
            return true;
        }
        if !paths.contains(&it.path) {
            paths.push(it.path);
        }
    }
    paths.len() >= count
}
