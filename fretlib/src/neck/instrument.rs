//! A fretted instrument as data.

use super::place::{Fret, Place, StringNumber};
use super::position::Position;
use crate::error::{OutOfRange, is_error};
use crate::one_line::one_line;
use crate::theory::{Interval, MidiNumber, Pitch};
use std::fmt;

/// Why a specification is not an instrument.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum InstrumentError {
    /// A number outside its range.
    OutOfRange(OutOfRange),
    /// The capo leaves no fret to play.
    Capo {
        /// The capo's fret.
        capo: u8,
        /// How many frets there are.
        frets: u8,
    },
    /// A fret would sound above the range of MIDI.
    TooHigh {
        /// The string.
        string: u8,
        /// Its open pitch.
        open: Pitch,
        /// The fret.
        fret: u8,
    },
    /// The scale length is not playable.
    ScaleLength(f64),
}

impl fmt::Display for InstrumentError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            InstrumentError::OutOfRange(error) => error.fmt(f),
            InstrumentError::Capo { capo, frets } => {
                write!(f, "a capo at fret {capo} leaves no fret of {frets}")
            }
            InstrumentError::TooHigh { string, open, fret } => write!(
                f,
                "fret {fret} of string {string} ({open}) would be above MIDI note 127"
            ),
            InstrumentError::ScaleLength(length) => write!(
                f,
                "a scale length of {length} mm is not in the range 200 to 1200"
            ),
        }
    }
}

is_error!(InstrumentError, OutOfRange(OutOfRange));

/// The specification of an instrument; [`Instrument::new`] checks it.
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[derive(Clone, Debug, PartialEq)]
pub struct InstrumentSpec {
    /// The name, such as `guitar`.
    pub name: String,
    /// Written pitches of the open strings without a capo, string 1 first.
    pub strings: Vec<Pitch>,
    /// How many frets there are.
    pub frets: u8,
    /// The fret a capo is put on, 0 for none.
    pub capo: u8,
    /// The open length of the strings in millimetres.
    pub scale_length: f64,
    /// The interval from a written pitch to the sounding one: a guitar sounds an octave lower, `-P8`.
    pub sounding: Interval,
    /// The MIDI program that sounds like it, 0 to 127 as it is sent: General MIDI counts from 1, so its number 26, the
    /// steel-string guitar, is 25 here.
    ///
    /// Source: General MIDI Level 1 sound set.
    pub program: u8,
}

/// A fretted instrument: strings, frets, a capo, a scale length.
///
/// All pitches are written pitch. With a capo, frets are counted from it and open strings sound at it.
#[derive(Clone, Debug, PartialEq)]
pub struct Instrument {
    // Invariant: 1 to 12 strings; 1 to 36 frets; the capo below the last fret; every place has a MIDI number; the program
    // is at most 127.
    build: InstrumentSpec,
}

impl Instrument {
    /// Checks a specification. Control characters are removed from the name.
    ///
    /// # Errors
    ///
    /// When there are not 1 to 12 strings and 1 to 36 frets, the capo leaves no fret, a place would be above MIDI note 127,
    /// the scale length is not 200 to 1200 mm or the MIDI program is above 127.
    pub fn new(mut build: InstrumentSpec) -> Result<Instrument, InstrumentError> {
        let count = build.strings.len() as i64;
        crate::error::check_range("number of strings", count, 1, StringNumber::MOST.into())?;
        crate::error::check_range(
            "number of frets",
            build.frets.into(),
            1,
            Fret::HIGHEST.into(),
        )?;
        crate::error::check_range("MIDI program", build.program.into(), 0, 127)?;
        if build.capo >= build.frets {
            return Err(InstrumentError::Capo {
                capo: build.capo,
                frets: build.frets,
            });
        }
        if !(200.0..=1200.0).contains(&build.scale_length) {
            return Err(InstrumentError::ScaleLength(build.scale_length));
        }
        for (index, open) in build.strings.iter().enumerate() {
            if open.midi().transpose(build.frets.into()).is_err() {
                return Err(InstrumentError::TooHigh {
                    string: index as u8 + 1,
                    open: *open,
                    fret: build.frets,
                });
            }
        }
        build.name = one_line(&build.name);
        Ok(Instrument { build })
    }

    /// Its specification, to make another instrument from.
    pub fn build(&self) -> &InstrumentSpec {
        &self.build
    }

    /// The name.
    pub fn name(&self) -> &str {
        &self.build.name
    }

    /// Written pitches of the open strings without a capo, string 1 first.
    pub fn strings(&self) -> &[Pitch] {
        &self.build.strings
    }

    /// The numbers of the strings, 1 first.
    pub fn string_numbers(&self) -> impl DoubleEndedIterator<Item = StringNumber> + use<> {
        (1..=self.build.strings.len() as u8).filter_map(|number| StringNumber::new(number).ok())
    }

    /// How many frets the neck has, including those behind the capo.
    pub fn frets(&self) -> u8 {
        self.build.frets
    }

    /// The fret the capo is on, 0 for none.
    pub const fn capo(&self) -> u8 {
        self.build.capo
    }

    /// The highest fret that can be played, counted from the capo.
    pub fn highest_fret(&self) -> Fret {
        // Frets and capo were checked: the difference is 1 to 36.
        Fret::new(self.build.frets - self.build.capo).unwrap_or(Fret::OPEN)
    }

    /// The open length of the strings in millimetres, from nut to bridge.
    pub fn scale_length(&self) -> f64 {
        self.build.scale_length
    }

    /// The distance of a fret from the nut, in millimetres; frets are counted from the capo, beyond which they are nearer to
    /// each other.
    pub fn millimetres_at(&self, fret: Fret) -> f64 {
        let capo = 2f64.powf(-f64::from(self.capo()) / 12.0);
        self.scale_length() * (1.0 - capo) + fret.distance_from_nut(self.scale_length() * capo)
    }

    /// The interval from a written pitch to the sounding one.
    pub fn sounding(&self) -> Interval {
        self.build.sounding
    }

    /// The MIDI program that sounds like it, 0 to 127.
    pub fn program(&self) -> u8 {
        self.build.program
    }

    /// The positions a hand can take: every one with a fret for each of the four fingers, and
    /// always the first.
    pub fn positions(&self) -> impl DoubleEndedIterator<Item = Position> + use<> {
        let highest = self.highest_fret().get().saturating_sub(3).max(1);
        (1..=highest).filter_map(|number| Position::new(number).ok())
    }

    /// The written MIDI number of an open string, at the capo if there is one.
    ///
    /// `None` when there is no such string.
    pub fn open_midi(&self, string: StringNumber) -> Option<MidiNumber> {
        let open = self.build.strings.get(string.index())?;
        open.midi().transpose(self.build.capo.into()).ok()
    }

    /// The written MIDI number of a place; `None` when the place is not on this instrument.
    pub fn midi_at(&self, place: Place) -> Option<MidiNumber> {
        if place.fret > self.highest_fret() {
            return None;
        }
        let open = self.open_midi(place.string)?;
        open.transpose(place.fret.get().into()).ok()
    }

    /// Whether a string is wound: true when its open string without a capo is below G3, as the
    /// three lowest of a guitar are.
    ///
    /// Common practice, no source.
    pub fn is_wound(&self, string: StringNumber) -> bool {
        let open = self.strings().get(string.index());
        open.is_some_and(|open| {
            i16::from(open.midi().get()) + i16::from(self.sounding().semitones()) < LOWEST_PLAIN
        })
    }

    /// The fret at which a string gives a MIDI number (written pitch), if it does.
    pub fn fret_for(&self, string: StringNumber, midi: MidiNumber) -> Option<Fret> {
        let number = u8::try_from(midi - self.open_midi(string)?).ok()?;
        let fret = Fret::new(number).ok()?;
        (fret <= self.highest_fret()).then_some(fret)
    }

    /// Every place that gives a MIDI number (written pitch), string 1 first.
    pub fn places_for(&self, midi: MidiNumber) -> impl Iterator<Item = Place> + '_ {
        self.string_numbers().filter_map(move |string| {
            let fret = self.fret_for(string, midi)?;
            Some(Place { string, fret })
        })
    }

    /// The lowest and the highest MIDI number (written pitch) on the neck.
    pub fn midi_range(&self) -> (MidiNumber, MidiNumber) {
        let open = |it: &Pitch| it.midi();
        let lowest = self.strings().iter().map(open).min();
        let highest = self.strings().iter().map(open).max();
        // There is at least one string, and its last fret was checked.
        let up = |open: Option<MidiNumber>, frets: u8| {
            let open = open.unwrap_or(MidiNumber::LOWEST);
            open.transpose(frets.into()).unwrap_or(MidiNumber::HIGHEST)
        };
        (up(lowest, self.capo()), up(highest, self.frets()))
    }
}

/// G3 as a MIDI number.
const LOWEST_PLAIN: i16 = 55;

#[cfg(test)]
mod tests {
    use super::*;

    fn build(strings: &str, frets: u8, capo: u8) -> InstrumentSpec {
        InstrumentSpec {
            name: "guitar".into(),
            strings: strings
                .split(' ')
                .map(|name| name.parse().unwrap())
                .collect(),
            frets,
            capo,
            scale_length: 648.0,
            sounding: "-P8".parse().unwrap(),
            program: 25,
        }
    }

    fn guitar(capo: u8) -> Instrument {
        Instrument::new(build("E5 B4 G4 D4 A3 E3", 22, capo)).unwrap()
    }

    fn check(instrument: &Instrument, name: &str, places: &str) {
        let midi = name.parse::<Pitch>().unwrap().midi();
        let found: Vec<String> = instrument
            .places_for(midi)
            .map(|place| place.to_string())
            .collect();
        assert_eq!(found.join(" "), places, "{name}");
    }

    #[test]
    fn a_pitch_has_a_place_on_each_string_that_reaches_it() {
        let guitar = guitar(0);
        check(&guitar, "E5", "1:0 2:5 3:9 4:14 5:19");
        check(&guitar, "E3", "6:0");
        check(&guitar, "D3", "");
        check(&guitar, "D7", "1:22");
        check(&guitar, "Eb7", "");
    }

    #[test]
    fn a_capo_moves_the_nut() {
        let guitar = guitar(2);
        check(&guitar, "F#5", "1:0 2:5 3:9 4:14 5:19");
        check(&guitar, "E5", "2:3 3:7 4:12 5:17");
        assert_eq!(guitar.highest_fret().get(), 20);
        let (lowest, highest) = guitar.midi_range();
        assert_eq!((lowest.get(), highest.get()), (54, 98));
    }

    #[test]
    fn frets_beyond_a_capo_stay_where_they_are() {
        for capo in [1, 5, 12] {
            let (with, without) = (guitar(capo), guitar(0));
            for fret in 0..=10 {
                let here = with.millimetres_at(Fret::new(fret).unwrap());
                let there = without.millimetres_at(Fret::new(fret + capo).unwrap());
                assert!((here - there).abs() < 1e-9, "fret {fret}, capo {capo}");
            }
        }
    }

    // Common practice, no source: a guitar is tuned by the fifth fret, by the fourth between strings 3 and 2.
    #[test]
    fn the_fifth_fret_gives_the_next_open_string() {
        let guitar = guitar(0);
        for number in 2..=6 {
            let fret = if number == 3 { 4 } else { 5 };
            let place = Place {
                string: StringNumber::new(number).unwrap(),
                fret: Fret::new(fret).unwrap(),
            };
            let next = StringNumber::new(number - 1).unwrap();
            assert_eq!(guitar.midi_at(place), guitar.open_midi(next));
        }
    }

    #[test]
    fn impossible_instruments_are_refused() {
        let cases = [
            (
                build("E5", 0, 0),
                "number of frets 0 is not in the range 1 to 36",
            ),
            (
                build("E5", 37, 0),
                "number of frets 37 is not in the range 1 to 36",
            ),
            (build("E5", 5, 5), "a capo at fret 5 leaves no fret of 5"),
            (
                build("G8", 22, 0),
                "fret 22 of string 1 (G8) would be above MIDI note 127",
            ),
            (
                InstrumentSpec {
                    strings: Vec::new(),
                    ..build("E5", 22, 0)
                },
                "number of strings 0 is not in the range 1 to 12",
            ),
            (
                InstrumentSpec {
                    scale_length: f64::NAN,
                    ..build("E5", 22, 0)
                },
                "a scale length of NaN mm is not in the range 200 to 1200",
            ),
            (
                InstrumentSpec {
                    program: 128,
                    ..build("E5", 22, 0)
                },
                "MIDI program 128 is not in the range 0 to 127",
            ),
        ];
        for (build, message) in cases {
            assert_eq!(Instrument::new(build).unwrap_err().to_string(), message);
        }
    }

    #[test]
    fn there_is_a_position_for_every_fret_that_leaves_room_for_four_fingers() {
        assert_eq!(guitar(0).positions().count(), 19);
        let short = Instrument::new(build("E5", 2, 0)).unwrap();
        assert_eq!(short.positions().collect::<Vec<_>>(), [Position::FIRST]);
    }

    quickcheck::quickcheck! {
        fn every_place_sounds_its_pitch(midi: u8, capo: u8) -> bool {
            let guitar = guitar(capo % 22);
            let Ok(midi) = MidiNumber::new(midi) else { return true };
            let mut places = guitar.places_for(midi);
            places.all(|place| guitar.midi_at(place) == Some(midi))
        }
    }
}
