//! The preferred positions of the hand.

use std::collections::BTreeMap;
use std::ops::Range;

use super::{Constraints, TimedMelody};
use crate::neck::{Finger, Place, Position};

/// The fewest notes for which a pin or a start holds the hand, even if its section ends earlier.
const HOLDS: usize = 16;

/// The strength of a loose home beside a firm one. Chosen by the agreement with all works, each left out in turn, and so that
/// the hand stays in a region.
const LOOSE: f64 = 0.75;

/// The positions that the hand prefers; not a constraint.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Home {
    lowest: Position,
    highest: Position,
    hold: Hold,
}

/// How strongly a home holds the hand.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Hold {
    /// The player's choice.
    Firm,
    /// A region to be in: the hand leaves it where the melody does.
    Loose,
}

impl Home {
    /// One position; the next one up is as good, for scales that need one more fret.
    pub fn at(position: Position) -> Home {
        Home {
            lowest: position,
            highest: Position::new(position.get() + 1).unwrap_or(position),
            hold: Hold::Firm,
        }
    }

    /// Like [`Home::at`], but three quarters as strong.
    pub fn about(position: Position) -> Home {
        Home {
            hold: Hold::Loose,
            ..Home::at(position)
        }
    }

    /// Exactly this position.
    fn only(position: Position) -> Home {
        Home {
            highest: position,
            ..Home::at(position)
        }
    }

    /// The positions that reach a place without a stretch; `None` for an open string, which every position reaches.
    pub fn of(place: Place) -> Option<Home> {
        let highest = Position::new(place.fret.get()).ok()?;
        let reach =
            Position::FIRST.fret(Finger::Fourth).get() - Position::FIRST.fret(Finger::First).get();
        let lowest = Position::new(highest.get().saturating_sub(reach).max(1)).ok()?;
        Some(Home {
            lowest,
            highest,
            hold: Hold::Firm,
        })
    }

    /// The lowest of its positions.
    pub fn lowest(self) -> Position {
        self.lowest
    }

    /// The frets between a position and these.
    pub fn distance(self, position: Position) -> u8 {
        let (position, lowest, highest) = (position.get(), self.lowest.get(), self.highest.get());
        lowest
            .saturating_sub(position)
            .max(position.saturating_sub(highest))
    }

    fn strength(self) -> f64 {
        match self.hold {
            Hold::Firm => 1.0,
            Hold::Loose => LOOSE,
        }
    }
}

/// The pull of the homes around a note: between two homes, the later one counts more the nearer it is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pull {
    homes: [Home; 2],
    /// The share of the later one.
    later: f64,
}

impl Pull {
    /// Frets between a position and home.
    pub(super) fn distance(&self, position: Position) -> f64 {
        self.mean(|home| f64::from(home.distance(position)))
    }

    /// The home that a shift comes nearer to; of two, the one that it gains more of.
    pub(super) fn nearer(&self, from: Position, to: Position) -> Option<Home> {
        let gain = |home: Home| f64::from(home.distance(from)) - f64::from(home.distance(to));
        let [earlier, later] = self.homes;
        let gains = [(1.0 - self.later) * gain(earlier), self.later * gain(later)];
        let nearest = if gains[1] > gains[0] { later } else { earlier };
        (gains[0] + gains[1] > 0.0).then_some(nearest)
    }

    /// False between two homes, where the hand has to move.
    pub(super) fn is_of_one_home(&self) -> bool {
        self.homes[0] == self.homes[1]
    }

    /// 1 for a home of the player's, less for a loose one.
    pub(super) fn strength(&self) -> f64 {
        self.mean(Home::strength)
    }

    fn mean(&self, of: impl Fn(Home) -> f64) -> f64 {
        let [earlier, later] = self.homes.map(of);
        (1.0 - self.later) * earlier + self.later * later
    }
}

/// A home tied to a note, and the notes it may hold.
struct NoteHome {
    index: usize,
    home: Home,
    holds: Range<usize>,
}

/// The pull on every note of a melody; empty when there are no homes.
pub(super) fn pulls(
    constraints: &Constraints,
    homes: &[(Range<usize>, Home)],
    line: &TimedMelody,
) -> Vec<Option<Pull>> {
    let anchors = anchors(constraints, homes, line);
    if anchors.is_empty() {
        return Vec::new();
    }
    let mut next = 0;
    (0..line.notes().len())
        .map(|index| {
            while next < anchors.len() && anchors[next].index <= index {
                next += 1;
            }
            let holding = |anchor: &&NoteHome| anchor.holds.contains(&index);
            let earlier = next.checked_sub(1).map(|at| &anchors[at]).filter(holding);
            let later = anchors.get(next).filter(holding);
            match (earlier, later) {
                (Some(earlier), Some(later)) => Some(Pull {
                    homes: [earlier.home, later.home],
                    later: (index - earlier.index) as f64 / (later.index - earlier.index) as f64,
                }),
                (Some(only), None) | (None, Some(only)) => Some(Pull {
                    homes: [only.home; 2],
                    later: 0.0,
                }),
                (None, None) => None,
            }
        })
        .collect()
}

/// At most one for each note: a pin before the start, the start before a home.
fn anchors(
    constraints: &Constraints,
    homes: &[(Range<usize>, Home)],
    line: &TimedMelody,
) -> Vec<NoteHome> {
    let notes = line.notes().len();
    let mut anchors = BTreeMap::new();
    for (range, home) in homes {
        let range = range.start.min(notes)..range.end.min(notes);
        for index in range.clone().take(1).chain(range.clone().next_back()) {
            let (home, holds) = (*home, range.clone());
            anchors.insert(index, NoteHome { index, home, holds });
        }
    }
    let start = constraints.start.map(|position| (0, Home::only(position)));
    let pins = constraints.pins.iter();
    let pins = pins.filter_map(|(index, pin)| {
        let stands = pin.position.map(Home::only);
        let home = Home::of(pin.place)?;
        Some((*index, stands.unwrap_or(home)))
    });
    for (index, home) in start
        .into_iter()
        .chain(pins)
        .filter(|(index, _)| *index < notes)
    {
        let section = line.section(index);
        let holds = section.start.min(index.saturating_sub(HOLDS))
            ..section.end.max((index + HOLDS).min(notes));
        anchors.insert(index, NoteHome { index, home, holds });
    }
    anchors.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::neck::{Fret, StringNumber};

    fn place(fret: u8) -> Place {
        Place {
            string: StringNumber::new(2).unwrap(),
            fret: Fret::new(fret).unwrap(),
        }
    }

    fn position(number: u8) -> Position {
        Position::new(number).unwrap()
    }

    #[test]
    fn a_place_is_at_home_where_four_fingers_reach_it() {
        let home = Home::of(place(7)).unwrap();
        let distances: Vec<u8> = [1, 3, 4, 7, 8, 12]
            .map(|it| home.distance(position(it)))
            .into();
        assert_eq!(distances, [3, 1, 0, 0, 1, 5]);
        assert_eq!(Home::of(place(2)).unwrap().distance(position(1)), 0);
        assert_eq!(
            Home::of(place(0)),
            None,
            "an open string says nothing about the hand"
        );
    }

    #[test]
    fn between_a_loose_and_a_firm_home_the_pull_changes_gradually() {
        let pull = |later| Pull {
            homes: [Home::about(position(5)), Home::at(position(9))],
            later,
        };
        let found: Vec<(f64, f64)> = [0.0, 0.5, 1.0]
            .map(|later| (pull(later).strength(), pull(later).distance(position(2))))
            .into();
        assert_eq!(found, [(0.75, 3.0), (0.875, 5.0), (1.0, 7.0)]);
    }
}
