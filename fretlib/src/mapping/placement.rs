//! A melody in one position, as far as it fits.

use std::fmt;
use std::str::FromStr;
use std::sync::{Arc, OnceLock};

use crate::error::ParseError;
use crate::melody::Melody;
use crate::neck::{Finger, Fret, Instrument, Place, Position, Reach};
use crate::theory::{MidiNumber, Octave};

/// Where open strings may be played.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum OpenStrings {
    /// In position I only, as players count them.
    #[default]
    FirstPosition,
    /// In every position, for notes that it cannot stop.
    Anywhere,
    /// Nowhere: every note is stopped.
    Nowhere,
}

impl OpenStrings {
    /// Every choice.
    pub const ALL: [OpenStrings; 3] = [
        OpenStrings::FirstPosition,
        OpenStrings::Anywhere,
        OpenStrings::Nowhere,
    ];

    /// The words for it in settings and files.
    pub const fn name(self) -> &'static str {
        match self {
            OpenStrings::FirstPosition => "first position",
            OpenStrings::Anywhere => "anywhere",
            OpenStrings::Nowhere => "nowhere",
        }
    }

    /// True when an open string may be played while the hand stands there.
    pub fn allow(self, position: Position) -> bool {
        match self {
            OpenStrings::FirstPosition => position == Position::FIRST,
            OpenStrings::Anywhere => true,
            OpenStrings::Nowhere => false,
        }
    }
}

impl fmt::Display for OpenStrings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for OpenStrings {
    type Err = ParseError;

    /// Reads `first position`, `anywhere` or `nowhere`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let expected = "where open strings are played: first position, anywhere or nowhere";
        (OpenStrings::ALL.into_iter())
            .find(|it| it.name() == text)
            .ok_or_else(|| ParseError::unreadable(text, expected))
    }
}

/// Which of two placements with equally many notes at the same octave comes first.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Preference {
    /// The closed one, because it can be moved along the neck.
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
    /// The finger; `None` on an open string.
    pub finger: Option<Finger>,
    /// Whether the hand stretches for it.
    pub reach: Reach,
}

/// A melody in one position at one octave, as far as it fits.
///
/// The counts are computed at once, from the pitches alone; the places are computed when first asked for.
#[derive(Clone, Debug)]
pub struct Placement {
    /// Where the hand stands.
    pub position: Position,
    /// Octaves from the written pitch.
    pub octave: Octave,
    stretches: usize,
    missing: usize,
    /// `None` when it depends on which of several places a note takes.
    open_strings: Option<usize>,
    frame: Arc<Frame>,
    line: Arc<PitchLine>,
    laid_out: OnceLock<LaidOut>,
}

#[derive(Clone, Debug)]
struct LaidOut {
    places: Vec<PlacedNote>,
    missing: Vec<usize>,
}

impl Placement {
    pub(super) fn new(frame: Arc<Frame>, line: Arc<PitchLine>, octave: Octave) -> Placement {
        let (mut stretches, mut missing, mut open, mut undecided) = (0, 0, 0, false);
        for (midi, count) in &line.tally {
            let choices = frame.choices(*midi, octave);
            // All choices have the same reach, except that position I offers open strings beside stopped notes.
            let is_open = |it: &Choice| it.1 == Reach::Open;
            undecided |= choices.iter().any(is_open) && !choices.iter().all(is_open);
            match choices.first() {
                None => missing += count,
                Some((_, Reach::Stretch, _)) => stretches += count,
                Some((_, Reach::Open, _)) => open += count,
                Some(_) => {}
            }
        }
        Placement {
            position: frame.position,
            octave,
            stretches,
            missing,
            open_strings: (!undecided).then_some(open),
            frame,
            line,
            laid_out: OnceLock::new(),
        }
    }

    /// The notes within reach, in order.
    pub fn places(&self) -> &[PlacedNote] {
        &self.laid_out().places
    }

    /// Indices of the notes out of reach, from 0.
    pub fn missing(&self) -> &[usize] {
        &self.laid_out().missing
    }

    fn laid_out(&self) -> &LaidOut {
        self.laid_out
            .get_or_init(|| self.frame.lay_out(&self.line.notes, self.octave))
    }

    /// True when every note is in position or a stretch.
    pub fn is_whole(&self) -> bool {
        self.missing == 0
    }

    /// How many notes need a stretch.
    pub fn stretches(&self) -> usize {
        self.stretches
    }

    /// How many notes are out of reach.
    pub fn missing_count(&self) -> usize {
        self.missing
    }

    /// How many notes are played on an open string.
    pub fn open_strings(&self) -> usize {
        let count = || {
            self.places()
                .iter()
                .filter(|it| it.reach == Reach::Open)
                .count()
        };
        self.open_strings.unwrap_or_else(count)
    }

    /// Whether every note here is stopped, and at most one note in twenty is a stretch.
    ///
    /// Chosen by ear: anyone plays a ballad of eighty notes with one stretch in position, but not one with ten.
    pub fn is_closed(&self) -> bool {
        const MOST_STRETCHES: usize = 20;
        self.stretches * MOST_STRETCHES <= self.line.notes.len() && self.open_strings() == 0
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
            missing: self.missing,
            octaves_away: self.octave.distance(),
            is_second_choice: !is_preferred,
            stretches: self.stretches(),
            position: self.position,
            octave: self.octave,
        }
    }
}

/// What [`Placement::ease`] compares, most important first.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub struct Ease {
    missing: usize,
    octaves_away: u8,
    is_second_choice: bool,
    stretches: usize,
    position: Position,
    octave: Octave,
}

impl PartialEq for Placement {
    fn eq(&self, other: &Placement) -> bool {
        (self.position, self.octave) == (other.position, other.octave)
            && self.places() == other.places()
            && self.missing() == other.missing()
    }
}

impl Eq for Placement {}

/// The written pitches of a melody, counted for the frames.
#[derive(Debug)]
pub(super) struct PitchLine {
    notes: Vec<MidiNumber>,
    /// Each pitch once, with its number of notes.
    tally: Vec<(MidiNumber, usize)>,
}

impl PitchLine {
    pub(super) fn of(melody: &Melody) -> PitchLine {
        let notes: Vec<MidiNumber> = melody.notes().iter().map(|it| it.pitch.midi()).collect();
        let mut counts = [0; 128];
        for midi in &notes {
            counts[usize::from(midi.get())] += 1;
        }
        let tally = MidiNumber::all()
            .zip(counts)
            .filter(|(_, count)| *count > 0);
        PitchLine {
            tally: tally.collect(),
            notes,
        }
    }
}

/// A place, how it is reached and with which finger.
type Choice = (Place, Reach, Option<Finger>);

/// What a hand reaches in one position: for each MIDI number, the places of the easiest reach.
#[derive(Debug)]
pub(super) struct Frame {
    position: Position,
    // Ordered by MIDI number, then string; all places of one number have the same reach.
    choices: Vec<Choice>,
    // Where the choices of each MIDI number begin, and where the last ones end.
    starts: [u8; 129],
}

impl Frame {
    /// The frame of a hand on an instrument.
    pub(super) fn new(
        position: Position,
        instrument: &Instrument,
        open_strings: OpenStrings,
    ) -> Frame {
        // In position I an open string is as good as a stopped one; elsewhere it comes before a stretch.
        let rank = |reach: Reach| match reach {
            Reach::InPosition => 0,
            Reach::Open if position == Position::FIRST => 0,
            Reach::Open => 1,
            Reach::Stretch => 2,
        };
        let reached = |fret: Fret| match open_strings {
            _ if fret != Fret::OPEN => position.reach(fret),
            OpenStrings::FirstPosition => position.reach(fret),
            OpenStrings::Anywhere => Some((Reach::Open, None)),
            OpenStrings::Nowhere => None,
        };
        let frets = (0..=instrument.highest_fret().get()).filter_map(|fret| Fret::new(fret).ok());
        let frets: Vec<(Fret, Reach, Option<Finger>)> = frets
            .filter_map(|fret| reached(fret).map(|(reach, finger)| (fret, reach, finger)))
            .collect();
        let mut found: Vec<(MidiNumber, Choice)> = Vec::new();
        for string in instrument.string_numbers() {
            found.extend(frets.iter().filter_map(|(fret, reach, finger)| {
                let place = Place {
                    string,
                    fret: *fret,
                };
                Some((instrument.midi_at(place)?, (place, *reach, *finger)))
            }));
        }
        found.sort_by_key(|(midi, _)| midi.get());
        let mut choices = Vec::with_capacity(found.len());
        let mut starts = [0; 129];
        for group in found.chunk_by(|a, b| a.0 == b.0) {
            let easiest = group.iter().map(|(_, (_, reach, _))| rank(*reach)).min();
            let same = group.iter().map(|(_, choice)| *choice);
            choices.extend(same.filter(|(_, reach, _)| Some(rank(*reach)) == easiest));
            // At most 12 strings of at most 7 frets each: 84 choices.
            starts[usize::from(group[0].0.get()) + 1..].fill(choices.len() as u8);
        }
        Frame {
            position,
            choices,
            starts,
        }
    }

    /// The ways to play a pitch here, moved by an octave; empty when there are none.
    fn choices(&self, midi: MidiNumber, octave: Octave) -> &[Choice] {
        let Ok(moved) = midi.transpose(octave.semitones()) else {
            return &[];
        };
        let at = usize::from(moved.get());
        &self.choices[usize::from(self.starts[at])..usize::from(self.starts[at + 1])]
    }

    /// Notes at an octave, as far as they lie in the frame.
    fn lay_out(&self, notes: &[MidiNumber], octave: Octave) -> LaidOut {
        let mut places = Vec::with_capacity(notes.len());
        let mut missing = Vec::new();
        let mut is_ambiguous = false;
        for (note, midi) in notes.iter().enumerate() {
            let choices = self.choices(*midi, octave);
            is_ambiguous |= choices.len() > 1;
            match choices.first() {
                None => missing.push(note),
                Some(first) => places.push(placed(note, first)),
            }
        }
        if is_ambiguous {
            self.ease(notes, octave, &mut places);
        }
        LaidOut { places, missing }
    }

    /// Chooses among several places of the same reach: the path with the least awkward moves, exactly, by dynamic
    /// programming along the notes.
    fn ease(&self, notes: &[MidiNumber], octave: Octave, places: &mut [PlacedNote]) {
        let choices: Vec<&[Choice]> = places
            .iter()
            .map(|it| self.choices(notes[it.note], octave))
            .collect();
        let mut costs: Vec<u32> = vec![0; choices[0].len()];
        let mut next = Vec::new();
        // For each choice of each note but the first, the choice before it.
        let mut from: Vec<usize> = Vec::new();
        for pair in choices.windows(2) {
            let (before, after) = (pair[0], pair[1]);
            next.clear();
            for to in after {
                let totals = before.iter().zip(&costs);
                let totals = totals.map(|(choice, cost)| cost + awkwardness(choice, to));
                // Ties go to the higher string, which comes first.
                let best = (0..).zip(totals).min_by_key(|(_, total)| *total);
                let (best, total) = best.unwrap_or_default();
                next.push(total);
                from.push(best);
            }
            std::mem::swap(&mut costs, &mut next);
        }
        let mut chosen = (0..costs.len())
            .min_by_key(|index| costs[*index])
            .unwrap_or(0);
        let mut left = from.len();
        for index in (0..places.len()).rev() {
            places[index] = placed(places[index].note, &choices[index][chosen]);
            if index > 0 {
                left -= choices[index].len();
                chosen = from[left + chosen];
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

/// Cost of a move inside a position: 1 for each string crossed, 4 for one finger jumping to another fret, 1 for the
/// fourth finger where there is an open string. Chosen by ear; only the order matters, and only among places of equal
/// reach.
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
    use crate::theory::{Key, Pitch};

    // Common practice, no source: the boxes of a major scale in standard tuning with their forced stretches. Positions
    // are counted from the tonic's fret on string 6, clear of the nut.
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
                .filter(|midi| {
                    frame.choices(MidiNumber::new(*midi).unwrap(), Octave::WRITTEN)[0].1
                        == Reach::Stretch
                })
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
                let sounds = placement.places().iter().all(|it| {
                    let written = tune.notes()[it.note].pitch.midi();
                    instrument.midi_at(it.place) == written.transpose(placement.octave.semitones()).ok()
                });
                let mut numbers: Vec<usize> = placement.places().iter().map(|it| it.note).collect();
                numbers.extend(placement.missing());
                numbers.sort_unstable();
                let count = |reach| placement.places().iter().filter(|it| it.reach == reach).count();
                let counted = placement.stretches() == count(Reach::Stretch)
                    && placement.open_strings() == count(Reach::Open)
                    && placement.missing_count() == placement.missing().len();
                sounds && counted && numbers.into_iter().eq(0..tune.notes().len())
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
                let found = frame.choices(midi, Octave::WRITTEN).first().map(|it| it.1 == Reach::Stretch);
                found == expected
            })
        }

        fn easing_is_as_good_as_trying_everything(steps: Vec<u8>) -> bool {
            let Some(tune) = arbitrary_tune(&steps[..steps.len().min(6)]) else { return true };
            // Unison strings and a re-entrant one: many places for one pitch.
            let mut build = Instrument::default().build().clone();
            build.strings = ["D4", "B3", "D4", "D4", "G3"].map(|name| name.parse().unwrap()).to_vec();
            let instrument = Instrument::new(build).unwrap();
            let frame = Frame::new(Position::new(3).unwrap(), &instrument, OpenStrings::default());
            let placement = Placement::new(Arc::new(frame), Arc::new(PitchLine::of(&tune)), Octave::WRITTEN);
            let choices: Vec<_> = placement
                .places()
                .iter()
                .map(|it| placement.frame.choices(tune.notes()[it.note].pitch.midi(), Octave::WRITTEN).to_vec())
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
            let chosen: Vec<_> = placement.places().iter().map(|it| (it.place, it.reach, it.finger)).collect();
            cost(&chosen) == best
        }
    }
}
