//! What can go wrong with a single value, before anyone knows which file it came from.

use thiserror::Error;

/// A number that is outside the range its type allows.
///
/// Small and `Copy`, so that `const` constructors can return it.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error("{what} {value} is not in the range {low} to {high}")]
pub struct OutOfRange {
    /// What the number counts, such as `fret`.
    pub what: &'static str,
    /// The number that was given.
    pub value: i64,
    /// The lowest number allowed.
    pub low: i64,
    /// The highest number allowed.
    pub high: i64,
}

/// A word that could not be read as a value of its type.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[non_exhaustive]
pub enum ParseError {
    /// The text is not in the notation of this type.
    #[error("expected {expected}, found `{found}`")]
    Unreadable {
        /// The text as it was given, cut to a readable length.
        found: String,
        /// What would have been read, with an example.
        expected: &'static str,
    },
    /// The text is well formed but names a value that does not exist.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
}

impl ParseError {
    /// An [`ParseError::Unreadable`] that quotes at most 40 characters of what was found.
    pub(crate) fn unreadable(found: &str, expected: &'static str) -> Self {
        let mut quoted: String = found.chars().take(40).filter(|c| !c.is_control()).collect();
        if found.chars().nth(40).is_some() {
            quoted.push('…');
        }
        ParseError::Unreadable {
            found: quoted,
            expected,
        }
    }
}

/// `Ok(())` when `value` lies in `low..=high`.
pub(crate) const fn check_range(
    what: &'static str,
    value: i64,
    low: i64,
    high: i64,
) -> Result<(), OutOfRange> {
    if value < low || value > high {
        return Err(OutOfRange {
            what,
            value,
            low,
            high,
        });
    }
    Ok(())
}
