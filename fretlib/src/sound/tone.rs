//! How a string sounds before it is plucked: its pitch, and how fast it dies away.

use crate::error::{OutOfRange, check_range};
use crate::neck::{Instrument, Place};
use crate::theory::equal_tempered;

/// The frequency of the tuning note A4, in hertz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ConcertPitch(f64);

impl ConcertPitch {
    /// Source: ISO 16:1975.
    pub const A440: ConcertPitch = ConcertPitch(440.0);

    /// A tuning note of this many hertz.
    ///
    /// # Errors
    ///
    /// When `hertz` is outside 380 to 500: nobody tunes there.
    pub fn new(hertz: f64) -> Result<ConcertPitch, OutOfRange> {
        if (380.0..=500.0).contains(&hertz) {
            return Ok(ConcertPitch(hertz));
        }
        Err(OutOfRange {
            what: "frequency of A4",
            value: hertz as i64,
            low: 380,
            high: 500,
        })
    }

    /// The frequency in hertz.
    pub const fn hertz(self) -> f64 {
        self.0
    }

    /// The frequency of a sounding MIDI number, in equal temperament.
    pub fn frequency(self, sounding_midi: i16) -> f64 {
        equal_tempered(sounding_midi, self.0)
    }
}

impl Default for ConcertPitch {
    fn default() -> Self {
        ConcertPitch::A440
    }
}

/// What strings are made of.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum StringMaterial {
    /// Soft and dark, with a short decay.
    Nylon,
    /// Bright, with a long decay.
    Steel,
}

impl StringMaterial {
    /// The strings of an instrument, by its MIDI program: nylon for program 24, else steel.
    ///
    /// Source: General MIDI Level 1 sound set, where program 24 (counted from 0) is the nylon-string guitar.
    pub fn of(instrument: &Instrument) -> StringMaterial {
        match instrument.program() {
            24 => StringMaterial::Nylon,
            _ => StringMaterial::Steel,
        }
    }

    /// Decay of the fundamental of an open, plain E2 in dB a second, and by how much it grows with an octave.
    ///
    /// Chosen so that open strings at E2, E3 and E4 lose 11, 17 and 26 dB a second on nylon, 6, 9 and 14 on steel; chosen by
    /// ear, no source.
    const fn decay(self) -> (f64, f64) {
        match self {
            StringMaterial::Nylon => (11.0, 1.54),
            StringMaterial::Steel => (6.0, 1.53),
        }
    }

    /// How much the loop filter takes from the high partials at 44,100 Hz: s of (1 − s) + s·z⁻¹, at most one half.
    ///
    /// Chosen by ear, no source.
    pub(super) const fn damping(self) -> f64 {
        match self {
            StringMaterial::Nylon => 0.5,
            StringMaterial::Steel => 0.25,
        }
    }

    /// The frequency in hertz above which the strongest pluck is softened.
    ///
    /// A finger tip is rounder than a plectrum. Chosen by ear, no source.
    pub(super) const fn brightness(self) -> f64 {
        match self {
            StringMaterial::Nylon => 2_200.0,
            StringMaterial::Steel => 7_000.0,
        }
    }
}

/// The tone of a string stopped at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    // Invariant: LOWEST to HIGHEST.
    frequency: f64,
    // Invariant: positive and finite.
    decay: f64,
    material: StringMaterial,
}

impl Tone {
    /// The lowest fundamental in hertz, about where beats become a tone.
    pub const LOWEST: f64 = 16.0;
    /// The highest fundamental in hertz: MIDI note 127 in any concert pitch.
    pub const HIGHEST: f64 = 14_300.0;

    /// An open, plain string of this frequency.
    ///
    /// # Errors
    ///
    /// When `frequency` is not between [`Tone::LOWEST`] and [`Tone::HIGHEST`].
    pub fn new(frequency: f64, material: StringMaterial) -> Result<Tone, OutOfRange> {
        check_range(
            "frequency of a string",
            if frequency.is_nan() {
                0
            } else {
                frequency as i64
            },
            Tone::LOWEST as i64,
            Tone::HIGHEST as i64,
        )?;
        let (decay, growth) = material.decay();
        let octaves = (frequency / E2).log2();
        Ok(Tone {
            frequency,
            decay: decay * growth.powf(octaves),
            material,
        })
    }

    /// The tone of a place on an instrument; `None` when the place is not on it or the pitch cannot be heard.
    ///
    /// A wound string rings longer than a plain one at the same pitch, since its heavier mass keeps more of the motion; a
    /// finger on a fret takes more of it than the nut.
    pub fn at(instrument: &Instrument, place: Place, a4: ConcertPitch) -> Option<Tone> {
        let octaves = i16::from(instrument.sounding().semitones());
        let written = i16::from(instrument.midi_at(place)?.get());
        let frequency = a4.frequency(written + octaves);
        let mut tone = Tone::new(frequency, StringMaterial::of(instrument)).ok()?;
        if instrument.is_wound(place.string) {
            tone.decay *= WOUND;
        }
        if place.fret.get() > 0 {
            tone.decay *= STOPPED;
        }
        Some(tone)
    }

    /// The same string tuned higher or lower by some cents.
    ///
    /// # Errors
    ///
    /// When that leaves the range of frequencies.
    pub fn detuned(self, cents: f64) -> Result<Tone, OutOfRange> {
        let frequency = self.frequency * 2f64.powf(cents / 1200.0);
        let moved = Tone::new(frequency, self.material)?;
        Ok(Tone {
            decay: self.decay,
            ..moved
        })
    }

    /// The fundamental in hertz.
    pub const fn frequency(self) -> f64 {
        self.frequency
    }

    /// How fast the fundamental dies away, in dB a second.
    pub const fn decay(self) -> f64 {
        self.decay
    }

    /// What the string is made of.
    pub const fn material(self) -> StringMaterial {
        self.material
    }
}

/// The frequency of the guitar's lowest string, in hertz.
const E2: f64 = 82.407;
/// Share of the decay that a wound string keeps. Chosen by ear, no source.
const WOUND: f64 = 0.8;
/// What a finger adds to the decay. Chosen by ear, no source.
const STOPPED: f64 = 1.15;

#[cfg(test)]
mod tests {
    use super::*;

    fn at(place: &str) -> Tone {
        let (string, fret) = place.split_once(':').unwrap();
        let place = Place {
            string: crate::neck::StringNumber::new(string.parse().unwrap()).unwrap(),
            fret: crate::neck::Fret::new(fret.parse().unwrap()).unwrap(),
        };
        Tone::at(&Instrument::default(), place, ConcertPitch::A440).unwrap()
    }

    #[test]
    fn a_place_sounds_an_octave_below_what_is_written_for_guitar() {
        for (place, frequency) in [
            ("6:0", 82.407),
            ("5:0", 110.0),
            ("1:5", 440.0),
            ("1:22", 1174.659),
        ] {
            assert!((at(place).frequency() - frequency).abs() < 1e-3, "{place}");
        }
    }

    #[test]
    fn wound_and_open_strings_ring_longer() {
        // The same E3 on strings 4, 5 and 6 is wound and stopped; E4 is plain.
        assert_eq!(at("4:2").decay(), at("5:7").decay());
        assert!(at("4:14").decay() < at("3:9").decay());
        assert!(at("1:0").decay() < at("2:5").decay());
    }

    #[test]
    fn impossible_strings_are_refused() {
        for frequency in [f64::NAN, 0.0, 15.9, 15_000.0, f64::INFINITY] {
            assert!(
                Tone::new(frequency, StringMaterial::Steel).is_err(),
                "{frequency}"
            );
        }
        assert!(ConcertPitch::new(f64::NAN).is_err() && ConcertPitch::new(300.0).is_err());
        let low = Tone::new(16.0, StringMaterial::Steel).unwrap();
        assert!(low.detuned(-200.0).is_err());
    }
}
