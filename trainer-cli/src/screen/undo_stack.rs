//! The way back, and forth again.

/// Earlier states of a value and those that were taken back.
#[derive(Clone, Debug)]
pub struct UndoStack<T> {
    earlier: Vec<T>,
    taken_back: Vec<T>,
}

/// The most states that are remembered.
const MOST: usize = 1_000;

impl<T> Default for UndoStack<T> {
    fn default() -> UndoStack<T> {
        UndoStack {
            earlier: Vec::new(),
            taken_back: Vec::new(),
        }
    }
}

impl<T: Clone> UndoStack<T> {
    /// Remembers a state that is about to change. What was taken back before is forgotten.
    pub fn keep(&mut self, state: &T) {
        if self.earlier.len() == MOST {
            self.earlier.remove(0);
        }
        self.earlier.push(state.clone());
        self.taken_back.clear();
    }

    /// The state before this one.
    pub fn back(&mut self, now: &T) -> Option<T> {
        let before = self.earlier.pop()?;
        self.taken_back.push(now.clone());
        Some(before)
    }

    /// The state that was taken back last.
    pub fn forth(&mut self, now: &T) -> Option<T> {
        let after = self.taken_back.pop()?;
        self.earlier.push(now.clone());
        Some(after)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn states_come_back_and_forth_until_another_way_is_taken() {
        let mut undo = UndoStack::default();
        assert_eq!(undo.back(&0), None);
        undo.keep(&0);
        undo.keep(&1);
        assert_eq!(undo.back(&2), Some(1));
        assert_eq!(undo.back(&1), Some(0));
        assert_eq!(undo.back(&0), None);
        assert_eq!(undo.forth(&0), Some(1));
        undo.keep(&1);
        assert_eq!(undo.forth(&7), None);
        assert_eq!(undo.back(&7), Some(1));
    }
}
