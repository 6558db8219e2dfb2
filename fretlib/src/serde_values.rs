//! Values of theory, melody and neck as serde writes and reads them: what has a notation is text, what is a number is one.
//!
//! Reading goes through the same constructors as everything else, so no invalid value comes out of a file.

use std::borrow::Cow;

use serde::de::{Deserialize, Deserializer, Error};
use serde::ser::{Serialize, Serializer};

use crate::melody::Meter;
use crate::neck::{Finger, Fret, Place, Position, StringNumber};
use crate::theory::{
    Chord, ChordDegree, Degree, Interval, Key, MidiNumber, Octave, Pitch, PitchClass, Scale,
};

macro_rules! as_text {
    ($($value:ty),* $(,)?) => {$(
        impl Serialize for $value {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $value {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = Cow::<str>::deserialize(deserializer)?;
                text.parse().map_err(D::Error::custom)
            }
        }
    )*};
}

macro_rules! as_number {
    ($($value:ty: $number:ty),* $(,)?) => {$(
        impl Serialize for $value {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                self.get().serialize(serializer)
            }
        }

        impl<'de> Deserialize<'de> for $value {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let number = <$number>::deserialize(deserializer)?;
                <$value>::new(number).map_err(D::Error::custom)
            }
        }
    )*};
}

as_text!(
    Chord,
    ChordDegree,
    Degree,
    Interval,
    Key,
    Meter,
    Pitch,
    PitchClass,
    Place,
    Scale
);
as_number!(
    Finger: u8,
    Fret: u8,
    MidiNumber: u8,
    Octave: i8,
    Position: u8,
    StringNumber: u8,
);

#[cfg(test)]
mod tests {
    use super::*;

    fn check<T: Serialize + for<'a> Deserialize<'a> + PartialEq + std::fmt::Debug>(
        value: T,
        json: &str,
    ) {
        assert_eq!(serde_json::to_string(&value).unwrap(), json);
        assert_eq!(serde_json::from_str::<T>(json).unwrap(), value);
    }

    #[test]
    fn values_are_written_as_players_write_them_and_read_back() {
        check("Bb4".parse::<Pitch>().unwrap(), "\"Bb4\"");
        check("Eb".parse::<PitchClass>().unwrap(), "\"Eb\"");
        check("-m3".parse::<Interval>().unwrap(), "\"-m3\"");
        check("F# minor".parse::<Key>().unwrap(), "\"F# minor\"");
        check("G altered".parse::<Scale>().unwrap(), "\"G altered\"");
        check("Dm7b5".parse::<Chord>().unwrap(), "\"Dm7b5\"");
        check("#11".parse::<ChordDegree>().unwrap(), "\"#11\"");
        check("6/8".parse::<Meter>().unwrap(), "\"6/8\"");
        check("3:7".parse::<Place>().unwrap(), "\"3:7\"");
        check("V".parse::<Position>().unwrap(), "5");
        check(Octave::new(-1).unwrap(), "-1");
        check(MidiNumber::HIGHEST, "127");
    }

    #[test]
    fn what_is_out_of_range_is_refused() {
        assert!(serde_json::from_str::<MidiNumber>("128").is_err());
        assert!(serde_json::from_str::<Position>("0").is_err());
        assert!(serde_json::from_str::<Pitch>("\"H4\"").is_err());
        assert!(serde_json::from_str::<Place>("\"0:7\"").is_err());
    }
}
