//! Regions of the neck that players choose between.

use super::{Constraints, Fingering, FingeringSearch, Home, NoFingering, TimedMelody};
use crate::mapping::OpenStrings;
use crate::neck::{Instrument, Position};
use crate::theory::MidiNumber;

/// How many semitones below the highest open string the middle note of a melody may lie that is fingered in mid-neck.
const CROWDED: u8 = 1;

/// The part of the neck that a player stays in.
///
/// A melody alone does not tell which one an editor chooses, so a player is offered all three. The homes and the use of open
/// strings are those of which the best agrees most with printed editions: see `docs/fingering.md`.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Region {
    /// Low, with open strings: a search without a home.
    Low,
    /// About fourth and fifth position, with open strings in first position only.
    Middle,
    /// About eighth position.
    High,
}

impl Region {
    /// Every region, from the nut up.
    pub const ALL: [Region; 3] = [Region::Low, Region::Middle, Region::High];

    /// Its name on screens.
    pub const fn name(self) -> &'static str {
        match self {
            Region::Low => "low, with open strings",
            Region::Middle => "in mid-neck",
            Region::High => "staying high",
        }
    }

    /// Its advantages, in a line. Common practice, no source.
    pub const fn good_for(self) -> &'static str {
        match self {
            Region::Low => "open strings ring and give the hand time; the frets are wide",
            Region::Middle => {
                "mostly stopped notes, so it moves to other keys as it is; narrower frets"
            }
            Region::High => {
                "a round, covered tone and the narrowest frets; low notes are farther away"
            }
        }
    }

    /// The region in which editors mostly finger such a melody: mid-neck when half of its notes lie high, so that in first
    /// position they would crowd on one string.
    ///
    /// High is a semitone below the highest open string, or above. Of 27 printed staves a limit between one and three semitones
    /// divides best, also when each work is left out in turn; see `docs/fingering.md`.
    pub fn usual(instrument: &Instrument, line: &TimedMelody) -> Region {
        let mut pitches: Vec<MidiNumber> =
            line.notes().iter().map(|note| note.pitch.midi()).collect();
        let middle = pitches.len() / 2;
        let (_, median, _) = pitches.select_nth_unstable(middle);
        let strings = instrument.strings().iter();
        let highest = strings.map(|string| string.midi()).max();
        let is_high = highest.is_some_and(|highest| median.get() + CROWDED >= highest.get());
        if is_high { Region::Middle } else { Region::Low }
    }

    fn home(self) -> Option<Home> {
        let position = match self {
            Region::Low => return None,
            Region::Middle => 4,
            Region::High => 8,
        };
        Position::new(position).ok().map(Home::about)
    }

    fn open_strings(self) -> OpenStrings {
        match self {
            Region::Middle => OpenStrings::FirstPosition,
            Region::Low | Region::High => OpenStrings::Anywhere,
        }
    }
}

impl<'a> FingeringSearch<'a> {
    /// The same search with its home in a region, and as few open strings as are usual there.
    #[must_use]
    pub fn in_region(&self, region: Region, line: &TimedMelody) -> FingeringSearch<'a> {
        let home = region.home().map(|home| (0..line.notes().len(), home));
        let mut search = FingeringSearch {
            homes: home.into_iter().collect(),
            count: 1,
            ..self.clone()
        };
        if search.constraints.open_strings == OpenStrings::Anywhere {
            search.constraints.open_strings = region.open_strings();
        }
        search
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

    /// The best fingering in each region that has one, at most [`FingeringSearch::count`]: the usual one first, then from the
    /// nut up. No two have all notes at the same places.
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
        let others = Region::ALL.into_iter().filter(|it| *it != usual);
        for region in [usual].into_iter().chain(others).take(self.count.max(1)) {
            let best = match self.in_region(region, line).run(line) {
                Ok(mut best) => best.remove(0),
                Err(stuck) if found.is_empty() => return Err(stuck),
                // A pinned open string, say, has no place in the middle.
                Err(_) => continue,
            };
            if !found.iter().any(|(_, other)| other.has_places_of(&best)) {
                found.push((region, best));
            }
        }
        Ok(found)
    }
}
