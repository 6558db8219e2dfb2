//! The preferred positions of the hand.

use std::collections::BTreeMap;
use std::ops::Range;

use super::{Constraints, TimedMelody};
use crate::neck::{Finger, Place, Position};
use crate::theory::MidiNumber;

/// The fewest notes for which a pin or a start holds the hand, even if its section ends earlier.
const HOLDS: usize = 16;

/// The strength of a loose home beside a firm one. Chosen by the agreement with all works, each left out in turn, and so that
/// the hand stays in a region.
const LOOSE: f64 = 0.7;

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

    /// Like [`Home::at`], but seven tenths as strong.
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
    /// How much each counts, together 1.
    shares: [f64; 2],
    /// How strongly each pulls on a note of this pitch.
    pitch: [f64; 2],
}

impl Pull {
    /// Frets between a position and home.
    pub(super) fn distance(&self, position: Position) -> f64 {
        let frets = self.frets(|home| f64::from(home.distance(position)));
        frets.iter().sum()
    }

    /// The home that a shift comes nearer to; of two, the one that it gains more of.
    pub(super) fn nearer(&self, from: Position, to: Position) -> Option<Home> {
        let gains =
            self.frets(|home| f64::from(home.distance(from)) - f64::from(home.distance(to)));
        let nearest = usize::from(gains[1] > gains[0]);
        (gains[0] + gains[1] > 0.0).then_some(self.homes[nearest])
    }

    /// False between two homes, where the hand has to move.
    pub(super) fn is_of_one_home(&self) -> bool {
        self.homes[0] == self.homes[1]
    }

    /// 1 for a home of the player's, less for a loose one.
    pub(super) fn strength(&self) -> f64 {
        let strengths = [0, 1].map(|at| self.shares[at] * self.homes[at].strength());
        strengths.iter().sum()
    }

    /// Frets of each home, as much as it counts.
    fn frets(&self, of: impl Fn(Home) -> f64) -> [f64; 2] {
        [0, 1].map(|at| self.shares[at] * self.pitch[at] * of(self.homes[at]))
    }
}

/// How strongly one of two pins pulls on a note so many semitones higher or lower than its own: like a home at its own pitch, half
/// as strongly four semitones off. Chosen by the agreement with all works.
fn from_pin(semitones: u16) -> f64 {
    (-f64::from(semitones) / 6.0).exp()
}

/// A home tied to a note, and the notes it may hold.
struct NoteHome {
    index: usize,
    home: Home,
    holds: Range<usize>,
    /// The pitch of a pin.
    pitch: Option<MidiNumber>,
}

impl NoteHome {
    /// How strongly it pulls on a note of this pitch.
    fn pulls(&self, pitch: MidiNumber) -> f64 {
        let pin = self.pitch.map(|own| from_pin((own - pitch).unsigned_abs()));
        pin.unwrap_or(1.0)
    }
}

/// The pull on every note of a melody; empty when there are no homes.
pub(super) fn pulls(
    constraints: &Constraints,
    homes: &[(Range<usize>, Home)],
    line: &TimedMelody,
    sections: &[Range<usize>],
) -> Vec<Option<Pull>> {
    let anchors = anchors(constraints, homes, line, sections);
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
            let pitch = line.notes()[index].pitch.midi();
            let (homes, later, pitch) = match (earlier, later) {
                (Some(earlier), Some(later)) => {
                    let share =
                        (index - earlier.index) as f64 / (later.index - earlier.index) as f64;
                    let homes = [earlier, later];
                    (homes, share, homes.map(|it| it.pulls(pitch)))
                }
                // Nothing else says where the hand is, so it stays there for all pitches.
                (Some(only), None) | (None, Some(only)) => ([only; 2], 0.0, [1.0; 2]),
                (None, None) => return None,
            };
            Some(Pull {
                homes: homes.map(|it| it.home),
                shares: [1.0 - later, later],
                pitch,
            })
        })
        .collect()
}

/// At most one for each note: a pin before the start, the start before a home.
fn anchors(
    constraints: &Constraints,
    homes: &[(Range<usize>, Home)],
    line: &TimedMelody,
    sections: &[Range<usize>],
) -> Vec<NoteHome> {
    let notes = line.notes().len();
    let mut anchors = BTreeMap::new();
    for (range, home) in homes {
        let range = range.start.min(notes)..range.end.min(notes);
        for index in range.clone().take(1).chain(range.clone().next_back()) {
            let anchor = NoteHome {
                index,
                home: *home,
                holds: range.clone(),
                pitch: None,
            };
            anchors.insert(index, anchor);
        }
    }
    let start = constraints
        .start
        .map(|position| (0, Home::only(position), None));
    let pins = constraints.pins.range(..notes);
    let pins = pins.filter_map(|(index, pin)| {
        let stands = pin.stands().map(Home::only);
        let home = Home::of(pin.place)?;
        let pitch = line.notes()[*index].pitch.midi();
        Some((*index, stands.unwrap_or(home), Some(pitch)))
    });
    for (index, home, pitch) in start.into_iter().chain(pins) {
        let anchor = NoteHome {
            index,
            home,
            holds: held(sections, index, notes),
            pitch,
        };
        anchors.insert(index, anchor);
    }
    anchors.into_values().collect()
}

/// The notes for which a pin or a start holds: those of its section, and some beyond when that is short.
pub(super) fn held(sections: &[Range<usize>], index: usize, notes: usize) -> Range<usize> {
    let section = sections.partition_point(|section| section.end <= index);
    let section = sections.get(section).cloned().unwrap_or(index..index + 1);
    section.start.min(index.saturating_sub(HOLDS))..section.end.max((index + HOLDS).min(notes))
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
    fn a_pin_pulls_less_on_notes_of_other_pitches() {
        let pulls = [0, 2, 4, 8, 12].map(from_pin);
        assert_eq!(pulls[0], 1.0);
        assert!((0.5..0.55).contains(&pulls[2]), "{pulls:?}");
        assert!(pulls.is_sorted_by(|one, other| one > other), "{pulls:?}");
    }

    #[test]
    fn between_a_loose_and_a_firm_home_the_pull_changes_gradually() {
        let pull = |later| Pull {
            homes: [Home::about(position(5)), Home::at(position(9))],
            shares: [1.0 - later, later],
            pitch: [1.0; 2],
        };
        let found: Vec<(f64, f64)> = [0.0, 0.5, 1.0]
            .map(|later| (pull(later).strength(), pull(later).distance(position(2))))
            .into();
        assert_eq!(found, [(0.7, 3.0), (0.85, 5.0), (1.0, 7.0)]);
    }
}
