//! What is asked in a session, how much and in which order.

use std::ops::RangeInclusive;

use fretlib::neck::Position;
use fretlib::practice::{Aim, Kind, Mix};
use jiff::civil::DateTime;

/// What is asked in a session, how much and in which order.
#[derive(Clone, Debug)]
pub struct SessionRequest {
    /// The kinds of question; at least one.
    pub kinds: Vec<Kind>,
    /// The most questions.
    pub questions: Option<u32>,
    /// Choose questions at random, whatever is due.
    pub is_random: bool,
    /// Where random choices begin.
    pub seed: Option<u64>,
    /// How questions follow each other.
    pub mix: Mix,
    /// The most new items.
    pub new_items: usize,
    /// Ask line by line, also on a terminal.
    pub plain: bool,
    /// Keep nothing of this session.
    pub no_history: bool,
    /// The time to take for the present.
    pub now: Option<DateTime>,
}

impl SessionRequest {
    /// What the schedule aims at.
    pub fn aim(&self) -> Aim {
        Aim {
            new_items: self.new_items,
            mix: self.mix,
            ..Aim::default()
        }
    }
}

/// What part of a tune and of the neck is asked about.
#[derive(Clone, Debug, Default)]
pub struct PartRequest {
    /// The positions.
    pub positions: Option<RangeInclusive<Position>>,
    /// The phrases, counted from 1.
    pub phrases: Option<RangeInclusive<u32>>,
}
