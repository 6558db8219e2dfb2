//! Regions of the neck that players choose between.

use super::{Constraints, Fingering, FingeringSearch, Home, NoFingering, TimedMelody};
use crate::neck::{Instrument, Position};

/// How many semitones below the highest open string the middle note of a melody may lie that is fingered in mid-neck.
const CROWDED: u8 = 1;

/// A hand in mid-neck holds a melody of which the middle half spans less than this, in semitones: an octave.
const WIDE: u8 = 12;

/// The part of the neck that a player stays in.
///
/// A melody alone does not tell which one an editor chooses, so a player is offered three. The homes are those of which the best
/// agrees most with printed editions: see `docs/fingering.md`.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Region {
    /// Low, with open strings: a search without a home.
    Low,
    /// About second and third position.
    Second,
    /// About fourth and fifth position.
    Middle,
    /// About sixth and seventh position.
    High,
}

impl Region {
    /// Every region, from the nut up.
    pub const ALL: [Region; 4] = [Region::Low, Region::Second, Region::Middle, Region::High];

    /// Its name on screens.
    pub const fn name(self) -> &'static str {
        match self {
            Region::Low => "low, with open strings",
            Region::Second => "about second position",
            Region::Middle => "in mid-neck",
            Region::High => "staying high",
        }
    }

    /// Its advantages, in a line. Common practice, no source.
    pub const fn good_for(self) -> &'static str {
        match self {
            Region::Low => {
                "open strings, which ring and give the hand time; but the frets are wide"
            }
            Region::Second => "a finger for each fret, with open strings still near",
            Region::Middle => {
                "other keys, to which stopped notes move as they are; the frets are narrower"
            }
            Region::High => {
                "a round, covered tone and the narrowest frets; but low notes are far away"
            }
        }
    }

    /// The region in which editors mostly finger such a melody: mid-neck when half of its notes lie high, so that in first
    /// position they would crowd on one string, and its middle half spans less than an octave, so that the hand can stay there.
    ///
    /// High is a semitone below the highest open string, or above. Chosen by the agreement with 27 printed staves: see
    /// `docs/fingering.md`.
    pub fn usual(instrument: &Instrument, line: &TimedMelody) -> Region {
        let pitches = line.notes().iter().map(|note| note.pitch.midi().get());
        let mut pitches: Vec<u8> = pitches.collect();
        pitches.sort_unstable();
        let after = |quarters: usize| pitches[quarters * pitches.len() / 4];
        let strings = instrument.string_numbers();
        let open = strings.filter_map(|string| instrument.open_midi(string));
        let is_high = open.max().is_some_and(|it| after(2) + CROWDED >= it.get());
        match is_high && after(3) - after(1) < WIDE {
            true => Region::Middle,
            false => Region::Low,
        }
    }

    /// Every region, this one first, then those that an editor takes most often instead.
    pub const fn nearest_first(self) -> [Region; 4] {
        use Region::{High, Low, Middle, Second};
        match self {
            Low => [Low, Second, Middle, High],
            Second => [Second, Low, Middle, High],
            Middle => [Middle, Low, High, Second],
            High => [High, Middle, Second, Low],
        }
    }

    fn home(self) -> Option<Home> {
        let at = |number| Position::new(number).ok();
        match self {
            Region::Low => None,
            Region::Second => at(2).map(Home::about),
            Region::Middle => at(4).map(Home::about),
            // Otherwise the hand falls back to mid-neck with the first low note.
            Region::High => at(6).map(Home::at),
        }
    }
}

impl<'a> FingeringSearch<'a> {
    /// The same search with its home in a region.
    #[must_use]
    pub fn in_region(&self, region: Region, line: &TimedMelody) -> FingeringSearch<'a> {
        let home = region.home().map(|home| (0..line.notes().len(), home));
        FingeringSearch {
            homes: home.into_iter().collect(),
            count: 1,
            ..self.clone()
        }
    }

    /// The same search in the [usual](Region::usual) region of the melody, and this region, unless the player has said where to
    /// play: by a home, or by any constraint but one on open strings.
    #[must_use]
    pub fn in_usual_region(&self, line: &TimedMelody) -> (FingeringSearch<'a>, Region) {
        let free = Constraints {
            open_strings: self.constraints.open_strings,
            ..Constraints::default()
        };
        let region = Region::usual(self.player.instrument, line);
        if region == Region::Low || !self.homes.is_empty() || self.constraints != free {
            return (self.clone(), Region::Low);
        }
        let there = FingeringSearch {
            count: self.count,
            ..self.in_region(region, line)
        };
        (there, region)
    }

    /// The best fingering in each region, at most [`FingeringSearch::count`]: the usual one first, then
    /// [its neighbours](Region::nearest_first). No two have all notes at the same places.
    ///
    /// # Errors
    ///
    /// As [`FingeringSearch::run`], when the first region has none.
    pub fn run_in_regions(
        &self,
        line: &TimedMelody,
    ) -> Result<Vec<(Region, Fingering)>, NoFingering> {
        let mut found: Vec<(Region, Fingering)> = Vec::new();
        let (_, usual) = self.in_usual_region(line);
        for region in usual.nearest_first() {
            if found.len() == self.count.max(1) {
                break;
            }
            let best = self.in_region(region, line).run_with_few_shifts(line)?;
            if !found.iter().any(|(_, other)| other.has_places_of(&best)) {
                found.push((region, best));
            }
        }
        Ok(found)
    }
}
