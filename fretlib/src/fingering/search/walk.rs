//! The walk along the notes, from the best paths over some to the best over more.

use std::ops::Range;

use super::super::hand_state::{HandState, NoteContext};
use super::super::{FingeredNote, Fingering};
use super::backtrace::Backtrace;
use super::costs_to_go::CostsToGo;
use super::frontier::{Frontier, Node, place_mark};
use super::transition::{Scratch, Transition};
use super::{Criterion, Search};

/// The best paths over the notes walked along so far.
pub(super) struct Walk<'a> {
    search: &'a Search<'a>,
    criterion: Criterion,
    /// A lower bound for what any path has to go, and the most that a path may cost in all.
    most: Option<(&'a CostsToGo, f64)>,
    before: Frontier,
    frontier: Frontier,
    scratch: Scratch,
    backtrace: Backtrace,
}

impl<'a> Walk<'a> {
    /// Before the first note.
    pub(super) fn new(
        search: &'a Search<'a>,
        criterion: Criterion,
        most: Option<(&'a CostsToGo, f64)>,
    ) -> Walk<'a> {
        Walk {
            search,
            criterion,
            most,
            before: Frontier::new(criterion.count),
            frontier: Frontier::new(criterion.count),
            scratch: Scratch::default(),
            backtrace: Backtrace::default(),
        }
    }

    /// Goes on along these notes, which follow those walked along already; at first, as if the hand came to them just then.
    ///
    /// # Errors
    ///
    /// The index of the first note that no path reaches.
    pub(super) fn along(&mut self, notes: Range<usize>) -> Result<(), usize> {
        for index in notes {
            self.step_to(index)?;
            self.backtrace.push(self.frontier.nodes());
        }
        Ok(())
    }

    fn step_to(&mut self, index: usize) -> Result<(), usize> {
        let Walk {
            search,
            criterion,
            most,
            before,
            frontier,
            scratch,
            ..
        } = self;
        std::mem::swap(before, frontier);
        frontier.clear();
        let transition = (!before.nodes().is_empty())
            .then(|| Transition::new(search, *criterion, index, before, scratch));
        for (number, (candidate, own)) in search.ways(index).enumerate() {
            if let Some(own) = own {
                // What leads nowhere is not added either.
                let after = most.map_or(0.0, |(to_go, _)| to_go.after(index)[number]);
                frontier.expect_at_most(most.map_or(f64::INFINITY, |(_, most)| most - after));
                match &transition {
                    Some(transition) => transition.come_to(candidate, own, frontier),
                    None if own <= criterion.cap => {
                        frontier.add(search.first_node(index, &candidate.note, own));
                    }
                    None => {}
                }
            }
            frontier.next_candidate();
        }
        match frontier.nodes() {
            [] => Err(index),
            _ => Ok(()),
        }
    }

    /// True when no path was left out for its cost.
    pub(super) fn is_all(&self) -> bool {
        self.frontier.is_all() && self.before.is_all()
    }

    /// The ends of the paths.
    pub(super) fn ends(&self) -> &[Node] {
        self.frontier.nodes()
    }

    /// Forgets the way to these ends. What is walked from here on leads back to their indices.
    pub(super) fn forget_way(&mut self) {
        self.backtrace = Backtrace::default();
    }

    /// The fingered notes that lead to an end, and the index of the end that they come from.
    pub(super) fn way_to(&self, end: u32) -> (Vec<FingeredNote>, u32) {
        self.backtrace.way_to(end)
    }

    /// The best fingerings, best first, no two over the same places.
    pub(super) fn best(&self) -> Vec<Fingering> {
        let mut ends: Vec<(u32, &Node)> = (0..).zip(self.ends()).collect();
        ends.sort_by(|one, other| one.1.cost.total_cmp(&other.1.cost));
        let mut paths = Vec::new();
        let mut fingerings = Vec::new();
        for (end, node) in ends {
            if fingerings.len() == self.criterion.count {
                break;
            }
            if paths.contains(&node.path) {
                continue;
            }
            paths.push(node.path);
            fingerings.push(Fingering {
                notes: self.way_to(end).0,
                cost: node.cost,
            });
        }
        fingerings
    }
}

impl Search<'_> {
    /// A way to begin with a note.
    fn first_node(&self, index: usize, note: &FingeredNote, cost: f64) -> Node {
        Node {
            note: *note,
            state: HandState::first(&NoteContext::new(self.line, index), note),
            shifts: 0,
            cost,
            path: place_mark(0, note),
            back: 0,
        }
    }
}
