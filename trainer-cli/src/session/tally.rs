//! The tally of a session.

use std::collections::BTreeMap;

use fretlib::neck::Position;
use fretlib::practice::{Item, Kind};

/// Right answers out of all.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Count {
    /// How many answers.
    pub asked: u32,
    /// How many of them right.
    pub right: u32,
}

impl Count {
    fn add(&mut self, is_right: bool) {
        self.asked += 1;
        self.right += u32::from(is_right);
    }

    fn subtract(&mut self, is_right: bool) {
        self.asked -= 1;
        self.right -= u32::from(is_right);
    }
}

/// The tally of a session.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// All answers.
    pub all: Count,
    /// By kind of question.
    pub kinds: BTreeMap<Kind, Count>,
    /// By position; questions about the melody alone are left out.
    pub positions: BTreeMap<Position, Count>,
    /// Right answers since the last wrong one.
    pub streak: u32,
}

impl Tally {
    /// Counts an answer to an item.
    pub(super) fn add(&mut self, item: &Item, is_right: bool) {
        self.each(item, |count| count.add(is_right));
        self.streak = if is_right { self.streak + 1 } else { 0 };
    }

    /// Takes a counted answer back; `streak` is its value before that answer.
    pub(super) fn take_back(&mut self, item: &Item, is_right: bool, streak: u32) {
        self.each(item, |count| count.subtract(is_right));
        self.streak = streak;
    }

    /// Every count an item belongs to.
    fn each(&mut self, item: &Item, change: impl Fn(&mut Count)) {
        change(&mut self.all);
        change(self.kinds.entry(item.kind).or_default());
        if let Some(placement) = item.placement {
            change(self.positions.entry(placement.position).or_default());
        }
    }
}
