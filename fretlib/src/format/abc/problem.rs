//! Errors in a line of music, and what to do about them.

use crate::format::limits::LARGEST_NUMBER;

/// Why a sign cannot be read.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Problem {
    /// A bracket, brace or quote is open at the end of the line.
    Unclosed(char),
    /// An accidental has no note after it.
    StrayAccidental,
    /// More than two sharps or flats, or both.
    BadAccidental,
    /// A number is not after a note or bar line.
    StrayNumber,
    /// A length or count of 0.
    Zero,
    /// A number above the limit.
    TooLarge,
    /// More than three signs of broken rhythm.
    TooBroken,
}

impl Problem {
    /// What is wrong, and what to do about it.
    pub fn explain(self) -> (String, &'static str) {
        match self {
            Problem::Unclosed(open) => (
                format!("`{open}` is not closed on this line"),
                "close it with its partner before the line ends",
            ),
            Problem::StrayAccidental => (
                "an accidental without a note".to_owned(),
                "write `^`, `_` or `=` right before the note, as in `^f`",
            ),
            Problem::BadAccidental => (
                "an accidental that does not exist".to_owned(),
                "use one of `^`, `^^`, `=`, `_`, `__`",
            ),
            Problem::StrayNumber => (
                "a number without a note".to_owned(),
                "write the length right after the note, as in `A2`",
            ),
            Problem::Zero => (
                "a length or count of nothing".to_owned(),
                "use a number from 1 on",
            ),
            Problem::TooLarge => (
                format!("a number above {LARGEST_NUMBER}"),
                "check the length of the note or rest",
            ),
            Problem::TooBroken => (
                "more than three signs of broken rhythm".to_owned(),
                "use `>`, `>>` or `>>>`, or write the lengths out",
            ),
        }
    }
}
