//! The summary of a session, in three lines.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use fretlib::practice::{Moment, PlacementKey, PracticeMaterial};

use super::tally::Tally;
use crate::report::heading::title_or_untitled;

/// A phrase of a tune at a placement, by the tune's number in the session.
pub(super) type PhraseAt = (usize, u32, Option<PlacementKey>);

/// The summary of a session.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Summary {
    /// What got better, what to play next, when to come back.
    pub lines: [String; 3],
}

/// The data of a summary.
pub(super) struct Outcome<'a> {
    pub tally: &'a Tally,
    /// How many items hold now that did not, by phrase.
    pub better: &'a BTreeMap<PhraseAt, u32>,
    /// How many answers were wrong, by phrase.
    pub wrong: &'a BTreeMap<PhraseAt, u32>,
    /// When the next item begins to fade, in seconds since 1970; `None` in random order.
    pub fades_next: Option<i64>,
    /// Whether there is more that is untouched.
    pub more: bool,
}

impl Summary {
    pub(super) fn new(
        outcome: &Outcome,
        name: impl Fn(PhraseAt) -> String,
        now: Moment,
    ) -> Summary {
        Summary {
            lines: [
                better(outcome, &name),
                next(outcome, &name),
                come_back(outcome, now),
            ],
        }
    }
}

fn better(outcome: &Outcome, name: impl Fn(PhraseAt) -> String) -> String {
    let all = outcome.tally.all;
    let mut line = format!("{} of {} right", all.right, all.asked);
    let gained: u32 = outcome.better.values().sum();
    let most = outcome.better.iter().max_by_key(|(_, count)| **count);
    let hold = if gained == 1 { "holds" } else { "hold" };
    match most {
        Some((phrase, _)) if outcome.better.len() > 1 => line.push_str(&format!(
            "; {gained} more {hold} now, most of them in {}",
            name(*phrase)
        )),
        Some((phrase, _)) => {
            line.push_str(&format!("; {gained} more {hold} now, in {}", name(*phrase)));
        }
        None => {}
    }
    line
}

fn next(outcome: &Outcome, name: impl Fn(PhraseAt) -> String) -> String {
    let worst = outcome.wrong.iter().max_by_key(|(_, count)| **count);
    match worst {
        Some((phrase, 1)) => format!("play next: {}, missed once", name(*phrase)),
        Some((phrase, count)) => format!("play next: {}, missed {count} times", name(*phrase)),
        None if outcome.more => "play next: more that is untouched".into(),
        None => "play next: the whole tune, by heart".into(),
    }
}

fn come_back(outcome: &Outcome, now: Moment) -> String {
    let when = match outcome.fades_next {
        Some(at) if at <= now.seconds => "today: some of it still fades".into(),
        Some(_) if outcome.more => "tomorrow".into(),
        Some(at) => day_in_words(at, now),
        None => "tomorrow".into(),
    };
    format!("come back {when}")
}

/// The day of a moment to come, in seconds since 1970: `tomorrow`, `in 3 days`.
pub(super) fn day_in_words(at: i64, now: Moment) -> String {
    const DAY: i64 = 86_400;
    match (at - now.seconds + DAY / 4) / DAY {
        0 | 1 => "tomorrow".into(),
        days => format!("in {days} days"),
    }
}

/// `bars 5-8 in position V`, with the tune if there are several.
pub(super) fn phrase_in_words(
    material: &PracticeMaterial,
    title: Option<&str>,
    phrase: u32,
    placement: Option<PlacementKey>,
) -> String {
    let mut words = bars_in_words(material, phrase);
    if let Some(placement) = placement {
        words.push_str(&format!(" in {}", placement.in_words()));
    }
    match title {
        Some(title) => format!("{}, {words}", title_or_untitled(title)),
        None => words,
    }
}

/// `position V`, or along the player's own fingering the positions of a phrase: `positions VII and V`.
pub fn placement_in_words(
    material: &PracticeMaterial,
    phrase: u32,
    placement: PlacementKey,
) -> String {
    match &material.placements_along(phrase as usize)[..] {
        [] => placement.in_words(),
        [one] => one.in_words(),
        [others @ .., last] => {
            let others: Vec<String> = others.iter().map(|it| it.position.to_string()).collect();
            let last = last.in_words();
            let last = last.strip_prefix("position ").unwrap_or(&last);
            format!("positions {} and {last}", others.join(", "))
        }
    }
}

/// `bar 5`, `bars 5-8`: a phrase as players find it.
pub fn bars_in_words(material: &PracticeMaterial, phrase: u32) -> String {
    phrases_in_words(material, phrase..=phrase)
}

/// `bars 5-16`: phrases that follow each other.
pub fn phrases_in_words(material: &PracticeMaterial, phrases: RangeInclusive<u32>) -> String {
    let bars = |phrase: &u32| material.phrase_bars(*phrase as usize);
    match (bars(phrases.start()), bars(phrases.end())) {
        (Some(first), Some(last)) if first.start() == last.end() => {
            format!("bar {}", first.start())
        }
        (Some(first), Some(last)) => format!("bars {}-{}", first.start(), last.end()),
        _ => String::new(),
    }
}
