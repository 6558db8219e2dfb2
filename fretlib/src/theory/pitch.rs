//! A spelled note in a particular octave.

use std::fmt;
use std::ops::Sub;
use std::str::FromStr;

use super::interval::Interval;
use super::midi_number::MidiNumber;
use super::pitch_class::{Letter, PitchClass};
use super::spelling::{MAX_ALTERATION, natural_semitones, parse_alteration};
use crate::error::{OutOfRange, ParseError, check_range};

/// A spelled pitch: diatonic steps and semitones above C0.
///
/// In scientific pitch notation C4 is middle C, MIDI note 60, and the octave number goes with the letter: B#3 sounds
/// like C4. Every pitch has a MIDI number from 0 to 127. There is no order, since B#3 is written below C4 and sounds the
/// same; compare [`Pitch::midi`] or [`Pitch::steps`].
///
/// ```
/// use fretlib::theory::Pitch;
///
/// let pitch: Pitch = "Bb4".parse()?;
/// assert_eq!(pitch.midi().get(), 70);
/// assert_eq!(pitch.transpose("+m3".parse()?)?.to_string(), "Db5");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct Pitch {
    steps: i8,
    semitones: i8,
}

impl Pitch {
    /// MIDI numbers count from C−1, an octave below C0.
    const C0_MIDI: i16 = 12;

    /// The pitch with this letter, this many sharps (positive) or flats (negative), in this octave.
    ///
    /// # Errors
    ///
    /// When there are more than four sharps or flats, or the MIDI number would be outside 0 to 127.
    pub const fn new(letter: Letter, alteration: i8, octave: i8) -> Result<Pitch, OutOfRange> {
        let steps = letter.steps() as i16 + 7 * octave as i16;
        Pitch::from_steps(steps, natural_semitones(steps) + alteration as i16)
    }

    /// The pitch this many diatonic steps and semitones above C0.
    ///
    /// # Errors
    ///
    /// When the two are more than four semitones apart from a natural note, or the MIDI number would be outside 0 to 127.
    pub const fn from_steps(steps: i16, semitones: i16) -> Result<Pitch, OutOfRange> {
        let midi = semitones as i64 + Pitch::C0_MIDI as i64;
        if let Err(error) = check_range("MIDI note", midi, 0, 127) {
            return Err(error);
        }
        let most = MAX_ALTERATION as i64;
        let alteration = semitones as i64 - natural_semitones(steps) as i64;
        if let Err(error) = check_range("alteration", alteration, -most, most) {
            return Err(error);
        }
        Ok(Pitch {
            steps: steps as i8,
            semitones: semitones as i8,
        })
    }

    /// Diatonic steps above C0: how high the note stands on the staff.
    pub const fn steps(self) -> i8 {
        self.steps
    }

    /// A pitch with this MIDI number, spelled without flats; [`Key::spell`](super::Key::spell) spells it for a key.
    ///
    /// ```
    /// use fretlib::theory::{MidiNumber, Pitch};
    ///
    /// assert_eq!(Pitch::from_midi(MidiNumber::new(61)?).to_string(), "C#4");
    /// # Ok::<(), fretlib::OutOfRange>(())
    /// ```
    pub const fn from_midi(midi: MidiNumber) -> Pitch {
        let semitones = midi.get() as i16 - Pitch::C0_MIDI;
        // The highest natural note not above it; `natural_semitones` gives the spacing.
        let steps = (7 * semitones + 1).div_euclid(12);
        match Pitch::from_steps(steps, semitones) {
            Ok(pitch) => pitch,
            Err(_) => unreachable!(), // at most one sharp, and the number is in range
        }
    }

    /// The MIDI number; middle C is 60.
    ///
    /// Source: MIDI 1.0 Detailed Specification; scientific pitch names, ISO 16 and ASA (C4 = middle C).
    pub const fn midi(self) -> MidiNumber {
        match MidiNumber::new((self.semitones as i16 + Pitch::C0_MIDI) as u8) {
            Ok(midi) => midi,
            Err(_) => unreachable!(), // checked when the pitch was made
        }
    }

    /// The letter it is written with.
    pub const fn letter(self) -> Letter {
        Letter::from_steps(self.steps as i16)
    }

    /// Sharps (positive) or flats (negative).
    pub const fn alteration(self) -> i8 {
        (self.semitones as i16 - natural_semitones(self.steps as i16)) as i8
    }

    /// The octave number of scientific pitch notation, which changes between B and C.
    pub const fn octave(self) -> i8 {
        self.steps.div_euclid(7)
    }

    /// The pitch without its octave.
    pub const fn class(self) -> PitchClass {
        // 7·semitones − 12·steps: octaves vanish, fifths count one.
        match PitchClass::from_fifths(7 * self.semitones as i16 - 12 * self.steps as i16) {
            Ok(class) => class,
            Err(_) => unreachable!(),
        }
    }

    /// The frequency in hertz in equal temperament, `a4` being the tuning note's, usually 440 Hz.
    ///
    /// Source: ISO 16:1975 (A4 = 440 Hz). A guitar sounds an octave below what is written; this is the frequency of the
    /// pitch itself.
    pub fn frequency(self, a4: f64) -> f64 {
        self.midi().frequency(a4)
    }

    /// The pitch this interval away.
    ///
    /// # Errors
    ///
    /// When the result leaves the MIDI range or needs more than four sharps or flats.
    pub fn transpose(self, interval: Interval) -> Result<Pitch, OutOfRange> {
        Pitch::from_steps(
            i16::from(self.steps) + i16::from(interval.steps()),
            i16::from(self.semitones) + i16::from(interval.semitones()),
        )
    }
}

impl Sub for Pitch {
    type Output = Interval;

    /// The interval that leads from `other` to `self`.
    fn sub(self, other: Pitch) -> Interval {
        // The widest pair of pitches is 127 semitones and 79 steps apart.
        match Interval::new(
            i16::from(self.steps) - i16::from(other.steps),
            i16::from(self.semitones) - i16::from(other.semitones),
        ) {
            Ok(interval) => interval,
            Err(_) => unreachable!(),
        }
    }
}

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.class(), self.octave())
    }
}

impl fmt::Debug for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Pitch {
    type Err = ParseError;

    /// Reads scientific pitch notation: `E2`, `F#4`, `Bb3`, `C-1`.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable =
            || ParseError::unreadable(text, "a note with its octave such as E2, F#4 or Bb3");
        let mut signs = text.chars();
        let letter = signs
            .next()
            .and_then(Letter::from_char)
            .ok_or_else(unreadable)?;
        let rest = signs.as_str();
        let split = rest
            .find(|c: char| c == '-' || c.is_ascii_digit())
            .ok_or_else(unreadable)?;
        let (accidentals, octave) = rest.split_at(split);
        let alteration = parse_alteration(accidentals).ok_or_else(unreadable)?;
        if octave.len() > 3 {
            return Err(unreadable());
        }
        let octave: i8 = octave.parse().map_err(|_| unreadable())?;
        Ok(Pitch::new(letter, alteration, octave)?)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use quickcheck::{Arbitrary, Gen};

    impl Arbitrary for Pitch {
        fn arbitrary(g: &mut Gen) -> Pitch {
            loop {
                let letter = *g.choose(&Letter::ALL).unwrap();
                let alteration = i8::arbitrary(g) % 3;
                if let Ok(pitch) = Pitch::new(letter, alteration, i8::arbitrary(g).rem_euclid(10)) {
                    return pitch;
                }
            }
        }
    }

    fn check(name: &str, midi: u8) {
        let pitch: Pitch = name.parse().unwrap();
        assert_eq!(pitch.midi().get(), midi, "{name}");
        assert_eq!(pitch.to_string(), name);
    }

    #[test]
    fn names_stand_for_midi_numbers() {
        check("C-1", 0);
        check("G9", 127);
        check("C4", 60);
        check("E2", 40); // The lowest open string of a guitar as it sounds
        check("Cb4", 59); // Sounds as B3: the octave goes with the letter
        check("B#3", 60);
        check("F##4", 67);
        check("Ebb5", 74);
    }

    #[test]
    fn a_midi_number_is_a_natural_note_or_a_sharp() {
        for midi in MidiNumber::all() {
            let pitch = Pitch::from_midi(midi);
            assert_eq!(pitch.midi(), midi);
            assert!((0..=1).contains(&pitch.alteration()), "{pitch}");
            // The black keys: the second, fourth, seventh, ninth and eleventh of an octave.
            let is_black = [1, 3, 6, 8, 10].contains(&midi.chroma());
            assert_eq!(pitch.alteration() == 1, is_black, "{pitch}");
        }
    }

    #[test]
    fn invalid_pitches_are_refused() {
        for text in [
            "",
            "C",
            "4",
            "H4",
            "C#b4",
            "C44",
            "G#9",
            "Cb-1",
            "C--1",
            "C4 ",
            "C9223372036854775807",
            "Cé4",
        ] {
            assert!(text.parse::<Pitch>().is_err(), "{text}");
        }
        let error = "G#9".parse::<Pitch>().unwrap_err().to_string();
        assert_eq!(error, "MIDI note 128 is not in the range 0 to 127");
    }

    #[test]
    fn frequencies_follow_the_tuning_note() {
        let a4: Pitch = "A4".parse().unwrap();
        assert_eq!(a4.frequency(440.0), 440.0);
        let middle_c: Pitch = "C4".parse().unwrap();
        assert!((middle_c.frequency(440.0) - 261.6256).abs() < 1e-4);
        assert!(
            (middle_c.frequency(442.0) / middle_c.frequency(440.0) - 442.0 / 440.0).abs() < 1e-12
        );
    }

    quickcheck::quickcheck! {
        fn a_difference_leads_there(from: Pitch, to: Pitch) -> bool {
            from.transpose(to - from) == Ok(to) && to.transpose(from - to) == Ok(from)
        }

        fn a_pitch_is_read_back(pitch: Pitch) -> bool {
            pitch.to_string().parse() == Ok(pitch)
        }

        fn an_octave_keeps_the_class(pitch: Pitch) -> bool {
            pitch
                .transpose(Interval::OCTAVE)
                .map_or(true, |above| above.class() == pitch.class() && above.midi() - pitch.midi() == 12)
        }

        fn the_class_has_the_letter_and_the_sound(pitch: Pitch) -> bool {
            let class = pitch.class();
            class.letter() == pitch.letter()
                && class.alteration() == pitch.alteration()
                && class.chroma() == pitch.midi().chroma()
        }
    }
}
