//! Values that stay in force until the next change.

use super::Quarters;

/// Values in force over time: the keys, meters, tempos or chords of a tune.
///
/// ```
/// use fretlib::melody::{Quarters, Timeline};
///
/// let mut chords = Timeline::default();
/// chords.set(Quarters::from(0), "Em");
/// chords.set(Quarters::from(4), "A7");
/// assert_eq!(chords.at(Quarters::new(7, 2)), Some(&"Em"));
/// assert_eq!(chords.at(Quarters::from(4)), Some(&"A7"));
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Timeline<T> {
    // Invariant: onsets rise strictly.
    changes: Vec<(Quarters, T)>,
}

impl<T> Default for Timeline<T> {
    fn default() -> Self {
        Timeline {
            changes: Vec::new(),
        }
    }
}

impl<T> Timeline<T> {
    /// One value from the start on.
    pub fn constant(value: T) -> Self {
        Timeline {
            changes: vec![(Quarters::from(0), value)],
        }
    }

    /// Puts `value` in force from `onset` until the next change, replacing one that begins at the same time.
    pub fn set(&mut self, onset: Quarters, value: T) {
        match self.changes.last() {
            Some((last, _)) if *last >= onset => {
                match self.changes.binary_search_by_key(&onset, |(at, _)| *at) {
                    Ok(index) => self.changes[index].1 = value,
                    Err(index) => self.changes.insert(index, (onset, value)),
                }
            }
            _ => self.changes.push((onset, value)),
        }
    }

    /// What is in force at `onset`, if anything began by then.
    pub fn at(&self, onset: Quarters) -> Option<&T> {
        let after = self.changes.partition_point(|(at, _)| *at <= onset);
        Some(&self.changes[after.checked_sub(1)?].1)
    }

    /// What begins exactly at `onset`, if anything does.
    pub fn on(&self, onset: Quarters) -> Option<&T> {
        let index = self
            .changes
            .binary_search_by_key(&onset, |(at, _)| *at)
            .ok()?;
        Some(&self.changes[index].1)
    }

    /// The changes from `start` to before `end`, in order.
    pub fn within(&self, start: Quarters, end: Quarters) -> &[(Quarters, T)] {
        let first = self.changes.partition_point(|(at, _)| *at < start);
        let after = self.changes.partition_point(|(at, _)| *at < end);
        &self.changes[first..after.max(first)]
    }

    /// The value that is in force first.
    pub fn first(&self) -> Option<&T> {
        self.changes.first().map(|(_, value)| value)
    }

    /// All changes in order, each with the onset from which it holds.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (Quarters, &T)> + ExactSizeIterator {
        self.changes.iter().map(|(onset, value)| (*onset, value))
    }

    /// True when nothing is ever in force.
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }

    /// What is in force from `start` to before `end`, with time counted from `start`.
    #[must_use]
    pub fn excerpt(&self, start: Quarters, end: Quarters) -> Timeline<T>
    where
        T: Clone,
    {
        let mut part = Timeline::default();
        if let Some(value) = self.at(start) {
            part.set(Quarters::from(0), value.clone());
        }
        for (onset, value) in self
            .iter()
            .filter(|(onset, _)| *onset > start && *onset < end)
        {
            part.set(onset - start, value.clone());
        }
        part
    }

    /// Copies what is in force from `start` to before `end` into another timeline, beginning there
    /// at `to`.
    pub(super) fn copy_part(
        &self,
        start: Quarters,
        end: Quarters,
        to: Quarters,
        line: &mut Timeline<T>,
    ) where
        T: Clone + PartialEq,
    {
        let begun = self.at(start).map(|value| (start, value.clone()));
        let changes = self
            .within(start, end)
            .iter()
            .filter(|(at, _)| *at > start)
            .cloned();
        for (at, value) in begun.into_iter().chain(changes) {
            let at = to + (at - start);
            if line.at(at) != Some(&value) {
                line.set(at, value);
            }
        }
    }

    /// The same changes, with `change` applied to every value.
    ///
    /// # Errors
    ///
    /// The first error that `change` gives.
    pub fn try_map<U, E>(
        &self,
        mut change: impl FnMut(&T) -> Result<U, E>,
    ) -> Result<Timeline<U>, E> {
        let changes = self
            .changes
            .iter()
            .map(|(onset, value)| Ok((*onset, change(value)?)))
            .collect::<Result<_, E>>()?;
        Ok(Timeline { changes })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_may_come_in_any_order() {
        let mut line = Timeline::default();
        for (onset, value) in [(4, 'b'), (0, 'a'), (8, 'd'), (8, 'c')] {
            line.set(Quarters::from(onset), value);
        }
        let changes: Vec<_> = line
            .iter()
            .map(|(at, value)| (at.to_integer(), *value))
            .collect();
        assert_eq!(changes, [(0, 'a'), (4, 'b'), (8, 'c')]);
        assert_eq!(line.at(Quarters::from(-1)), None);
        assert_eq!(line.at(Quarters::from(100)), Some(&'c'));
        assert_eq!(line.on(Quarters::from(4)), Some(&'b'));
        assert_eq!(line.on(Quarters::from(5)), None);
        assert_eq!(
            line.within(Quarters::from(1), Quarters::from(8)),
            [(Quarters::from(4), 'b')]
        );
    }
}
