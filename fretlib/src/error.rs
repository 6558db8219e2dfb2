//! What can go wrong with a single value, before anyone knows which file it came from.

use std::fmt;

/// Makes a type an error that its `Display` describes completely, and converts the errors it wraps into it.
///
/// The core writes this itself: deriving it takes six crates, and more time than all the rest of the core.
macro_rules! is_error {
    ($error:ty $(, $variant:ident($wrapped:ty))*) => {
        impl std::error::Error for $error {}
        $(
            impl From<$wrapped> for $error {
                fn from(error: $wrapped) -> Self {
                    <$error>::$variant(error)
                }
            }
        )*
    };
}

pub(crate) use is_error;

/// A number that is outside the range its type allows.
///
/// Small and `Copy`, so that `const` constructors can return it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
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

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} {} is not in the range {} to {}",
            self.what, self.value, self.low, self.high
        )
    }
}

is_error!(OutOfRange);

/// A word that could not be read as a value of its type.
#[derive(Clone, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub enum ParseError {
    /// The text is not in the notation of this type.
    Unreadable {
        /// The text as it was given, cut to a readable length.
        found: String,
        /// What would have been read, with an example.
        expected: &'static str,
    },
    /// The text is well formed but names a value that does not exist.
    OutOfRange(OutOfRange),
}

impl fmt::Display for ParseError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ParseError::Unreadable { found, expected } => {
                write!(f, "expected {expected}, found `{found}`")
            }
            ParseError::OutOfRange(error) => error.fmt(f),
        }
    }
}

is_error!(ParseError, OutOfRange(OutOfRange));

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
