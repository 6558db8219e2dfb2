//! The scope of an accidental.

use super::key_field::Signature;
use super::lexer::Staff;

/// The other notes to which an accidental applies.
///
/// Source: `propagate-accidentals`, ABC 2.1, 11.3 (from memory), with its default. In engraving an accidental holds for
/// its own octave only, so a note for which that makes a difference gets a warning.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) enum AccidentalScope {
    /// None.
    Not,
    /// Those on the same line or space, to the end of the bar.
    Octave,
    /// Those of the same letter in any octave, to the end of the bar.
    #[default]
    Pitch,
}

impl AccidentalScope {
    pub fn parse(value: &[u8]) -> Option<AccidentalScope> {
        match value {
            b"not" => Some(AccidentalScope::Not),
            b"octave" => Some(AccidentalScope::Octave),
            b"pitch" => Some(AccidentalScope::Pitch),
            _ => None,
        }
    }
}

/// The accidentals in force in a bar, over the key signature.
#[derive(Clone, Debug, Default)]
pub(super) struct BarAccidentals {
    pub signature: Signature,
    pub reach: AccidentalScope,
    // The latest last; rarely more than three, and at most one for each place on the staff.
    in_bar: Vec<(Staff, i8)>,
}

/// The alteration of a note.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Alteration {
    /// Semitones.
    pub semitones: i8,
    /// Whether it comes from an accidental in another octave and would otherwise differ.
    pub is_from_another_octave: bool,
}

impl BarAccidentals {
    /// A bar line: only the signature stays in force.
    pub fn end_bar(&mut self) {
        self.in_bar.clear();
    }

    /// The alteration of a note, whose own accidental then holds to the end of the bar.
    pub fn alteration(&mut self, staff: Staff) -> Alteration {
        if let Some(own) = staff.accidental {
            if self.reach != AccidentalScope::Not {
                self.in_bar.retain(|(at, _)| at.steps() != staff.steps());
                self.in_bar.push((staff, own));
            }
            return Alteration {
                semitones: own,
                is_from_another_octave: false,
            };
        }
        let latest = |is_reached: &dyn Fn(&Staff) -> bool| {
            self.in_bar
                .iter()
                .rev()
                .find(|(at, _)| is_reached(at))
                .map(|(_, semitones)| *semitones)
        };
        let in_octave = latest(&|at| at.steps() == staff.steps());
        let in_octave = in_octave.unwrap_or(self.signature.alteration(staff.letter));
        let semitones = match self.reach {
            AccidentalScope::Pitch => latest(&|at| at.letter == staff.letter).unwrap_or(in_octave),
            AccidentalScope::Octave | AccidentalScope::Not => in_octave,
        };
        Alteration {
            semitones,
            is_from_another_octave: semitones != in_octave,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc::lexer::{Lexer, Token};
    use crate::format::abc::source::SourceLine;

    /// The alterations of notes in a key without sharps and flats; alterations from another octave are marked.
    fn check(reach: AccidentalScope, music: &str, expected: &str) {
        let mut accidentals = BarAccidentals {
            reach,
            ..BarAccidentals::default()
        };
        let mut found = Vec::new();
        for token in Lexer::new(SourceLine {
            start: 0,
            text: music.as_bytes(),
        }) {
            match token {
                Ok(Token::Note(staff, _)) => {
                    let alteration = accidentals.alteration(staff);
                    let mark = if alteration.is_from_another_octave {
                        "!"
                    } else {
                        ""
                    };
                    found.push(format!("{}{mark}", alteration.semitones));
                }
                _ => accidentals.end_bar(),
            }
        }
        assert_eq!(found.join(" "), expected, "{music}");
    }

    #[test]
    fn an_accidental_holds_to_the_bar_line() {
        check(AccidentalScope::Octave, "^ccdc|c", "1 1 0 1 0");
        check(AccidentalScope::Octave, "_B=BB^^BB", "-1 0 0 2 2");
        check(AccidentalScope::Not, "^cc", "1 0");
    }

    #[test]
    fn it_holds_in_other_octaves_by_its_scope() {
        check(AccidentalScope::Octave, "^ccCc'", "1 1 0 0");
        check(AccidentalScope::Pitch, "^ccCc'|C", "1 1 1! 1! 0");
        check(AccidentalScope::Pitch, "^c=Cc", "1 0 0!"); // the latest one
        check(AccidentalScope::Pitch, "=cC", "0 0"); // no difference, so no mark
    }

    #[test]
    fn each_place_is_stored_once() {
        let mut accidentals = BarAccidentals::default();
        for _ in 0..1000 {
            for token in Lexer::new(SourceLine {
                start: 0,
                text: b"^c_c=c^C",
            })
            .flatten()
            {
                if let Token::Note(staff, _) = token {
                    accidentals.alteration(staff);
                }
            }
        }
        assert_eq!(accidentals.in_bar.len(), 2);
    }
}
