//! The `K:` field: a key signature, perhaps with a tonic and a mode.

use super::lexer::pitch_letter;
use crate::theory::{Key, Letter, Mode, PitchClass};

/// Sharps (positive) or flats (negative) on each letter, C first.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct Signature([i8; 7]);

impl Signature {
    fn of(key: Key) -> Signature {
        let mut signature = Signature::default();
        for class in key.scale() {
            signature.0[class.letter() as usize] = class.alteration();
        }
        signature
    }

    pub fn alteration(&self, letter: Letter) -> i8 {
        self.0[letter as usize]
    }
}

/// The contents of a `K:` field.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct KeyField {
    /// The signature; `None` when the field only sets a clef.
    pub signature: Option<Signature>,
    /// The key, where the field names one.
    pub key: Option<Key>,
    /// `octave=`: the number of octaves by which the following notes are moved.
    pub octave: Option<i8>,
}

/// Why a `K:` field cannot be read.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum KeyProblem {
    /// It is not in the notation of the standard.
    ReadError,
    /// `K:GM`: the standard ignores case, so this is G minor; players read it as major.
    MajorOrMinor,
    /// It would need more than seven sharps or flats.
    TooManyAccidentals,
}

impl KeyProblem {
    pub fn hint(self) -> &'static str {
        match self {
            KeyProblem::ReadError => "write a key such as `K:Em`, `K:Bb`, `K:A dorian` or `K:none`",
            KeyProblem::MajorOrMinor => "write `maj` or `min` after the note",
            KeyProblem::TooManyAccidentals => {
                "write the key under its other name, such as Ab for G#"
            }
        }
    }
}

/// Reads the value of a `K:` field.
///
/// Source: ABC 2.1, 3.1.14 and 4.6 (from memory): only the first three letters of a mode count, in either case, with or
/// without a space before them; accidentals after the mode change the signature, after `exp` they are all of it; an
/// empty field and `none` are no signature. The two bagpipe keys are read as A mixolydian: the chanter sounds F sharp
/// and C sharp whether they are printed (`Hp`) or not (`HP`).
pub(super) fn parse(value: &[u8]) -> Result<KeyField, KeyProblem> {
    let value = value.trim_ascii();
    if value.is_empty() {
        return Ok(KeyField {
            signature: Some(Signature::default()),
            ..KeyField::default()
        });
    }
    let (tonic, mode, settings) = match value {
        [b'H', b'p' | b'P', rest @ ..] if is_word_end(rest) => {
            let a = PitchClass::new(Letter::A, 0).map_err(|_| KeyProblem::ReadError)?;
            (Some(a), Some(Mode::Mixolydian), rest)
        }
        [letter @ b'A'..=b'G', rest @ ..] => {
            let letter = Letter::from_char((*letter).into()).ok_or(KeyProblem::ReadError)?;
            let (alteration, rest) = match rest {
                [b'#', rest @ ..] => (1, rest),
                [b'b', rest @ ..] => (-1, rest),
                rest => (0, rest),
            };
            let tonic = PitchClass::new(letter, alteration).map_err(|_| KeyProblem::ReadError)?;
            let (mode, rest) = mode(rest)?;
            (Some(tonic), mode, rest)
        }
        rest => (None, None, rest),
    };
    let named = match (tonic, mode) {
        (Some(tonic), Some(mode)) => {
            Some(Key::new(tonic, mode).map_err(|_| KeyProblem::TooManyAccidentals)?)
        }
        _ => None,
    };
    let mut field = KeyField {
        signature: named
            .map(Signature::of)
            .or(tonic.map(|_| Signature::default())),
        key: named,
        octave: None,
    };
    for word in settings
        .split(u8::is_ascii_whitespace)
        .filter(|word| !word.is_empty())
    {
        match word {
            [b'^' | b'_' | b'=', ..] => {
                let signature = field.signature.get_or_insert_default();
                accidentals(word, signature)?;
            }
            b"none" | b"None" | b"NONE" if tonic.is_none() => {
                field.signature = Some(Signature::default());
            }
            b"exp" => {}
            // A clef changes only how notes are printed.
            _ if word.contains(&b'=') || is_clef(word) => {
                field.octave = octave(word).or(field.octave);
            }
            _ => return Err(KeyProblem::ReadError),
        }
    }
    if let (Some(tonic), None, Some(signature)) = (tonic, mode, field.signature) {
        field.key = Mode::ALL
            .into_iter()
            .filter_map(|mode| Key::new(tonic, mode).ok())
            .find(|key| Signature::of(*key) == signature);
    }
    Ok(field)
}

/// Reads the mode after a tonic and gives the rest of the text; `exp` gives no mode.
fn mode(text: &[u8]) -> Result<(Option<Mode>, &[u8]), KeyProblem> {
    let text = text.trim_ascii_start();
    let length = text
        .iter()
        .take_while(|byte| byte.is_ascii_alphabetic())
        .count();
    let (word, rest) = text.split_at(length);
    if rest.first() == Some(&b'=') || is_clef(word) {
        return Ok((Some(Mode::Major), text));
    }
    let letter = |index: usize| word.get(index).map_or(b' ', u8::to_ascii_lowercase);
    let mode = match &[letter(0), letter(1), letter(2)] {
        _ if word == b"M" => return Err(KeyProblem::MajorOrMinor),
        b"   " | b"maj" | b"ion" => Mode::Major,
        b"m  " | b"min" | b"aeo" => Mode::Minor,
        b"mix" => Mode::Mixolydian,
        b"dor" => Mode::Dorian,
        b"phr" => Mode::Phrygian,
        b"lyd" => Mode::Lydian,
        b"loc" => Mode::Locrian,
        b"exp" => return Ok((None, rest)),
        _ => return Err(KeyProblem::ReadError),
    };
    Ok((Some(mode), rest))
}

/// Reads accidentals such as `^f` or `_b__e` into a signature.
fn accidentals(mut word: &[u8], signature: &mut Signature) -> Result<(), KeyProblem> {
    while !word.is_empty() {
        let (alteration, rest) = match word {
            [b'^', b'^', rest @ ..] => (2, rest),
            [b'^', rest @ ..] => (1, rest),
            [b'_', b'_', rest @ ..] => (-2, rest),
            [b'_', rest @ ..] => (-1, rest),
            [b'=', rest @ ..] => (0, rest),
            _ => return Err(KeyProblem::ReadError),
        };
        let (&letter, rest) = rest.split_first().ok_or(KeyProblem::ReadError)?;
        let (letter, _) = pitch_letter(letter).ok_or(KeyProblem::ReadError)?;
        signature.0[letter as usize] = alteration;
        word = rest;
    }
    Ok(())
}

/// The number of an `octave=` setting.
pub(super) fn octave(word: &[u8]) -> Option<i8> {
    let number = std::str::from_utf8(word.strip_prefix(b"octave=")?).ok()?;
    number
        .parse()
        .ok()
        .filter(|octaves| (-9..=9).contains(octaves))
}

fn is_clef(word: &[u8]) -> bool {
    let name = word
        .split(|byte| !byte.is_ascii_alphabetic())
        .next()
        .unwrap_or_default();
    matches!(
        name,
        b"treble"
            | b"bass"
            | b"baritone"
            | b"tenor"
            | b"alto"
            | b"mezzosoprano"
            | b"soprano"
            | b"perc"
    )
}

fn is_word_end(rest: &[u8]) -> bool {
    rest.first()
        .is_none_or(|byte| !byte.is_ascii_alphanumeric())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The letters that a signature alters, such as `f# c#`.
    fn altered(signature: Signature) -> String {
        let words: Vec<String> = Letter::ALL
            .into_iter()
            .filter(|letter| signature.alteration(*letter) != 0)
            .map(|letter| {
                PitchClass::new(letter, signature.alteration(letter))
                    .unwrap()
                    .to_string()
            })
            .collect();
        words.join(" ")
    }

    #[test]
    fn keys_are_spelled_in_many_ways() {
        let cases = [
            ("C", "C major", ""),
            ("Em", "E minor", "F#"),
            ("E Minor", "E minor", "F#"),
            ("Eminor", "E minor", "F#"),
            ("EMIN", "E minor", "F#"),
            ("Bb", "Bb major", "Eb Bb"),
            ("Ador", "A dorian", "F#"),
            ("A Dorian", "A dorian", "F#"),
            ("G  Mixolydian", "G mixolydian", ""),
            ("F#m", "F# minor", "C# F# G#"),
            ("F# MIX", "F# mixolydian", "C# D# F# G# A#"),
            ("Cionian", "C major", ""),
            ("Daeo", "D minor", "Bb"),
            ("Flyd", "F lydian", ""),
            ("Bloc", "B locrian", ""),
            ("D Phr ^f", "D phrygian", "Eb F# Bb"), // the mode stays, the signature changes
            ("D maj =c", "D major", "F#"),
            ("Am clef=bass octave=-1", "A minor", ""),
            ("G treble-8", "G major", "F#"),
            ("Gm bass", "G minor", "Eb Bb"),
            ("HP", "A mixolydian", "C# F#"),
            ("Hp", "A mixolydian", "C# F#"),
            ("D exp ^f^c", "D major", "C# F#"),
            ("D exp _b _e ^f", "none", "Eb F# Bb"),
            ("none", "none", ""),
            ("", "none", ""),
            ("none clef=alto", "none", ""),
            ("^f", "none", "F#"),
        ];
        for (value, key, signature) in cases {
            let field =
                parse(value.as_bytes()).unwrap_or_else(|problem| panic!("{value}: {problem:?}"));
            let named = field.key.map_or("none".to_owned(), |key| key.to_string());
            assert_eq!(named, key, "{value}");
            assert_eq!(altered(field.signature.unwrap()), signature, "{value}");
        }
    }

    #[test]
    fn every_key_is_read_back() {
        for mode in Mode::ALL {
            for signature in -7..=7 {
                let key = Key::from_signature(signature, mode).unwrap();
                let field = parse(key.to_string().as_bytes()).unwrap();
                assert_eq!(field.key, Some(key));
                assert_eq!(field.signature, Some(Signature::of(key)));
            }
        }
    }

    #[test]
    fn a_clef_alone_leaves_the_key() {
        for value in ["bass", "clef=treble-8", "treble+8 middle=d", "octave=1"] {
            let field = parse(value.as_bytes()).unwrap();
            assert_eq!((field.signature, field.key), (None, None), "{value}");
        }
        assert_eq!(parse(b"octave=1").unwrap().octave, Some(1));
    }

    #[test]
    fn invalid_keys_are_refused() {
        let cases = [
            ("H", KeyProblem::ReadError),
            ("g", KeyProblem::ReadError), // major or minor, by country
            ("GM", KeyProblem::MajorOrMinor),
            ("G sharp", KeyProblem::ReadError),
            ("C^", KeyProblem::ReadError),
            ("C ^h", KeyProblem::ReadError),
            ("G#", KeyProblem::TooManyAccidentals),
            ("Fbm", KeyProblem::TooManyAccidentals),
            ("Hpq", KeyProblem::ReadError),
            ("\u{e9}", KeyProblem::ReadError),
        ];
        for (value, problem) in cases {
            assert_eq!(parse(value.as_bytes()), Err(problem), "{value}");
        }
    }
}
