//! Values of theory, melody and neck as serde writes and reads them: what has a notation is text, what is a number is one.
//!
//! Reading goes through the same constructors as everything else, so no invalid value comes out of a file. A melody has
//! the fields of its [`Draft`]: bars of an excerpt are counted from 1 again. A [`Hand`] has the arguments of
//! [`Hand::measured`].

use std::borrow::Cow;
use std::convert::Infallible;

use serde::de::{Deserialize, Deserializer, Error};
use serde::ser::{Serialize, Serializer};

use crate::error::OutOfRange;
use crate::melody::{
    Draft, Endings, Feel, Form, FormSign, Melody, Meter, PartOrder, Quarters, Tempo, Timeline,
    Times,
};
use crate::neck::hand::HandMeasures;
use crate::neck::{Finger, Fret, Hand, Instrument, InstrumentSpec, Place, Position, StringNumber};
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
    Feel,
    Interval,
    Key,
    Meter,
    PartOrder,
    Pitch,
    PitchClass,
    Place,
    Quarters,
    Scale,
    Tempo,
);
as_number!(
    Finger: u8,
    Fret: u8,
    MidiNumber: u8,
    Octave: i8,
    Position: u8,
    StringNumber: u8,
    Times: u8,
);

/// Types that are written as another type, and read through a constructor from it.
macro_rules! as_other {
    ($($value:ty: $other:ty, $write:expr, $read:expr;)*) => {$(
        impl Serialize for $value {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                ($write)(self).serialize(serializer)
            }
        }

        impl<'de> Deserialize<'de> for $value {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let other = <$other>::deserialize(deserializer)?;
                ($read)(other).map_err(D::Error::custom)
            }
        }
    )*};
}

as_other!(
    Endings: Vec<u8>, endings_as_numbers, endings;
    Form: FormFields, form_fields, form;
    Hand: HandMeasures, |hand: &Hand| hand.measures(), hand;
    Instrument: InstrumentSpec, Instrument::build, Instrument::new;
    Melody: Draft, |it: &Melody| it.clone().into_draft(), melody;
);

fn hand((outer, neighbours): HandMeasures) -> Result<Hand, OutOfRange> {
    Hand::measured(outer, neighbours)
}

fn endings_as_numbers(endings: &Endings) -> Vec<u8> {
    endings.numbers().collect()
}

fn endings(numbers: Vec<u8>) -> Result<Endings, String> {
    let endings = Endings::new(numbers).map_err(|error| error.to_string())?;
    endings.ok_or_else(|| "an ending needs a number".to_string())
}

#[derive(Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
struct FormFields {
    signs: Vec<(Quarters, FormSign)>,
    part_order: Option<PartOrder>,
}

fn form_fields(form: &Form) -> FormFields {
    FormFields {
        signs: form.signs().to_vec(),
        part_order: form.part_order().cloned(),
    }
}

fn form(fields: FormFields) -> Result<Form, Infallible> {
    let mut form = Form::default();
    if let Some(order) = fields.part_order {
        form.set_part_order(order);
    }
    for (at, sign) in fields.signs {
        form.add(at, sign);
    }
    Ok(form)
}

fn melody(draft: Draft) -> Result<Melody, String> {
    let times = (draft.keys.iter().map(|it| it.0))
        .chain(draft.meters.iter().map(|it| it.0))
        .chain(draft.tempos.iter().map(|it| it.0))
        .chain(draft.chords.iter().map(|it| it.0))
        .chain(draft.sections.iter().map(|it| it.0))
        .chain(draft.form.signs().iter().map(|it| it.0))
        .chain(draft.notes.iter().flat_map(|it| [it.onset, it.duration]))
        .chain(draft.tuplets.iter().flat_map(|it| [it.start, it.end]))
        .chain(draft.phrase_starts.iter().copied())
        .chain(draft.line_breaks.iter().copied())
        .chain(draft.lyrics.iter().map(|it| it.onset))
        .chain(draft.bars.iter().copied())
        .chain([draft.now]);
    let is_in_range = |it: &Quarters| {
        !it.is_negative() && *it <= Quarters::from(Melody::LONGEST) && it.denom() <= Melody::FINEST
    };
    for time in times {
        if !is_in_range(&time) {
            return Err(format!("{time} is not a time of a melody"));
        }
    }
    Melody::new(draft).map_err(|error| error.to_string())
}

impl<T: Serialize> Serialize for Timeline<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.iter())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Timeline<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut timeline = Timeline::default();
        for (onset, value) in Vec::<(Quarters, T)>::deserialize(deserializer)? {
            timeline.set(onset, value);
        }
        Ok(timeline)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc;
    use crate::melody::Note;

    fn check<T: Serialize + for<'a> Deserialize<'a> + PartialEq + std::fmt::Debug>(
        value: T,
        json: &str,
    ) {
        assert_eq!(serde_json::to_string(&value).unwrap(), json);
        assert_eq!(serde_json::from_str::<T>(json).unwrap(), value);
    }

    #[test]
    fn values_are_written_in_their_notation_and_read_back() {
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

    const TUNE: &[u8] = b"X:1\nT:Ferry \"Bell\"\nC:Nobody\nM:3/4\nL:1/4\nQ:3/8=80\nK:Em\n\
        B|:\"Em\"EG(3A/B/c/|[P:B]\"B7\"^F2z|[1G3:|[2E3|\n!segno!B2c|[K:G][M:2/4]d2!D.S.!|]\n";

    #[test]
    fn a_melody_is_read_back_with_all_its_fields() {
        let melody = abc::read(TUNE, &abc::AbcOptions::default()).unwrap().melody;
        let json = serde_json::to_string(&melody).unwrap();
        let read: Melody = serde_json::from_str(&json).unwrap();
        assert_eq!(format!("{read:?}"), format!("{melody:?}"));
        let note = r#"{"pitch":"B4","onset":"0","duration":"1"}"#;
        assert!(json.contains(note), "{json}");
        assert!(json.contains(r#""keys":[["0","E minor"],["#), "{json}");
        assert_eq!(
            serde_json::from_str::<Note>(note).unwrap(),
            melody.notes()[0]
        );
    }

    #[test]
    fn instruments_and_hands_are_read_back() {
        let capo = InstrumentSpec {
            capo: 2,
            ..Instrument::default().build().clone()
        };
        for instrument in [Instrument::default(), Instrument::new(capo).unwrap()] {
            let json = serde_json::to_string(&instrument).unwrap();
            assert_eq!(
                serde_json::from_str::<Instrument>(&json).unwrap(),
                instrument
            );
        }
        let measured = Hand::measured((105, 130), [Some((45, 70)), None, Some((30, 60))]);
        for hand in [Hand::SMALL, Hand::MEDIUM, Hand::LARGE, measured.unwrap()] {
            let json = serde_json::to_string(&hand).unwrap();
            assert_eq!(serde_json::from_str::<Hand>(&json).unwrap(), hand);
        }
        check(Hand::MEDIUM, "[[110,137],[null,null,null]]");
    }

    #[test]
    fn constructors_check_what_is_read() {
        let refused = |json: &str, why: &str| {
            let error = serde_json::from_str::<Melody>(json)
                .unwrap_err()
                .to_string();
            assert!(error.starts_with(why), "{error}");
        };
        let note = r#""notes":[{"pitch":"E4","onset":"0","duration":"1"}]"#;
        refused("{}", "no notes found");
        let twice = note.replace('}', r#"},{"pitch":"E4","onset":"1/2","duration":"1"}"#);
        refused(&format!("{{{twice}}}"), "note 2 begins before");
        refused(
            &format!(r#"{{{note},"bars":["9000000000"]}}"#),
            "9000000000 is not a time",
        );
        refused(
            &format!(r#"{{{note},"form":{{"signs":[["0",{{"repeat_end":1}}]]}}}}"#),
            "times a strain",
        );
        refused(
            &format!(r#"{{{note},"form":{{"signs":[["0",{{"ending":[]}}]]}}}}"#),
            "an ending needs",
        );
        assert!(serde_json::from_str::<Hand>("[[110,90],[null,null,null]]").is_err());
        let instrument = serde_json::to_string(&Instrument::default()).unwrap();
        let no_frets = instrument.replace("\"frets\":22", "\"frets\":0");
        assert_ne!(instrument, no_frets);
        assert!(serde_json::from_str::<Instrument>(&no_frets).is_err());
    }

    #[test]
    fn numbers_out_of_range_are_refused() {
        assert!(serde_json::from_str::<MidiNumber>("128").is_err());
        assert!(serde_json::from_str::<Position>("0").is_err());
        assert!(serde_json::from_str::<Pitch>("\"H4\"").is_err());
        assert!(serde_json::from_str::<Place>("\"0:7\"").is_err());
    }
}
