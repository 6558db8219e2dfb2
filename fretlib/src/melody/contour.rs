//! The shape of a line of notes.

use crate::theory::Pitch;

/// How a line moves, judged by its first note, the average of what lies between, and its last note.
///
/// Source: D. Huron, "The Melodic Arch in Western Folksongs", Computing in Musicology 10 (1996), from memory; of its nine
/// types those that differ only in a level half are put together here.
///
/// ```
/// use fretlib::melody::Contour;
/// use fretlib::theory::Pitch;
///
/// let line = ["D4", "A4", "G4", "E4"].map(|name| name.parse::<Pitch>());
/// let line = line.into_iter().collect::<Result<Vec<Pitch>, _>>()?;
/// assert_eq!(Contour::of(&line), Contour::Arch);
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Contour {
    /// The middle lies above both ends.
    Arch,
    /// The middle lies below both ends.
    Valley,
    /// It ends higher than it began.
    Rising,
    /// It ends lower than it began.
    Falling,
    /// It ends where it began, and the middle lies there too.
    Level,
}

impl Contour {
    /// The contour of these notes; fewer than two are level.
    pub fn of(notes: &[Pitch]) -> Contour {
        let [first, middle @ .., last] = notes else {
            return Contour::Level;
        };
        let (first, last) = (i64::from(first.midi().get()), i64::from(last.midi().get()));
        let (sum, count) = match middle {
            [] => (first + last, 2),
            _ => (
                middle.iter().map(|it| i64::from(it.midi().get())).sum(),
                middle.len() as i64,
            ),
        };
        let above = |end: i64| sum > end * count;
        let below = |end: i64| sum < end * count;
        if above(first) && above(last) {
            Contour::Arch
        } else if below(first) && below(last) {
            Contour::Valley
        } else {
            match last - first {
                1.. => Contour::Rising,
                0 => Contour::Level,
                ..0 => Contour::Falling,
            }
        }
    }

    /// The word for it.
    pub const fn name(self) -> &'static str {
        match self {
            Contour::Arch => "arch",
            Contour::Valley => "valley",
            Contour::Rising => "rising",
            Contour::Falling => "falling",
            Contour::Level => "level",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_have_a_shape() {
        let cases = [
            ("", "level"),
            ("E4", "level"),
            ("E4 E4", "level"),
            ("E4 E4 E4", "level"),
            ("E4 D#4 F4 E4", "level"), // the middle is at E on average
            ("E4 G4", "rising"),
            ("E4 F4 G4 A4", "rising"),
            ("E4 E4 E4 G4", "rising"),
            ("G4 E4", "falling"),
            ("G4 G4 E4", "falling"),
            ("E4 G4 E4", "arch"),
            ("E4 G4 B4 F4", "arch"),
            ("E4 D4 E4", "valley"),
            ("B4 D4 C4 A4", "valley"),
        ];
        for (names, expected) in cases {
            let notes: Vec<Pitch> = names
                .split_whitespace()
                .map(|name| name.parse().unwrap())
                .collect();
            assert_eq!(Contour::of(&notes).name(), expected, "{names}");
        }
    }
}
