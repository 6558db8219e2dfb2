//! Which accidentals to print.
//!
//! Source: Gould, *Behind Bars* (2011), "Accidentals", from memory: an accidental holds to the end of the bar, for its
//! own line or space only; a note tied over the bar line needs none; a note that returns to the key in the next bar, or
//! in another octave of the same bar, gets a courtesy accidental.

use std::collections::HashMap;

use crate::theory::{Letter, Pitch, PitchClass};

/// The accidentals in force on each line and space of a bar, and those that the player still remembers from the bar
/// before.
pub struct Accidentals {
    signature: i8,
    /// By diatonic step.
    here: HashMap<i8, i8>,
    /// By letter, the alterations of this bar and the one before.
    letters_here: HashMap<Letter, i8>,
    letters_before: HashMap<Letter, i8>,
}

impl Accidentals {
    /// Starts a piece; `signature` counts sharps, negative for flats.
    pub fn new(signature: i8) -> Accidentals {
        Accidentals {
            signature,
            here: HashMap::new(),
            letters_here: HashMap::new(),
            letters_before: HashMap::new(),
        }
    }

    /// Starts a bar; `signature` counts sharps, negative for flats.
    pub fn bar(&mut self, signature: i8) {
        self.signature = signature;
        self.here.clear();
        self.letters_before = std::mem::take(&mut self.letters_here);
    }

    /// The alteration to print before a note; `None` when it is tied to the note before.
    pub fn before(&mut self, pitch: Pitch, is_tied_back: bool) -> Option<i8> {
        if is_tied_back {
            return None;
        }
        let (step, letter, alteration) = (pitch.steps(), pitch.letter(), pitch.alteration());
        let by_key = signature_alteration(self.signature, letter);
        let in_force = self.here.get(&step).copied().unwrap_or(by_key);
        let is_said = self.here.contains_key(&step);
        let courtesy = !is_said
            && [&self.letters_here, &self.letters_before]
                .iter()
                .any(|letters| letters.get(&letter).is_some_and(|last| *last != alteration));
        if alteration == in_force && !courtesy {
            return None;
        }
        self.here.insert(step, alteration);
        // Once cancelled, it needs no further courtesy accidental.
        self.letters_before.remove(&letter);
        self.letters_here.insert(letter, alteration);
        Some(alteration)
    }
}

/// How a key signature alters a letter.
pub fn signature_alteration(signature: i8, letter: Letter) -> i8 {
    // Sharps come in fifths upwards from F, flats downwards from B.
    let place = match PitchClass::new(letter, 0) {
        Ok(class) => class.fifths() + 1,
        Err(_) => unreachable!(),
    };
    (signature - place + 6).div_euclid(7)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::{Key, Mode};

    #[test]
    fn signatures_alter_the_letters_of_their_scales() {
        for signature in -7..=7 {
            let key = Key::from_signature(signature, Mode::Major).unwrap();
            for class in key.scale() {
                assert_eq!(
                    signature_alteration(signature, class.letter()),
                    class.alteration(),
                    "{class} in {key}"
                );
            }
        }
    }

    /// Bars are separated by `|`; `~` marks a note tied to the one before; `.` stands for no accidental.
    fn check(signature: i8, notes: &str, printed: &str) {
        let mut accidentals = Accidentals::new(signature);
        let mut out = Vec::new();
        for word in notes.split(' ') {
            if word == "|" {
                accidentals.bar(signature);
                out.push("|");
                continue;
            }
            let (tied, name) = match word.strip_prefix('~') {
                Some(name) => (true, name),
                None => (false, word),
            };
            out.push(match accidentals.before(name.parse().unwrap(), tied) {
                None => ".",
                Some(1) => "#",
                Some(-1) => "b",
                Some(0) => "n",
                Some(2) => "x",
                Some(-2) => "bb",
                Some(other) => panic!("{other:?}"),
            });
        }
        assert_eq!(out.join(" "), printed, "{notes}");
    }

    // Source: Gould, Behind Bars (2011), "Accidentals"; from memory.
    #[test]
    fn accidentals_hold_for_the_bar_and_the_octave() {
        check(0, "F#4 F#4 F4 F4", "# . n .");
        check(0, "F#4 F#5", "# #");
        check(0, "F#4 F5 F5", "# n .");
        check(1, "F#4 F4 F#4", ". n #");
        check(-3, "Bb4 A4 Bbb4 Bb4", ". n bb b");
        check(0, "F##4 F#4", "x #");
    }

    #[test]
    fn the_next_bar_cancels_an_accidental_once() {
        check(0, "F#4 | F4 F4 | F4", "# | n . | .");
        check(0, "F#4 | G4 | F4", "# | . | .");
        check(0, "F#4 | ~F#4 F#4", "# | . #");
        check(1, "F4 | F#4 F#5", "n | # .");
    }
}
