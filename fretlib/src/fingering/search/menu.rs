//! The steps that may play a pitch.

use std::ops::{Range, RangeInclusive};

use super::super::cost;
use super::super::term::Weights;
use super::super::{Limits, Player, Step};
use crate::neck::{Finger, Position, StringNumber};
use crate::theory::MidiNumber;

/// A step with its own cost as a short and as a long note.
pub(super) struct Choice {
    pub(super) step: Step,
    short: f64,
    long: f64,
}

impl Choice {
    pub(super) fn cost(&self, long: bool) -> f64 {
        if long { self.long } else { self.short }
    }
}

/// The steps that may play a pitch, by position; by default none.
#[derive(Default)]
pub(super) struct Menu {
    pub(super) choices: Vec<Choice>,
    /// The strings they are on, and from which position to which.
    pub(super) strings: Vec<(u8, RangeInclusive<Position>)>,
    /// Which of them have a position and a string in common, whatever the finger.
    pub(super) spots: Vec<Range<usize>>,
    /// Which of them have a position.
    from: Vec<Range<usize>>,
    /// Which of them have a string and a finger.
    held_by: Vec<[Vec<usize>; 4]>,
}

impl Menu {
    /// Those the limits allow for any note.
    pub(super) fn new(
        player: &Player,
        weights: &Weights,
        limits: &Limits,
        midi: MidiNumber,
    ) -> Menu {
        let price = |step: &Step, long| weights.total(|add| cost::alone(player, long, step, add));
        let mut steps = player.steps_for(midi);
        steps.retain(|step| limits.allow_anywhere(step));
        steps.sort_by_key(|step| (step.position, step.place.string.get()));
        let mut from = vec![0..0; usize::from(Position::HIGHEST) + 1];
        let mut held_by = vec![<[Vec<usize>; 4]>::default(); player.instrument.strings().len() + 1];
        let mut spots: Vec<Range<usize>> = Vec::new();
        let mut strings: Vec<(u8, RangeInclusive<Position>)> = Vec::new();
        for (index, step) in steps.iter().enumerate() {
            let range = &mut from[usize::from(step.position.get())];
            if range.end == 0 {
                range.start = index;
            }
            range.end = index + 1;
            let string = step.place.string.get();
            match spots.last_mut() {
                Some(spot)
                    if (steps[spot.start].position, steps[spot.start].place)
                        == (step.position, step.place) =>
                {
                    spot.end = index + 1
                }
                _ => spots.push(index..index + 1),
            }
            match strings.iter_mut().find(|(it, _)| *it == string) {
                Some((_, positions)) => *positions = *positions.start()..=step.position,
                None => strings.push((string, step.position..=step.position)),
            }
            if let Some(finger) = step.finger {
                held_by[usize::from(string)][finger as usize - 1].push(index);
            }
        }
        let choices = steps
            .into_iter()
            .map(|step| Choice {
                short: price(&step, false),
                long: price(&step, true),
                step,
            })
            .collect();
        Menu {
            choices,
            strings,
            spots,
            from,
            held_by,
        }
    }

    /// The indices of the choices with a position.
    pub(super) fn from(&self, position: Position) -> Range<usize> {
        self.from[usize::from(position.get())].clone()
    }

    /// The indices of the choices that hold a string with a finger.
    pub(super) fn held_by(&self, string: StringNumber, finger: Finger) -> &[usize] {
        &self.held_by[usize::from(string.get())][finger as usize - 1]
    }
}
