//! Notes stacked on each other: `[CEG]2`.

use super::note_length::Length;
use crate::theory::Pitch;

/// A stack while it is being read; its top note is the melody.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stack {
    /// Where it begins in the file.
    pub at: usize,
    length: Option<Length>,
    top: Option<Pitch>,
    is_last_top: bool,
    is_top_tied: bool,
}

impl Stack {
    pub fn new(at: usize) -> Stack {
        Stack {
            at,
            length: None,
            top: None,
            is_last_top: false,
            is_top_tied: false,
        }
    }

    /// Adds a note; an unplayable pitch still takes its duration.
    pub fn note(&mut self, pitch: Option<Pitch>, length: Length) {
        self.rest(length);
        self.is_last_top = match (self.top, pitch) {
            (Some(top), Some(pitch)) => pitch.midi() > top.midi(),
            (None, pitch) => pitch.is_some(),
            (Some(_), None) => false,
        };
        if self.is_last_top {
            self.top = pitch;
            self.is_top_tied = false;
        }
    }

    /// Adds a rest, which has only a length.
    pub fn rest(&mut self, length: Length) {
        self.length = self.length.or(Some(length));
        self.is_last_top = false;
    }

    /// Ties the note added last.
    pub fn tie(&mut self) {
        self.is_top_tied |= self.is_last_top;
    }

    /// Its duration, that of its first note; `None` while it is empty.
    ///
    /// Source: ABC 2.1, 4.17 (from memory).
    pub fn length(&self) -> Option<Length> {
        self.length
    }

    /// The highest note, and whether it is tied to the next.
    pub fn top(&self) -> (Option<Pitch>, bool) {
        (self.top, self.is_top_tied)
    }
}
