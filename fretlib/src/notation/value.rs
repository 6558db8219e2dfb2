//! Note values: whole, half, quarter and so on.

use crate::melody::Quarters;

/// A note value without dots, as a power of two: 0 is a whole note, 2 a quarter, −1 a breve.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub struct Value(i8);

impl Value {
    /// A whole note.
    pub const WHOLE: Value = Value(0);
    /// An eighth note, the longest that is beamed.
    pub const EIGHTH: Value = Value(3);
    const BREVE: Value = Value(-1);
    const SHORTEST: Value = Value(6);

    /// The power of two.
    pub const fn power(self) -> i8 {
        self.0
    }

    /// How many flags or beams it has.
    pub const fn flags(self) -> u8 {
        if self.0 > 2 { self.0 as u8 - 2 } else { 0 }
    }

    /// How long it lasts.
    pub fn duration(self) -> Quarters {
        if self.0 <= 2 {
            Quarters::from(1 << (2 - self.0))
        } else {
            Quarters::new(1, 1 << (self.0 - 2))
        }
    }

    /// The value, plain or with one dot, that lasts this long.
    pub(super) fn exactly(duration: Quarters) -> Option<(Value, u8)> {
        (Value::BREVE.0..=Value::SHORTEST.0)
            .map(Value)
            .find_map(|value| {
                let plain = value.duration();
                if plain == duration {
                    Some((value, 0))
                } else {
                    (plain * Quarters::new(3, 2) == duration).then_some((value, 1))
                }
            })
    }

    /// The longest plain value that is not longer; the shortest there is for less.
    pub(super) fn within(duration: Quarters) -> Value {
        (Value::BREVE.0..Value::SHORTEST.0)
            .map(Value)
            .find(|value| value.duration() <= duration)
            .unwrap_or(Value::SHORTEST)
    }
}
