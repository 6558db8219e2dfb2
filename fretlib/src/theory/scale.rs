//! Scales: a tonic and the degrees above it.

use std::fmt;
use std::str::FromStr;

use super::key::{Degree, Key, Mode};
use super::pitch_class::PitchClass;
use super::spelling::degree_formula;
use crate::error::{OutOfRange, ParseError, check_range};

/// The scales that players practise, each a set of degrees measured against the major scale.
///
/// Common practice, no source; where usage varies: melodic minor is the rising form both ways, the diminished scale goes by
/// whole and half steps in turn (its twin begins with the half step), and the altered scale is spelled as the tones of the
/// `7alt` chord it is played over.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum ScaleKind {
    Major,
    NaturalMinor,
    HarmonicMinor,
    MelodicMinor,
    Lydian,
    Mixolydian,
    Dorian,
    Phrygian,
    Locrian,
    MajorPentatonic,
    MinorPentatonic,
    Blues,
    WholeTone,
    Diminished,
    HalfWholeDiminished,
    Altered,
}

impl ScaleKind {
    /// Every kind.
    pub const ALL: [ScaleKind; 16] = [
        ScaleKind::Major,
        ScaleKind::NaturalMinor,
        ScaleKind::HarmonicMinor,
        ScaleKind::MelodicMinor,
        ScaleKind::Lydian,
        ScaleKind::Mixolydian,
        ScaleKind::Dorian,
        ScaleKind::Phrygian,
        ScaleKind::Locrian,
        ScaleKind::MajorPentatonic,
        ScaleKind::MinorPentatonic,
        ScaleKind::Blues,
        ScaleKind::WholeTone,
        ScaleKind::Diminished,
        ScaleKind::HalfWholeDiminished,
        ScaleKind::Altered,
    ];

    /// The name and the degrees, as theory books print them.
    const fn table(self) -> (&'static str, &'static str) {
        match self {
            ScaleKind::Major => ("major", "1 2 3 4 5 6 7"),
            ScaleKind::NaturalMinor => ("natural minor", "1 2 b3 4 5 b6 b7"),
            ScaleKind::HarmonicMinor => ("harmonic minor", "1 2 b3 4 5 b6 7"),
            ScaleKind::MelodicMinor => ("melodic minor", "1 2 b3 4 5 6 7"),
            ScaleKind::Lydian => ("lydian", "1 2 3 #4 5 6 7"),
            ScaleKind::Mixolydian => ("mixolydian", "1 2 3 4 5 6 b7"),
            ScaleKind::Dorian => ("dorian", "1 2 b3 4 5 6 b7"),
            ScaleKind::Phrygian => ("phrygian", "1 b2 b3 4 5 b6 b7"),
            ScaleKind::Locrian => ("locrian", "1 b2 b3 4 b5 b6 b7"),
            ScaleKind::MajorPentatonic => ("major pentatonic", "1 2 3 5 6"),
            ScaleKind::MinorPentatonic => ("minor pentatonic", "1 b3 4 5 b7"),
            ScaleKind::Blues => ("blues", "1 b3 4 b5 5 b7"),
            ScaleKind::WholeTone => ("whole-tone", "1 2 3 #4 #5 b7"),
            ScaleKind::Diminished => ("diminished", "1 2 b3 4 b5 b6 6 7"),
            ScaleKind::HalfWholeDiminished => ("half-whole diminished", "1 b2 #2 3 #4 5 6 b7"),
            ScaleKind::Altered => ("altered", "1 b2 #2 3 b5 #5 b7"),
        }
    }

    /// The name in small letters, as in `E harmonic minor`.
    pub const fn name(self) -> &'static str {
        self.table().0
    }

    /// The degrees upwards from the tonic.
    ///
    /// ```
    /// use fretlib::theory::ScaleKind;
    ///
    /// let blues: Vec<String> = ScaleKind::Blues.degrees().iter().map(ToString::to_string).collect();
    /// assert_eq!(blues.join(" "), "1 b3 4 b5 5 b7");
    /// ```
    pub fn degrees(self) -> Vec<Degree> {
        degree_formula(self.table().1).collect()
    }
}

impl From<Mode> for ScaleKind {
    fn from(mode: Mode) -> ScaleKind {
        match mode {
            Mode::Lydian => ScaleKind::Lydian,
            Mode::Major => ScaleKind::Major,
            Mode::Mixolydian => ScaleKind::Mixolydian,
            Mode::Dorian => ScaleKind::Dorian,
            Mode::Minor => ScaleKind::NaturalMinor,
            Mode::Phrygian => ScaleKind::Phrygian,
            Mode::Locrian => ScaleKind::Locrian,
        }
    }
}

/// A scale on a tonic, spelled.
///
/// A [`Key`] is a scale with a key signature; this type also covers scales without one.
///
/// ```
/// use fretlib::theory::Scale;
///
/// let scale: Scale = "Bb minor pentatonic".parse()?;
/// let notes: Vec<String> = scale.notes().iter().map(ToString::to_string).collect();
/// assert_eq!(notes.join(" "), "Bb Db Eb F Ab");
/// assert!(scale.contains("Db".parse()?) && !scale.contains("C#".parse()?));
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct Scale {
    // Invariant: far enough from the ends of the line of fifths for every note of every kind to
    // exist.
    tonic: PitchClass,
    kind: ScaleKind,
}

impl Scale {
    /// The scale of this kind on a tonic.
    ///
    /// # Errors
    ///
    /// When the tonic has more than two sharps or flats.
    pub const fn new(tonic: PitchClass, kind: ScaleKind) -> Result<Scale, OutOfRange> {
        match check_range("accidentals of a tonic", tonic.alteration() as i64, -2, 2) {
            Ok(()) => Ok(Scale { tonic, kind }),
            Err(error) => Err(error),
        }
    }

    /// The note it is named after.
    pub const fn tonic(self) -> PitchClass {
        self.tonic
    }

    /// Its kind.
    pub const fn kind(self) -> ScaleKind {
        self.kind
    }

    /// The notes upwards from the tonic.
    pub fn notes(self) -> Vec<PitchClass> {
        let above = |degree: Degree| {
            let fifths = i16::from(self.tonic.fifths()) + i16::from(degree.fifths());
            match PitchClass::from_fifths(fifths) {
                Ok(class) => class,
                Err(_) => unreachable!("a tonic with two accidentals leaves room for two more"),
            }
        };
        self.kind.degrees().into_iter().map(above).collect()
    }

    /// Whether a note with this spelling belongs to the scale.
    pub fn contains(self, class: PitchClass) -> bool {
        self.notes().contains(&class)
    }
}

impl From<Key> for Scale {
    fn from(key: Key) -> Scale {
        Scale {
            tonic: key.tonic(),
            kind: key.mode().into(),
        }
    }
}

impl fmt::Display for Scale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.tonic, self.kind.name())
    }
}

impl fmt::Debug for Scale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Scale {
    type Err = ParseError;

    /// Reads a tonic and a kind, such as `D dorian` or `F# whole-tone`; `minor`, `ionian` and `aeolian` too.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || {
            ParseError::unreadable(
                text,
                "a scale such as `D dorian`, `A minor pentatonic` or `F# whole-tone`",
            )
        };
        let (tonic, kind) = text.trim().split_once(' ').ok_or_else(unreadable)?;
        let tonic: PitchClass = tonic.parse().map_err(|_| unreadable())?;
        let kind = kind.trim().to_lowercase();
        let kind = match kind.as_str() {
            "ionian" => ScaleKind::Major,
            "minor" | "aeolian" => ScaleKind::NaturalMinor,
            "whole tone" => ScaleKind::WholeTone,
            name => ScaleKind::ALL
                .into_iter()
                .find(|kind| kind.name() == name)
                .ok_or_else(unreadable)?,
        };
        Ok(Scale::new(tonic, kind)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::{Chord, Letter};
    use std::collections::BTreeSet;

    fn notes(name: &str) -> String {
        let scale: Scale = name.parse().unwrap();
        let notes: Vec<String> = scale.notes().iter().map(ToString::to_string).collect();
        notes.join(" ")
    }

    /// Keys of a keyboard, to compare scales by sound.
    fn sounds(name: &str) -> BTreeSet<u8> {
        let scale: Scale = name.parse().unwrap();
        scale.notes().iter().map(|note| note.chroma()).collect()
    }

    // Common practice, no source.
    #[test]
    fn scales_have_the_notes_of_theory_books() {
        let cases = [
            ("A harmonic minor", "A B C D E F G#"),
            ("G major pentatonic", "G A B D E"),
            ("E minor pentatonic", "E G A B D"),
            ("E blues", "E G A Bb B D"),
            ("C whole-tone", "C D E F# G# Bb"),
            ("C diminished", "C D Eb F Gb Ab A B"),
            ("G half-whole diminished", "G Ab A# B C# D E F"),
            ("G altered", "G Ab A# B Db D# F"),
        ];
        for (name, expected) in cases {
            assert_eq!(notes(name), expected, "{name}");
        }
    }

    #[test]
    fn related_scales_share_their_notes() {
        assert_eq!(sounds("C major pentatonic"), sounds("A minor pentatonic"));
        assert_eq!(sounds("G altered"), sounds("Ab melodic minor"));
        assert_eq!(sounds("G half-whole diminished"), sounds("Ab diminished"));
        assert!(sounds("E blues").is_superset(&sounds("E minor pentatonic")));
        // There are only two whole-tone scales and three diminished ones.
        assert_eq!(sounds("C whole-tone"), sounds("D whole-tone"));
        assert_eq!(sounds("C diminished"), sounds("Eb diminished"));
        let chord: Chord = "G7alt".parse().unwrap();
        let altered: Scale = "G altered".parse().unwrap();
        assert!(chord.tones().iter().all(|tone| altered.contains(*tone)));
    }

    #[test]
    fn every_scale_on_every_tonic_exists_and_is_read_back() {
        for kind in ScaleKind::ALL {
            for letter in Letter::ALL {
                for alteration in -2..=2 {
                    let tonic = PitchClass::new(letter, alteration).unwrap();
                    let scale = Scale::new(tonic, kind).unwrap();
                    assert_eq!(scale.to_string().parse(), Ok(scale));
                    assert_eq!(scale.notes()[0], tonic);
                }
            }
        }
        for text in ["", "major", "H major", "C majour", "Cbbb major"] {
            assert!(text.parse::<Scale>().is_err(), "{text}");
        }
    }
}
