//! The order in which the parts of a tune are played, as in `AABA`.

use std::fmt;
use std::ops::Range;
use std::str::FromStr;

use super::playing_order::{FormError, FormFault};
use super::{Quarters, Timeline};
use crate::error::ParseError;

/// The parts of a tune in the order in which they are played. Each is a letter that names a section.
///
/// A number repeats what stands before it, a letter or a group in brackets; dots and spaces only separate.
/// Source: ABC 2.1, 3.1.9, "P: parts" (from memory).
///
/// ```
/// use fretlib::melody::PartOrder;
///
/// assert_eq!("A2BA".parse::<PartOrder>()?.to_string(), "AABA");
/// assert_eq!("(AB)2 C".parse::<PartOrder>()?.to_string(), "ABABC");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct PartOrder {
    // Invariant: from 1 to `MOST` letters.
    letters: Vec<char>,
}

impl PartOrder {
    /// The most parts, each counted as often as it is played.
    pub const MOST: usize = 1000;

    /// The letters, one for each time a part is played.
    pub fn letters(&self) -> &[char] {
        &self.letters
    }

    /// Where the parts stand in the tune, in the order in which they are played. A part reaches to the next section.
    pub(super) fn stretches(
        &self,
        sections: &Timeline<String>,
        length: Quarters,
    ) -> Result<Vec<Range<Quarters>>, FormError> {
        let starts: Vec<(Quarters, &String)> = sections.iter().collect();
        let find = |letter: char| {
            let is_it = |(_, name): &(Quarters, &String)| name.chars().eq([letter]);
            let index = starts.iter().position(is_it)?;
            let start = starts[index].0;
            let end = starts.get(index + 1).map_or(length, |next| next.0);
            (start < end.min(length)).then(|| start..end.min(length))
        };
        let stretches = self.letters.iter().map(|letter| {
            find(*letter).ok_or(FormError {
                at: Quarters::ZERO,
                fault: FormFault::NoPart(*letter),
            })
        });
        stretches.collect()
    }
}

impl fmt::Display for PartOrder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.letters
            .iter()
            .try_for_each(|letter| write!(f, "{letter}"))
    }
}

impl FromStr for PartOrder {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable = || {
            ParseError::unreadable(
                text,
                "an order of at most 1000 parts such as AABA or (AB)2C",
            )
        };
        // Each open bracket with the letters ahead of it, and what the next number would repeat.
        let mut open: Vec<usize> = Vec::new();
        let mut letters: Vec<char> = Vec::new();
        let mut last: Option<usize> = None;
        let mut rest = text.chars().peekable();
        while let Some(sign) = rest.next() {
            match sign {
                'A'..='Z' | 'a'..='z' => {
                    last = Some(letters.len());
                    letters.push(sign);
                }
                '(' => {
                    last = None;
                    open.push(letters.len());
                }
                ')' => last = Some(open.pop().ok_or_else(unreadable)?),
                '1'..='9' => {
                    let mut count = sign.to_digit(10).unwrap_or(1) as usize;
                    while let Some(digit) = rest.peek().and_then(|it| it.to_digit(10)) {
                        count = (count * 10 + digit as usize).min(PartOrder::MOST + 1);
                        rest.next();
                    }
                    let repeated = letters[last.take().ok_or_else(unreadable)?..].to_vec();
                    if letters.len() + repeated.len() * (count - 1) > PartOrder::MOST {
                        return Err(unreadable());
                    }
                    for _ in 1..count {
                        letters.extend(&repeated);
                    }
                }
                '.' | ' ' => {}
                _ => return Err(unreadable()),
            }
            if letters.len() > PartOrder::MOST {
                return Err(unreadable());
            }
        }
        match letters.is_empty() || !open.is_empty() {
            true => Err(unreadable()),
            false => Ok(PartOrder { letters }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_repeat_a_letter_or_a_group() {
        let check = |text: &str, expected: &str| {
            let order: PartOrder = text.parse().unwrap();
            assert_eq!(order.to_string(), expected, "{text}");
            assert_eq!(expected.parse(), Ok(order), "{text}");
        };
        check("ABA", "ABA");
        check("A3B", "AAAB");
        check("A.B .C", "ABC");
        check("((AB)3.(CD)3)2", "ABABABCDCDCDABABABCDCDCD");
        check("A10", "AAAAAAAAAA");
    }

    #[test]
    fn other_text_is_refused() {
        for text in [
            "",
            "3A",
            "(AB",
            "AB)",
            "A-B",
            "(2A)",
            "A1001",
            "A22 3",
            "((((A99)99)99)99)99",
            "()2",
        ] {
            assert!(text.parse::<PartOrder>().is_err(), "{text}");
        }
    }
}
