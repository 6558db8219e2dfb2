//! A melody held in one position, as far as it can be.

use crate::melody::Melody;
use crate::neck::{Finger, Fret, Instrument, Place, Position, Reach};
use crate::theory::{MidiNumber, Octave, Pitch};

/// Where open strings may be played.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum OpenStrings {
    /// In position I only, as the trade counts them.
    #[default]
    FirstPosition,
    /// In every position, where the hand has no stopped note for it.
    Anywhere,
    /// Nowhere: every note is stopped.
    Nowhere,
}

/// Which of two placements with as many notes at the same octave is easier to own: our choice, or the player's.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Preference {
    /// The closed one: what is learned there can be moved along the neck.
    #[default]
    Closed,
    /// The one on open strings.
    OpenStrings,
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
    pub octave: Octave,
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
        self.count(Reach::Stretch)
    }

    /// How many notes are played on an open string.
    pub fn open_strings(&self) -> usize {
        self.count(Reach::Open)
    }

    fn count(&self, reach: Reach) -> usize {
        self.places.iter().filter(|it| it.reach == reach).count()
    }

    /// Whether every note that lies here is stopped, and at most one note in twenty is a stretch.
    ///
    /// Chosen by ear: a ballad of eighty notes with one stretch is played in position by anyone; with ten it is not.
    pub fn is_closed(&self) -> bool {
        const MOST_STRETCHES: usize = 20;
        let notes = self.places.len() + self.missing.len();
        self.open_strings() == 0 && self.stretches() * MOST_STRETCHES <= notes
    }

    /// How easy it is to play a melody here: of two placements the lesser is the better one.
    ///
    /// First comes the one with fewer missing notes, then the one nearer the written octave, then the closed one (or, if the
    /// player prefers that, the one on open strings), then the one with fewer stretches, then the lower one on the neck.
    /// Everything that chooses a placement asks this.
    pub fn ease(&self, preference: Preference) -> Ease {
        let is_preferred = match preference {
            Preference::Closed => self.is_closed(),
            Preference::OpenStrings => self.open_strings() > 0,
        };
        Ease {
            missing: self.missing.len(),
            octaves_away: self.octave.distance(),
            is_second_choice: !is_preferred,
            stretches: self.stretches(),
            position: self.position,
            octave: self.octave,
        }
    }
}

/// What [`Placement::ease`] compares, the first first.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub struct Ease {
    missing: usize,
    octaves_away: u8,
    is_second_choice: bool,
    stretches: usize,
    position: Position,
    octave: Octave,
}

/// A place, how it is reached and with which finger.
type Choice = (Place, Reach, Option<Finger>);

/// What a hand in one position has under it: for each MIDI number, the places of the easiest reach.
pub(super) struct Frame {
    position: Position,
    // Indexed by MIDI number; all places of one number have the same reach.
    choices: Vec<Vec<Choice>>,
}

impl Frame {
    /// The frame of a hand on an instrument.
    pub(super) fn new(
        position: Position,
        instrument: &Instrument,
        open_strings: OpenStrings,
    ) -> Frame {
        let mut choices = vec![Vec::new(); 128];
        // In position I an open string is as good as a stopped one; elsewhere it serves before a stretch.
        let rank = |reach: Reach| match reach {
            Reach::InPosition => 0,
            Reach::Open if position == Position::FIRST => 0,
            Reach::Open => 1,
            Reach::Stretch => 2,
        };
        for (midi, choices) in MidiNumber::all().zip(&mut choices) {
            let reached = |place: Place| {
                let (reach, finger) = match open_strings {
                    _ if place.fret != Fret::OPEN => position.reach(place.fret)?,
                    OpenStrings::FirstPosition => position.reach(place.fret)?,
                    OpenStrings::Anywhere => (Reach::Open, None),
                    OpenStrings::Nowhere => return None,
                };
                Some((place, reach, finger))
            };
            choices.extend(instrument.places_for(midi).filter_map(reached));
            let easiest = choices.iter().map(|(_, reach, _)| rank(*reach)).min();
            choices.retain(|(_, reach, _)| Some(rank(*reach)) == easiest);
        }
        Frame { position, choices }
    }

    /// How a pitch moved by an octave can be played here; empty where it cannot.
    fn choices(&self, pitch: Pitch, octave: Octave) -> &[Choice] {
        let moved = pitch.midi().transpose(octave.semitones()).ok();
        let choices = moved.and_then(|midi| self.choices.get(usize::from(midi.get())));
        choices.map_or(&[], Vec::as_slice)
    }

    /// A melody at an octave, as far as it lies in the frame.
    pub(super) fn place(&self, melody: &Melody, octave: Octave) -> Placement {
        let mut places = Vec::with_capacity(melody.notes().len());
        let mut missing = Vec::new();
        let mut ambiguous = false;
        for (note, it) in melody.notes().iter().enumerate() {
            let choices = self.choices(it.pitch, octave);
            ambiguous |= choices.len() > 1;
            match choices.first() {
                None => missing.push(note),
                Some(first) => places.push(placed(note, first)),
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
    fn ease(&self, melody: &Melody, octave: Octave, places: &mut [PlacedNote]) {
        let choices: Vec<&[Choice]> = places
            .iter()
            .map(|it| self.choices(melody.notes()[it.note].pitch, octave))
            .collect();
        let mut costs: Vec<u32> = vec![0; choices[0].len()];
        let mut from: Vec<Vec<usize>> = Vec::with_capacity(choices.len());
        for pair in choices.windows(2) {
            let (before, after) = (pair[0], pair[1]);
            let step = |to: &Choice| {
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

fn placed(note: usize, (place, reach, finger): &Choice) -> PlacedNote {
    PlacedNote {
        note,
        place: *place,
        finger: *finger,
        reach: *reach,
    }
}

/// What a move inside a position costs: a string crossed costs 1, one finger jumping to another fret 4, a fourth finger
/// where an open string would do 1. Chosen by ear; only the order matters, and only among places of equal reach.
fn awkwardness((from, _, from_finger): &Choice, (to, _, to_finger): &Choice) -> u32 {
    let strings = u32::from(from.string.get().abs_diff(to.string.get()));
    let jumps = from_finger.is_some() && from_finger == to_finger && from.fret != to.fret;
    let weak = *to_finger == Some(Finger::Fourth);
    strings + 4 * u32::from(jumps) + u32::from(weak)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mapping::NeckMap;
    use crate::melody::{Draft, Quarters};
    use crate::neck::StringNumber;
    use crate::theory::Key;

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
            let open = |string| {
                guitar
                    .open_midi(StringNumber::new(string).unwrap())
                    .unwrap()
            };
            let low = open(6).get() + number;
            let high = open(1).get() + number + 3;
            let stretched = (low..=high)
                .filter(|midi| scale.iter().any(|note| note.chroma() == midi % 12))
                .filter(|midi| frame.choices[usize::from(*midi)][0].1 == Reach::Stretch)
                .count();
            assert_eq!(stretched, expected, "offset {offset} from {tonic}");
        }
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
                    let written = tune.notes()[it.note].pitch.midi();
                    instrument.midi_at(it.place) == written.transpose(placement.octave.semitones()).ok()
                });
                let mut numbers: Vec<usize> = placement.places.iter().map(|it| it.note).collect();
                numbers.extend(&placement.missing);
                numbers.sort_unstable();
                sounds && numbers.into_iter().eq(0..tune.notes().len())
            })
        }

        fn the_definition_holds_by_exhaustive_look(midi: u8, which: u8) -> bool {
            // In position if some string gives it at P..P+3 (or open in I), else a stretch, else missing.
            let midi = MidiNumber::new(midi % 128).unwrap();
            let all = Instrument::all_built_in();
            let instrument = &all[usize::from(which) % all.len()];
            instrument.positions().all(|position| {
                let frame = Frame::new(position, instrument, OpenStrings::default());
                let number = position.get();
                let frets: Vec<u8> = instrument
                    .string_numbers()
                    .filter_map(|string| instrument.fret_for(string, midi))
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
                let found = frame.choices[usize::from(midi.get())].first().map(|it| it.1 == Reach::Stretch);
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
            let placement = frame.place(&tune, Octave::WRITTEN);
            let choices: Vec<_> = placement
                .places
                .iter()
                .map(|it| frame.choices[usize::from(tune.notes()[it.note].pitch.midi().get())].clone())
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
