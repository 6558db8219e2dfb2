//! Some of the positions of a neck.

use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

use super::position::Position;
use crate::error::ParseError;

/// A set of positions, such as those a player practises: V to VII and X.
///
/// ```
/// use fretlib::neck::{Position, PositionSet};
///
/// let fifth: Position = "V".parse()?;
/// let tenth: Position = "X".parse()?;
/// let set: PositionSet = [fifth, tenth].into_iter().collect();
/// assert!(set.contains(tenth) && !set.contains("VII".parse()?));
/// assert_eq!(set.to_string(), "V, X");
/// assert_eq!(PositionSet::from(fifth..=tenth).to_string(), "V-X");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub struct PositionSet {
    // Bit n stands for position n; the highest is 33.
    bits: u64,
}

impl PositionSet {
    /// Whether a position is in the set.
    pub const fn contains(self, position: Position) -> bool {
        self.bits >> position.get() & 1 == 1
    }

    /// The positions of both sets.
    #[must_use]
    pub const fn union(self, other: PositionSet) -> PositionSet {
        PositionSet {
            bits: self.bits | other.bits,
        }
    }

    /// The positions, in ascending order.
    pub fn iter(self) -> impl Iterator<Item = Position> {
        let numbers = 1..=Position::HIGHEST;
        let all = numbers.filter_map(|number| Position::new(number).ok());
        all.filter(move |position| self.contains(*position))
    }
}

impl FromIterator<Position> for PositionSet {
    fn from_iter<T: IntoIterator<Item = Position>>(positions: T) -> Self {
        let bits = positions.into_iter().map(|position| 1 << position.get());
        PositionSet {
            bits: bits.fold(0, |all, bit: u64| all | bit),
        }
    }
}

impl From<Position> for PositionSet {
    fn from(position: Position) -> Self {
        [position].into_iter().collect()
    }
}

impl From<RangeInclusive<Position>> for PositionSet {
    fn from(range: RangeInclusive<Position>) -> Self {
        let numbers = range.start().get()..=range.end().get();
        numbers
            .filter_map(|number| Position::new(number).ok())
            .collect()
    }
}

impl fmt::Display for PositionSet {
    /// Neighbours as ranges: `II-IV, X`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let positions: Vec<Position> = self.iter().collect();
        let runs = positions.chunk_by(|before, after| before.get() + 1 == after.get());
        for (index, run) in runs.enumerate() {
            let comma = if index > 0 { ", " } else { "" };
            match run {
                [first, .., last] => write!(f, "{comma}{first}-{last}")?,
                _ => write!(f, "{comma}{}", run[0])?,
            }
        }
        Ok(())
    }
}

impl FromStr for PositionSet {
    type Err = ParseError;

    /// Reads positions and ranges of positions with commas between them: `V`, `2-9`, `II-IX, XII`.
    ///
    /// ```
    /// use fretlib::neck::PositionSet;
    ///
    /// assert_eq!("2-4,X".parse::<PositionSet>()?.to_string(), "II-IV, X");
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let part = |part: &str| -> Result<PositionSet, ParseError> {
            // The en dash is what a player's notes app makes of a hyphen.
            let (first, last) = part.split_once(['-', '–']).unwrap_or((part, part));
            let (first, last): (Position, Position) = (first.trim().parse()?, last.trim().parse()?);
            match first <= last {
                true => Ok((first..=last).into()),
                false => Err(ParseError::unreadable(
                    part,
                    "positions from the lower to the higher, such as V-X",
                )),
            }
        };
        text.split(',')
            .map(|word| part(word.trim()))
            .try_fold(PositionSet::default(), |all, more| Ok(all.union(more?)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_are_read_and_checked() {
        let read = |text: &str| text.parse::<PositionSet>();
        assert_eq!(read("II-IX").unwrap().iter().count(), 8);
        assert_eq!(read("V, X,12-13").unwrap().to_string(), "V, X, XII-XIII");
        for text in ["0-4", "V,", "", "X-V", "V;X"] {
            assert!(read(text).is_err(), "{text}");
        }
    }
}
