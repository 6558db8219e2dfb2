//! The spelling of a note known only by its sound.

use super::{Key, MidiNumber, Pitch, PitchClass};

impl Key {
    /// The pitch with this MIDI number, spelled for this key.
    ///
    /// Notes of the scale are spelled as in the scale. Other notes are spelled within five fifths below the tonic
    /// and six above it: b2, b3, #4, b6 or b7.
    ///
    /// Source: H. C. Longuet-Higgins, "Perception of melodies", Nature 263 (1976), the rule of the tonic; from memory.
    ///
    /// ```
    /// use fretlib::theory::{Key, MidiNumber};
    ///
    /// let key: Key = "E minor".parse()?;
    /// assert_eq!(key.spell(MidiNumber::new(63)?).to_string(), "D#4");
    /// assert_eq!(key.spell(MidiNumber::new(65)?).to_string(), "F4");
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn spell(self, midi: MidiNumber) -> Pitch {
        let of_scale = self
            .scale()
            .into_iter()
            .find(|class| class.chroma() == midi.chroma());
        let class = of_scale.unwrap_or_else(|| self.class_near_tonic(midi.chroma()));
        // The class has at most two accidentals and the number is in range; a test tries them all.
        class.at_midi(midi).unwrap_or(Pitch::from_midi(midi))
    }

    fn class_near_tonic(self, chroma: u8) -> PitchClass {
        let tonic = i16::from(self.tonic().fifths());
        // A semitone is seven fifths, ignoring octaves.
        let fifths = 7 * (i16::from(chroma) - i16::from(self.tonic().chroma()));
        let above_tonic = (fifths + 5).rem_euclid(12) - 5;
        // Every tonic is within twelve fifths of C, and every place within twenty is a pitch class.
        PitchClass::from_fifths(tonic + above_tonic).unwrap_or(self.tonic())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::Mode;

    #[test]
    fn chromatic_notes_are_spelled_from_the_tonic() {
        let cases = [
            ("C major", "C4 Db4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4"),
            ("A minor", "C4 C#4 D4 D#4 E4 F4 F#4 G4 G#4 A4 Bb4 B4"),
            ("B locrian", "C4 C#4 D4 D#4 E4 F4 F#4 G4 G#4 A4 A#4 B4"),
            (
                "Cb major",
                "Dbb4 Db4 Ebb4 Eb4 Fb4 F4 Gb4 Abb4 Ab4 Bbb4 Bb4 Cb5",
            ),
        ];
        for (key, notes) in cases {
            let key: Key = key.parse().unwrap();
            let spelled: Vec<String> = (60..72)
                .map(|midi| key.spell(MidiNumber::new(midi).unwrap()).to_string())
                .collect();
            assert_eq!(spelled.join(" "), notes, "{key}");
        }
    }

    #[test]
    fn every_note_sounds_the_same_in_every_key() {
        for mode in Mode::ALL {
            for key in (-7..=7).map(|signature| Key::from_signature(signature, mode).unwrap()) {
                for midi in MidiNumber::all() {
                    let spelled = key.spell(midi);
                    assert_eq!(spelled.midi(), midi, "{key}");
                    let near =
                        i16::from(spelled.class().fifths()) - i16::from(key.tonic().fifths());
                    assert!((-6..=6).contains(&near), "{spelled} in {key}");
                }
            }
        }
    }
}
