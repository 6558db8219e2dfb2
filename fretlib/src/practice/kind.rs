//! The kinds of question.

use std::fmt;
use std::str::FromStr;

use crate::error::ParseError;

/// What is asked of a note.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Kind {
    /// Where is this note of the melody, in this position and octave?
    Place,
    /// What is at this place: which note, and which degree of the key?
    Name,
    /// Which degree of the key is this note?
    Degree,
    /// Which interval leads from this note to the next?
    Interval,
    /// What comes next: its name or its place?
    Next,
    /// Is it in the scale and, if not, what is it?
    Scale,
    /// Where is the same note an octave away, in another position?
    Octave,
}

impl Kind {
    /// Every kind, in the order of the summary.
    pub const ALL: [Kind; 7] = [
        Kind::Place,
        Kind::Name,
        Kind::Degree,
        Kind::Interval,
        Kind::Next,
        Kind::Scale,
        Kind::Octave,
    ];

    /// The word used on the command line, on screens and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Place => "place",
            Kind::Name => "name",
            Kind::Degree => "degree",
            Kind::Interval => "interval",
            Kind::Next => "next",
            Kind::Scale => "scale",
            Kind::Octave => "octave",
        }
    }

    /// Whether the answer depends on the position of the hand; the other kinds are about the melody alone.
    pub const fn is_on_the_neck(self) -> bool {
        matches!(self, Kind::Place | Kind::Name | Kind::Next | Kind::Octave)
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Kind {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        Kind::ALL
            .into_iter()
            .find(|kind| kind.name() == text.to_lowercase())
            .ok_or_else(|| {
                ParseError::unreadable(
                    text,
                    "a kind of question: place, name, degree, interval, next, scale or octave",
                )
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_read_back() {
        for kind in Kind::ALL {
            assert_eq!(kind.name().parse(), Ok(kind));
        }
        assert!("fret".parse::<Kind>().is_err());
    }
}
