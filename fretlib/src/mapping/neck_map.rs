//! Where a melody lies, position by position and octave by octave.

use std::sync::Arc;

use super::placement::{Frame, OpenStrings, PitchLine, Placement, Preference};
use crate::melody::Melody;
use crate::neck::{Instrument, Position};
use crate::theory::{Octave, Pitch};

/// The placements of a melody in every position and octave, by position and then by octave.
///
/// ```
/// use fretlib::mapping::{NeckMap, OpenStrings};
/// use fretlib::melody::{Draft, Melody, Quarters};
/// use fretlib::neck::Instrument;
/// use fretlib::theory::Octave;
///
/// let mut draft = Draft::default();
/// for name in ["Bb3", "C4", "D4", "Eb4", "F4", "G4", "A4", "Bb4"] {
///     draft.note(name.parse()?, Quarters::from(1))?;
/// }
/// let map = NeckMap::new(&Melody::new(draft)?, &Instrument::default(), OpenStrings::default());
/// let fifth = map.at("V".parse()?, Octave::WRITTEN).unwrap();
/// assert!(fifth.is_whole()); // B flat major lies under the hand in fifth position
/// assert_eq!(fifth.stretches(), 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NeckMap {
    placements: Vec<Placement>,
    preference: Preference,
}

impl NeckMap {
    /// Maps a melody over every position of an instrument and every octave at which all its notes are on the neck.
    pub fn new(melody: &Melody, instrument: &Instrument, open_strings: OpenStrings) -> NeckMap {
        let octaves: Vec<Octave> = octaves_on(melody, instrument).collect();
        let line = Arc::new(PitchLine::of(melody));
        let mut placements = Vec::new();
        for position in instrument.positions() {
            let frame = Arc::new(Frame::new(position, instrument, open_strings));
            for &octave in &octaves {
                placements.push(Placement::new(
                    Arc::clone(&frame),
                    Arc::clone(&line),
                    octave,
                ));
            }
        }
        NeckMap {
            placements,
            preference: Preference::default(),
        }
    }

    /// The same map for a player with this preference.
    #[must_use]
    pub fn preferring(self, preference: Preference) -> NeckMap {
        NeckMap { preference, ..self }
    }

    /// All placements, by position and then by octave.
    pub fn placements(&self) -> &[Placement] {
        &self.placements
    }

    /// The placement in one position at one octave.
    pub fn at(&self, position: Position, octave: Octave) -> Option<&Placement> {
        let is_it = |it: &&Placement| it.position == position && it.octave == octave;
        self.placements.iter().find(is_it)
    }

    /// The octaves at which the whole melody is on the neck, in ascending order.
    pub fn octaves(&self) -> Vec<Octave> {
        let first = self.placements.first().map(|it| it.position);
        let in_first = |it: &&Placement| Some(it.position) == first;
        self.placements
            .iter()
            .filter(in_first)
            .map(|it| it.octave)
            .collect()
    }

    /// The placements with every note, by position and then by octave.
    pub fn whole(&self) -> impl Iterator<Item = &Placement> {
        self.placements.iter().filter(|it| it.is_whole())
    }

    /// All placements, the easiest first, by [`Placement::ease`].
    pub fn ranked(&self) -> Vec<&Placement> {
        let mut ranked: Vec<&Placement> = self.placements.iter().collect();
        ranked.sort_by_key(|it| it.ease(self.preference));
        ranked
    }

    /// The easiest placement by [`Placement::ease`]; `None` when the melody is on the neck at no octave.
    pub fn best(&self) -> Option<&Placement> {
        self.best_where(|_| true)
    }

    /// The easiest placement that passes a test, by [`Placement::ease`].
    pub fn best_where(&self, test: impl Fn(&Placement) -> bool) -> Option<&Placement> {
        let passing = self.placements.iter().filter(|it| test(it));
        passing.min_by_key(|it| it.ease(self.preference))
    }

    /// The whole placements to practise first, at most `count` of those that pass a test. In each octave the ones with
    /// the fewest stretches are taken, the octaves in turn from the written one on; then by [`Placement::ease`].
    pub fn to_practise(&self, most: usize, test: impl Fn(&Placement) -> bool) -> Vec<&Placement> {
        let mut octaves = self.octaves();
        octaves.sort_by_key(|octave| (octave.distance(), *octave));
        let in_octave = |octave: Octave| {
            let is_here = |it: &&Placement| it.octave == octave && test(it);
            let mut here: Vec<&Placement> = self.whole().filter(is_here).collect();
            here.sort_by_key(|it| (it.stretches(), it.ease(self.preference)));
            here
        };
        let columns: Vec<Vec<&Placement>> = octaves.into_iter().map(in_octave).collect();
        let longest = columns.iter().map(Vec::len).max().unwrap_or(0);
        let in_turn = (0..longest).flat_map(|row| columns.iter().filter_map(move |it| it.get(row)));
        let mut chosen: Vec<&Placement> = in_turn.take(most).copied().collect();
        chosen.sort_by_key(|it| it.ease(self.preference));
        chosen
    }

    /// The placement in position I on open strings, if it is whole and not the one given. Players want to know of it
    /// beside any other placement at that octave.
    pub fn on_open_strings_beside(&self, chosen: &Placement) -> Option<&Placement> {
        let first = self.at(Position::FIRST, chosen.octave)?;
        let is_another = chosen.position != Position::FIRST;
        (is_another && first.is_whole() && first.open_strings() > 0).then_some(first)
    }
}

/// The octaves, in ascending order, at which every note of a melody lies between the lowest open string and the highest
/// fret of an instrument.
pub fn octaves_on(
    melody: &Melody,
    instrument: &Instrument,
) -> impl Iterator<Item = Octave> + use<> {
    let (lowest, highest) = instrument.midi_range();
    let (low, high) = melody.range();
    Octave::all().filter(move |octave| {
        let moved = |pitch: Pitch| pitch.midi().transpose(octave.semitones());
        moved(low).is_ok_and(|low| low >= lowest) && moved(high).is_ok_and(|high| high <= highest)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Quarters};
    use crate::neck::{Finger, Reach};

    fn melody(names: &str) -> Melody {
        let mut draft = Draft::default();
        for name in names.split(' ') {
            draft
                .note(name.parse().unwrap(), Quarters::from(1))
                .unwrap();
        }
        Melody::new(draft).unwrap()
    }

    fn guitar_map(names: &str) -> NeckMap {
        NeckMap::new(
            &melody(names),
            &Instrument::default(),
            OpenStrings::default(),
        )
    }

    fn position(numeral: &str) -> Position {
        numeral.parse().unwrap()
    }

    fn check(names: &str, numeral: &str, expected: &str) {
        let map = guitar_map(names);
        let placement = map.at(position(numeral), Octave::WRITTEN).unwrap();
        let mut found: Vec<String> = placement
            .places()
            .iter()
            .map(|it| {
                let finger = it.finger.map_or(0, Finger::get);
                let stretch = if it.reach == Reach::Stretch { "~" } else { "" };
                format!("{}-{finger}{stretch}", it.place)
            })
            .collect();
        found.extend(placement.missing().iter().map(|note| format!("({note})")));
        assert_eq!(found.join(" "), expected, "{names} in {numeral}");
    }

    #[test]
    fn each_note_has_its_place_finger_and_reach() {
        check("C4 E4 G4 C5", "I", "5:3-3 4:2-2 3:0-0 2:1-1"); // an open chord, arpeggiated
        check("C5 D5 E5 F5", "V", "3:5-1 3:7-3 2:5-1 2:6-2");
        check("B3 D4", "III", "5:2-1~ 5:5-3"); // back on the string where the tune goes on
        check("B3 C4", "III", "6:7-4~ 5:3-1"); // rather than one finger on two frets in a row
        check("B4", "V", "3:4-1~"); // back a fret, for there is no other place
        check("E3", "V", "(0)");
        check("A3 E3", "V", "6:5-1 (1)");
        check("G3 B4", "I", "6:3-3 2:0-0"); // the open string before the fourth finger
    }

    #[test]
    fn octaves_are_those_that_keep_every_note_on_the_neck() {
        let octaves = |names| {
            guitar_map(names)
                .octaves()
                .into_iter()
                .map(Octave::get)
                .collect::<Vec<_>>()
        };
        assert_eq!(octaves("E3 E4"), [0, 1, 2]);
        assert_eq!(octaves("E4 D7"), [-1, 0]);
        assert_eq!(octaves("C1 C2"), [3, 4, 5]); // off the neck as written
        assert!(guitar_map("C1 C9").placements().is_empty());
    }

    #[test]
    fn open_strings_are_used_elsewhere_only_when_asked() {
        let tune = melody("E5 C5");
        let guitar = Instrument::default();
        let places = |open_strings| {
            let map = NeckMap::new(&tune, &guitar, open_strings);
            let placement = map.at(position("VIII"), Octave::WRITTEN).unwrap().clone();
            placement
                .places()
                .iter()
                .map(|it| it.place.to_string())
                .collect::<Vec<_>>()
        };
        assert_eq!(places(OpenStrings::FirstPosition), ["3:9", "4:10"]);
        let tune = melody("B4 C5");
        let map = NeckMap::new(&tune, &guitar, OpenStrings::Anywhere);
        assert_eq!(
            map.at(position("XII"), Octave::WRITTEN).unwrap().places()[0].reach,
            Reach::InPosition
        );
        assert_eq!(
            map.at(position("XIV"), Octave::WRITTEN).unwrap().places()[0].reach,
            Reach::InPosition
        );
        assert_eq!(
            map.at(position("V"), Octave::WRITTEN).unwrap().places()[0].reach,
            Reach::Open
        );
    }

    // Each case is decided by one rule of the order.
    #[test]
    fn placements_are_ordered_as_documented() {
        let best = |names: &str, preference| {
            let map = guitar_map(names).preferring(preference);
            let best = map.best().unwrap();
            (best.position.to_string(), best.octave.get())
        };
        let closed = |names| best(names, Preference::Closed);
        // In I on open strings, in II closed: the closed one comes first.
        let open = "E4 F4 G4 A4 B4 C5 D5 E5";
        assert_eq!(closed(open), ("II".into(), 0));
        assert_eq!(best(open, Preference::OpenStrings), ("I".into(), 0));
        // Notes below the fifth fret of string 6 are only in the first positions.
        assert_eq!(closed("E3 F3 G3"), ("I".into(), 0));
        // Two octaves and a third fit no position, neither as written nor an octave higher: the fewest missing notes
        // decide.
        let map = guitar_map("E3 B3 E4 B4 E5 B5 E6");
        let missing = map.best().unwrap().missing_count();
        assert!(
            map.placements()
                .iter()
                .all(|it| it.missing_count() >= missing)
        );
        // The order is total: no two placements are equally easy.
        let ranked = map.ranked();
        let ease: Vec<_> = ranked
            .iter()
            .map(|it| it.ease(Preference::Closed))
            .collect();
        assert!(ease.windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn one_stretch_in_twenty_notes_is_closed() {
        // In V every C5 is under a finger and every B4 is a stretch; in I the E5 is open.
        let is_closed = |names: &[(&str, usize)], numeral: &str| {
            let names: Vec<&str> = names
                .iter()
                .flat_map(|(name, count)| vec![*name; *count])
                .collect();
            let map = guitar_map(&names.join(" "));
            map.at(position(numeral), Octave::WRITTEN)
                .unwrap()
                .is_closed()
        };
        assert!(is_closed(&[("C5", 40)], "V"));
        assert!(is_closed(&[("C5", 38), ("B4", 2)], "V"));
        assert!(!is_closed(&[("C5", 37), ("B4", 3)], "V"));
        assert!(!is_closed(&[("C5", 39), ("E5", 1)], "I"));
    }

    #[test]
    fn the_first_position_on_open_strings_is_named_beside_another() {
        let map = guitar_map("E4 F4 G4 A4 B4 C5 D5 E5");
        let beside = map.on_open_strings_beside(map.best().unwrap()).unwrap();
        assert_eq!(
            (beside.position, beside.octave),
            (Position::FIRST, Octave::WRITTEN)
        );
        assert_eq!(map.on_open_strings_beside(beside), None);
        let without = NeckMap::new(
            &melody("E4 G4"),
            &Instrument::default(),
            OpenStrings::Nowhere,
        );
        assert!(without.placements().iter().all(|it| it.open_strings() == 0));
        assert_eq!(
            without.on_open_strings_beside(without.best().unwrap()),
            None
        );
    }

    #[test]
    fn the_best_placement_is_whole_then_written_then_easy() {
        let map = guitar_map("Bb3 C4 D4 Eb4 F4 G4 A4 Bb4");
        let best = map.best_where(|_| true).unwrap();
        assert!(best.is_whole());
        assert_eq!((best.octave, best.stretches()), (Octave::WRITTEN, 0));
        assert_eq!(
            map.best_where(|it| (5..=7).contains(&it.position.get()))
                .unwrap()
                .position,
            position("V")
        );
    }
}
