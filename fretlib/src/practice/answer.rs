//! Answers: what a player may say, how it is typed, and how it is judged.

mod judge;
mod normalise;

use std::fmt;

use thiserror::Error;

use super::arranged_question::{ChordToneSet, FingerSet};
use crate::neck::{Fret, Place};
use crate::theory::{Degree, Direction, Interval, PitchClass};

pub use judge::{PartialCredit, Respelling, Verdict};

/// What a player answered.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Answer {
    /// A string and a fret.
    Place(Place),
    /// A note, its octave left out.
    Name(PitchClass),
    /// A note and its degree of the key.
    NameAndDegree(PitchClass, Degree),
    /// A degree of the key.
    Degree(Degree),
    /// An interval, with its direction if the player gave one.
    Interval {
        /// Its size, upwards.
        size: Interval,
        /// Its direction.
        direction: Option<Direction>,
    },
    /// It is one of the scale's seven notes; with its degree, if the player gave one.
    Inside(Option<Degree>),
    /// It is outside the scale: this degree.
    Outside(Degree),
    /// Degrees of a chord.
    Tones(ChordToneSet),
    /// Fingers.
    Fingers(FingerSet),
    /// One of the choices, counted from 1.
    Choice(u32),
}

impl fmt::Display for Answer {
    /// The answer as it is usually typed.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Answer::Place(place) if place.fret == Fret::OPEN => {
                write!(f, "string {} open", place.string)
            }
            Answer::Place(place) => write!(f, "string {}, fret {}", place.string, place.fret),
            Answer::Name(class) => write!(f, "{class}"),
            Answer::NameAndDegree(class, degree) => write!(f, "{class} {degree}"),
            Answer::Degree(degree) => write!(f, "{degree}"),
            Answer::Interval { size, direction } => match direction {
                Some(Direction::Up) => write!(f, "{} up", size.name()),
                Some(Direction::Down) => write!(f, "{} down", size.name()),
                Some(Direction::Same) | None => f.write_str(&size.name()),
            },
            Answer::Inside(None) => f.write_str("yes"),
            Answer::Inside(Some(degree)) => write!(f, "yes, {degree}"),
            Answer::Outside(degree) => write!(f, "no, {degree}"),
            Answer::Tones(tones) => write!(f, "{tones}"),
            Answer::Fingers(fingers) => write!(f, "{fingers}"),
            Answer::Choice(number) => write!(f, "{number}"),
        }
    }
}

/// Why an answer was not understood; the question is asked again and nothing is counted.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[non_exhaustive]
pub enum AnswerError {
    /// The text is not an answer of this sort.
    #[error("expected {0}")]
    Expected(&'static str),
    /// The text can be read in two ways.
    #[error(
        "that can be read in two ways: write notes in capitals, and a comma between a note and its degree"
    )]
    TwoWays,
    /// An interval without its quality.
    #[error("of which kind is it, major or minor?")]
    Quality,
    /// "No" without a degree.
    #[error("and which degree is it, such as #4?")]
    WhichDegree,
    /// A choice there is not.
    #[error("expected a number from 1 to {0}")]
    NoChoice(usize),
    /// A string the instrument does not have.
    #[error("there is no string {0} here")]
    NoString(u32),
    /// A fret the instrument does not have.
    #[error("there is no fret {0} here")]
    NoFret(u32),
    /// A string named by a note that no open string has.
    #[error("no open string here is {0}")]
    NoStringOfName(PitchClass),
    /// A string named by a note that two open strings have.
    #[error("there is more than one {0} string: say which, such as high {0} or low {0}")]
    WhichString(PitchClass),
}
