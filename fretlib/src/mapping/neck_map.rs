//! Where a melody lies, position by position and octave by octave.

use crate::melody::Melody;
use crate::neck::{Finger, Instrument, Place, Position, Reach};

/// Where open strings may be played.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum OpenStrings {
    /// In position I only, as the trade counts them.
    #[default]
    FirstPosition,
    /// In every position, where the hand has no stopped note for it.
    Anywhere,
}

/// One note of a melody at a place on the neck.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct PlacedNote {
    /// The index of the note in the melody, from 0.
    pub note: usize,
    /// Where it is played.
    pub place: Place,
    /// With which finger; none on an open string.
    pub finger: Option<Finger>,
    /// Whether the hand stretches for it.
    pub reach: Reach,
}

/// A melody held in one position at one octave, as far as it can be.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Placement {
    /// Where the hand stands.
    pub position: Position,
    /// Octaves from the written pitch.
    pub octave: i8,
    /// The notes that can be had, in order.
    pub places: Vec<PlacedNote>,
    /// Indices of the notes that cannot, from 0.
    pub missing: Vec<usize>,
}

impl Placement {
    /// True when every note is in position or a stretch.
    pub fn is_whole(&self) -> bool {
        self.missing.is_empty()
    }

    /// How many notes need a stretch.
    pub fn stretches(&self) -> usize {
        let stretches = |placed: &&PlacedNote| placed.reach == Reach::Stretch;
        self.places.iter().filter(stretches).count()
    }
}

/// The placements of a melody in every position and octave, by position and then by octave.
///
/// ```
/// use fretlib::mapping::{NeckMap, OpenStrings};
/// use fretlib::melody::{Draft, Melody, Quarters};
/// use fretlib::neck::Instrument;
///
/// let mut draft = Draft::default();
/// for name in ["Bb3", "C4", "D4", "Eb4", "F4", "G4", "A4", "Bb4"] {
///     draft.note(name.parse()?, Quarters::from(1))?;
/// }
/// let map = NeckMap::new(&Melody::new(draft)?, &Instrument::default(), OpenStrings::default());
/// let fifth = map.at("V".parse()?, 0).unwrap();
/// assert!(fifth.is_whole()); // B flat major lies under the hand in fifth position
/// assert_eq!(fifth.stretches(), 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NeckMap {
    placements: Vec<Placement>,
}

impl NeckMap {
    /// Maps a melody over every position of an instrument and every octave at which all its notes are on the neck.
    pub fn new(melody: &Melody, instrument: &Instrument, open_strings: OpenStrings) -> NeckMap {
        let octaves: Vec<i8> = octaves_on(melody, instrument).collect();
        let mut placements = Vec::new();
        for position in instrument.positions() {
            let frame = Frame::new(position, instrument, open_strings);
            for &octave in &octaves {
                placements.push(frame.place(melody, octave));
            }
        }
        NeckMap { placements }
    }

    /// All placements, by position and then by octave.
    pub fn placements(&self) -> &[Placement] {
        &self.placements
    }

    /// The placement in one position at one octave.
    pub fn at(&self, position: Position, octave: i8) -> Option<&Placement> {
        let is_it = |it: &&Placement| it.position == position && it.octave == octave;
        self.placements.iter().find(is_it)
    }

    /// The octaves at which the whole melody is on the neck, in rising order.
    pub fn octaves(&self) -> Vec<i8> {
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

    /// The best of the placements that pass a test: fewest missing notes, then nearest the written octave, then fewest
    /// stretches, then lowest on the neck.
    pub fn best_where(&self, test: impl Fn(&Placement) -> bool) -> Option<&Placement> {
        self.placements
            .iter()
            .filter(|it| test(it))
            .min_by_key(|it| {
                let octave = it.octave.unsigned_abs();
                (it.missing.len(), octave, it.stretches(), it.position)
            })
    }
}

/// The octaves, in rising order, at which every note of a melody lies between the lowest open string and the highest
/// fret of an instrument.
pub fn octaves_on(melody: &Melody, instrument: &Instrument) -> impl Iterator<Item = i8> + use<> {
    let (lowest, highest) = instrument.midi_range();
    let (low, high) = melody.range();
    (-10..=10).filter(move |octave| {
        let shift = 12 * i16::from(*octave);
        i16::from(low.midi()) + shift >= i16::from(lowest)
            && i16::from(high.midi()) + shift <= i16::from(highest)
    })
}

/// What a hand in one position has under it: for each MIDI number, the places of the easiest reach.
struct Frame {
    position: Position,
    // Indexed by MIDI number; all places of one number have the same reach.
    choices: Vec<Vec<(Place, Reach, Option<Finger>)>>,
}

impl Frame {
    fn new(position: Position, instrument: &Instrument, open_strings: OpenStrings) -> Frame {
        let mut choices = vec![Vec::new(); 128];
        // In position I an open string is as good as a stopped one; elsewhere it serves before a stretch.
        let rank = |reach: Reach| match reach {
            Reach::InPosition => 0,
            Reach::Open if position == Position::FIRST => 0,
            Reach::Open => 1,
            Reach::Stretch => 2,
        };
        for (midi, choices) in choices.iter_mut().enumerate() {
            let reached = |place: Place| {
                let open = (Reach::Open, None);
                let asked_for = open_strings == OpenStrings::Anywhere && place.fret.get() == 0;
                let reach = position.reach(place.fret).or(asked_for.then_some(open))?;
                Some((place, reach.0, reach.1))
            };
            choices.extend(instrument.places_for(midi as u8).filter_map(reached));
            let easiest = choices.iter().map(|(_, reach, _)| rank(*reach)).min();
            choices.retain(|(_, reach, _)| Some(rank(*reach)) == easiest);
        }
        Frame { position, choices }
    }

    fn place(&self, melody: &Melody, octave: i8) -> Placement {
        let mut places = Vec::with_capacity(melody.notes().len());
        let mut missing = Vec::new();
        let mut ambiguous = false;
        for (note, it) in melody.notes().iter().enumerate() {
            let midi = i16::from(it.pitch.midi()) + 12 * i16::from(octave);
            let choices = usize::try_from(midi)
                .ok()
                .and_then(|midi| self.choices.get(midi));
            match choices.map(Vec::as_slice) {
                None | Some([]) => missing.push(note),
                Some(choices @ [first, ..]) => {
                    ambiguous |= choices.len() > 1;
                    places.push(placed(note, first));
                }
            }
        }
        if ambiguous {
            self.ease(melody, octave, &mut places);
        }
        Placement {
            position: self.position,
            octave,
            places,
            missing,
        }
    }

    /// Settles notes that have several places of the same reach: the way through with the least awkward moves, exactly,
    /// by dynamic programming along the notes.
    fn ease(&self, melody: &Melody, octave: i8, places: &mut [PlacedNote]) {
        let choices: Vec<&[(Place, Reach, Option<Finger>)]> = places
            .iter()
            .map(|it| {
                let midi = i16::from(melody.notes()[it.note].pitch.midi()) + 12 * i16::from(octave);
                self.choices[midi as usize].as_slice()
            })
            .collect();
        let mut costs: Vec<u32> = vec![0; choices[0].len()];
        let mut from: Vec<Vec<usize>> = Vec::with_capacity(choices.len());
        for pair in choices.windows(2) {
            let (before, after) = (pair[0], pair[1]);
            let step = |to: &(Place, Reach, Option<Finger>)| {
                let total = |index: usize| costs[index] + awkwardness(&before[index], to);
                // Ties go to the higher string, which comes first.
                let best = (0..before.len())
                    .min_by_key(|index| total(*index))
                    .unwrap_or(0);
                (total(best), best)
            };
            let (next, via): (Vec<u32>, Vec<usize>) = after.iter().map(step).unzip();
            costs = next;
            from.push(via);
        }
        let mut chosen = (0..costs.len())
            .min_by_key(|index| costs[*index])
            .unwrap_or(0);
        for index in (0..places.len()).rev() {
            places[index] = placed(places[index].note, &choices[index][chosen]);
            if index > 0 {
                chosen = from[index - 1][chosen];
            }
        }
    }
}

fn placed(note: usize, (place, reach, finger): &(Place, Reach, Option<Finger>)) -> PlacedNote {
    PlacedNote {
        note,
        place: *place,
        finger: *finger,
        reach: *reach,
    }
}

/// What a move inside a position costs: a string crossed costs 1, one finger jumping to another fret 4, a fourth finger
/// where an open string would do 1. Chosen by ear; only the order matters, and only among places of equal reach.
fn awkwardness(
    (from, _, from_finger): &(Place, Reach, Option<Finger>),
    (to, _, to_finger): &(Place, Reach, Option<Finger>),
) -> u32 {
    let strings = u32::from(from.string.get().abs_diff(to.string.get()));
    let jumps = from_finger.is_some() && from_finger == to_finger && from.fret != to.fret;
    let weak = *to_finger == Some(Finger::Fourth);
    strings + 4 * u32::from(jumps) + u32::from(weak)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Quarters};
    use crate::neck::{Fret, StringNumber};
    use crate::theory::{Key, Pitch};

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
        let placement = map.at(position(numeral), 0).unwrap();
        let mut found: Vec<String> = placement
            .places
            .iter()
            .map(|it| {
                let finger = it.finger.map_or(0, Finger::get);
                let stretch = if it.reach == Reach::Stretch { "~" } else { "" };
                format!("{}-{finger}{stretch}", it.place)
            })
            .collect();
        found.extend(placement.missing.iter().map(|note| format!("({note})")));
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

    // Common practice, no source: box and stretch table of a major scale, reference facts computed for standard tuning:
    // positions counted from the tonic's fret on string 6, forced stretches per pitch, clear of the nut.
    #[test]
    fn forced_stretches_of_a_major_scale_follow_the_position() {
        let table = [4, 2, 2, 4, 0, 4, 1, 3, 3, 1, 4, 0];
        let tonic: Pitch = "F3".parse().unwrap(); // fret 1 of string 6
        let scale = "F major".parse::<Key>().unwrap().scale();
        let guitar = Instrument::default();
        for (offset, expected) in table.into_iter().enumerate() {
            // Position counted from the tonic's fret, an octave up where it would touch the nut.
            let number = [1 + offset, 13 + offset]
                .into_iter()
                .find(|it| *it >= 2)
                .unwrap() as u8;
            let position = Position::new(number).unwrap();
            let frame = Frame::new(position, &guitar, OpenStrings::default());
            let low = guitar.open_midi(StringNumber::new(6).unwrap()).unwrap() + number;
            let high = guitar.open_midi(StringNumber::new(1).unwrap()).unwrap() + number + 3;
            let stretched = (low..=high)
                .filter(|midi| scale.iter().any(|note| note.chroma() == midi % 12))
                .filter(|midi| frame.choices[usize::from(*midi)][0].1 == Reach::Stretch)
                .count();
            assert_eq!(stretched, expected, "offset {offset} from {tonic}");
        }
    }

    #[test]
    fn octaves_are_those_that_keep_every_note_on_the_neck() {
        assert_eq!(guitar_map("E3 E4").octaves(), [0, 1, 2]);
        assert_eq!(guitar_map("E4 D7").octaves(), [-1, 0]);
        assert_eq!(guitar_map("C1 C2").octaves(), [3, 4, 5]); // off the neck as written
        assert!(guitar_map("C1 C9").placements().is_empty());
    }

    #[test]
    fn open_strings_serve_elsewhere_only_when_asked() {
        let tune = melody("E5 C5");
        let guitar = Instrument::default();
        let places = |open_strings| {
            let map = NeckMap::new(&tune, &guitar, open_strings);
            let placement = map.at(position("VIII"), 0).unwrap().clone();
            placement
                .places
                .iter()
                .map(|it| it.place.to_string())
                .collect::<Vec<_>>()
        };
        assert_eq!(places(OpenStrings::FirstPosition), ["3:9", "4:10"]);
        let tune = melody("B4 C5");
        let map = NeckMap::new(&tune, &guitar, OpenStrings::Anywhere);
        assert_eq!(
            map.at(position("XII"), 0).unwrap().places[0].reach,
            Reach::InPosition
        );
        assert_eq!(
            map.at(position("XIV"), 0).unwrap().places[0].reach,
            Reach::InPosition
        );
        assert_eq!(
            map.at(position("V"), 0).unwrap().places[0].reach,
            Reach::Open
        );
    }

    #[test]
    fn the_best_placement_is_whole_then_written_then_easy() {
        let map = guitar_map("Bb3 C4 D4 Eb4 F4 G4 A4 Bb4");
        let best = map.best_where(|_| true).unwrap();
        assert!(best.is_whole());
        assert_eq!((best.octave, best.stretches()), (0, 0));
        assert_eq!(
            map.best_where(|it| (5..=7).contains(&it.position.get()))
                .unwrap()
                .position,
            position("V")
        );
    }

    fn arbitrary_tune(steps: &[u8]) -> Option<Melody> {
        let mut draft = Draft::default();
        for step in steps.iter().take(9) {
            let pitch = Pitch::from_steps(20, 35).unwrap(); // B2
            let semitones = i16::from(step % 40);
            let up = crate::theory::Interval::new(semitones * 7 / 12, semitones).unwrap();
            draft
                .note(pitch.transpose(up).unwrap(), Quarters::from(1))
                .unwrap();
        }
        Melody::new(draft).ok()
    }

    quickcheck::quickcheck! {
        fn every_place_sounds_its_note_and_every_note_is_accounted_for(steps: Vec<u8>, which: u8, open: bool) -> bool {
            let Some(tune) = arbitrary_tune(&steps) else { return true };
            let all = Instrument::all_built_in();
            let instrument = &all[usize::from(which) % all.len()];
            let open_strings = if open { OpenStrings::Anywhere } else { OpenStrings::FirstPosition };
            let map = NeckMap::new(&tune, instrument, open_strings);
            map.placements().iter().all(|placement| {
                let sounds = placement.places.iter().all(|it| {
                    let midi = i16::from(tune.notes()[it.note].pitch.midi()) + 12 * i16::from(placement.octave);
                    instrument.midi_at(it.place).map(i16::from) == Some(midi)
                });
                let mut numbers: Vec<usize> = placement.places.iter().map(|it| it.note).collect();
                numbers.extend(&placement.missing);
                numbers.sort_unstable();
                sounds && numbers.into_iter().eq(0..tune.notes().len())
            })
        }

        fn the_definition_holds_by_exhaustive_look(midi: u8, which: u8) -> bool {
            // In position if some string gives it at P..P+3 (or open in I), else a stretch, else missing.
            let all = Instrument::all_built_in();
            let instrument = &all[usize::from(which) % all.len()];
            instrument.positions().all(|position| {
                let frame = Frame::new(position, instrument, OpenStrings::default());
                let number = position.get();
                let frets: Vec<u8> = instrument
                    .string_numbers()
                    .filter_map(|string| instrument.fret_for(string, midi % 128))
                    .map(Fret::get)
                    .collect();
                let in_box = |fret: &u8| (number..number + 4).contains(fret) || (number == 1 && *fret == 0);
                let near = |fret: &u8| *fret > 0 && (*fret + 1 == number || *fret == number + 4);
                let expected = if frets.iter().any(in_box) {
                    Some(false)
                } else if frets.iter().any(near) {
                    Some(true)
                } else {
                    None
                };
                let found = frame.choices[usize::from(midi % 128)].first().map(|it| it.1 == Reach::Stretch);
                found == expected
            })
        }

        fn easing_is_as_good_as_trying_everything(steps: Vec<u8>) -> bool {
            let Some(tune) = arbitrary_tune(&steps[..steps.len().min(6)]) else { return true };
            // Strings in unison and a re-entrant one: many places for one pitch.
            let mut build = Instrument::default().build().clone();
            build.strings = ["D4", "B3", "D4", "D4", "G3"].map(|name| name.parse().unwrap()).to_vec();
            let instrument = Instrument::new(build).unwrap();
            let frame = Frame::new(Position::new(3).unwrap(), &instrument, OpenStrings::default());
            let placement = frame.place(&tune, 0);
            let choices: Vec<_> = placement
                .places
                .iter()
                .map(|it| frame.choices[usize::from(tune.notes()[it.note].pitch.midi())].clone())
                .collect();
            let cost = |way: &[(Place, Reach, Option<Finger>)]| -> u32 {
                way.windows(2).map(|pair| awkwardness(&pair[0], &pair[1])).sum()
            };
            let mut ways = vec![Vec::new()];
            for note in &choices {
                let longer = |way: &Vec<_>| note.iter().map(|it| [way.as_slice(), &[*it]].concat()).collect::<Vec<_>>();
                ways = ways.iter().flat_map(longer).collect();
            }
            let best = ways.iter().map(|way| cost(way)).min().unwrap_or(0);
            let chosen: Vec<_> = placement.places.iter().map(|it| (it.place, it.reach, it.finger)).collect();
            cost(&chosen) == best
        }
    }
}
