//! Questions and their right answers.

use std::ops::RangeInclusive;

use super::answer::Answer;
use super::arranged_question::ArrangedTask;
use super::kind::{Kind, Presentation};
use super::placement_key::PlacementKey;
use crate::neck::Place;
use crate::theory::{Key, Membership, Pitch};

/// One question about one note of a melody.
///
/// It contains everything that decides what is right, so that judging needs nothing else.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The index of the note that is asked about.
    pub note: usize,
    /// The position and octave it is asked in; `None` for questions about the melody alone.
    pub placement: Option<PlacementKey>,
    /// Whether it is shown or heard.
    pub presentation: Presentation,
    /// What is asked.
    pub task: Task,
}

/// One of the phrases that a heard one may be.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct PhraseChoice {
    /// The phrase, counted from 0.
    pub phrase: usize,
    /// Its bars, by their numbers.
    pub bars: RangeInclusive<u32>,
}

/// The question, with what the player is shown and what is right. Pitches are written pitch, as played in that octave.
#[derive(Clone, Debug, PartialEq)]
pub enum Task {
    /// Find the place of a note. Every place within reach is right.
    Place {
        /// The note.
        pitch: Pitch,
        /// Every place that gives it within reach of the hand, the least awkward first; not empty.
        right: Vec<Place>,
    },
    /// Name the note at a place, and its degree.
    Name {
        /// Where it is shown.
        place: Place,
        /// The note there.
        pitch: Pitch,
        /// The key in force.
        key: Key,
    },
    /// Name the degree of a note.
    Degree {
        /// The note.
        pitch: Pitch,
        /// The key.
        key: Key,
    },
    /// Name the interval from one note to the next.
    Interval {
        /// The note.
        from: Pitch,
        /// The one after it.
        to: Pitch,
    },
    /// Name the next note, or find its place.
    Next {
        /// Where the note is shown.
        place: Place,
        /// The note.
        pitch: Pitch,
        /// The one after it.
        next: Pitch,
        /// The key in force at the next one.
        key: Key,
        /// Every place that gives the next note within reach; not empty.
        right: Vec<Place>,
    },
    /// Say whether a note is in the scale and, if not, what it is.
    Scale {
        /// The note.
        pitch: Pitch,
        /// The key.
        key: Key,
    },
    /// Find the same note an octave away in another position.
    Octave {
        /// Where the note is shown.
        place: Place,
        /// The position and octave of that place.
        shown: PlacementKey,
        /// The note to find.
        pitch: Pitch,
        /// Every place that gives it within reach of the position asked for; not empty.
        right: Vec<Place>,
    },
    /// Say which of these phrases was heard.
    Phrase {
        /// The phrases, in the order of the tune, no two of which sound the same.
        choices: Vec<PhraseChoice>,
        /// Which of them it was, counted from 0.
        right: usize,
    },
    /// Say how an arrangement plays the note.
    Arranged(ArrangedTask),
}

impl Question {
    /// The index of the last note it is about: the next one where the way there is asked for.
    pub fn last_note(&self) -> usize {
        match self.task {
            Task::Interval { .. } | Task::Next { .. } => self.note + 1,
            Task::Place { .. }
            | Task::Name { .. }
            | Task::Degree { .. }
            | Task::Scale { .. }
            | Task::Octave { .. }
            | Task::Phrase { .. }
            | Task::Arranged(_) => self.note,
        }
    }

    /// The kind of question.
    pub fn kind(&self) -> Kind {
        let is_heard = self.is_heard();
        match self.task {
            Task::Place { .. } => Kind::Place,
            Task::Name { .. } => Kind::Name,
            Task::Degree { .. } if is_heard => Kind::DegreeByEar,
            Task::Degree { .. } => Kind::Degree,
            Task::Interval { .. } if is_heard => Kind::IntervalByEar,
            Task::Interval { .. } => Kind::Interval,
            Task::Next { .. } if is_heard => Kind::NextByEar,
            Task::Next { .. } => Kind::Next,
            Task::Scale { .. } if is_heard => Kind::ScaleByEar,
            Task::Scale { .. } => Kind::Scale,
            Task::Octave { .. } => Kind::Octave,
            Task::Phrase { .. } => Kind::PhraseByEar,
            Task::Arranged(ref task) => task.kind(),
        }
    }

    /// Whether it is put by ear.
    pub fn is_heard(&self) -> bool {
        self.presentation == Presentation::Heard
    }

    /// Every place that is a right answer, the least awkward first; empty when no place is asked for.
    pub fn right_places(&self) -> &[Place] {
        match &self.task {
            Task::Arranged(ArrangedTask::Line { right, .. }) => right,
            Task::Place { right, .. } | Task::Next { right, .. } | Task::Octave { right, .. } => {
                right
            }
            Task::Name { .. }
            | Task::Degree { .. }
            | Task::Interval { .. }
            | Task::Scale { .. }
            | Task::Phrase { .. }
            | Task::Arranged(_) => &[],
        }
    }

    /// The place the player is shown with the question, if any.
    pub const fn shown_place(&self) -> Option<Place> {
        match self.task {
            Task::Arranged(ArrangedTask::Line { place, .. }) => Some(place),
            Task::Name { place, .. } | Task::Next { place, .. } | Task::Octave { place, .. } => {
                Some(place)
            }
            Task::Place { .. }
            | Task::Degree { .. }
            | Task::Interval { .. }
            | Task::Scale { .. }
            | Task::Phrase { .. }
            | Task::Arranged(_) => None,
        }
    }

    /// Every right answer, spelled as in the tune, the one to show first.
    pub fn right_answers(&self) -> Vec<Answer> {
        let mut answers: Vec<Answer> = Vec::new();
        match &self.task {
            Task::Place { .. } | Task::Octave { .. } => {}
            Task::Arranged(task) => answers.extend(task.right_answer()),
            Task::Phrase { right, .. } => answers.push(Answer::Choice(*right as u32 + 1)),
            Task::Name { pitch, key, .. } => {
                let class = pitch.class();
                answers.push(Answer::NameAndDegree(class, key.degree(class)));
            }
            Task::Degree { pitch, key } => answers.push(Answer::Degree(key.degree(pitch.class()))),
            Task::Interval { from, to } => {
                let interval = *to - *from;
                answers.push(Answer::Interval {
                    size: interval.size(),
                    direction: Some(interval.direction()),
                });
                answers.push(Answer::Interval {
                    size: interval.size(),
                    direction: None,
                });
            }
            Task::Next { next, key, .. } => {
                answers.push(Answer::Name(next.class()));
                answers.push(Answer::Degree(key.degree(next.class())));
            }
            Task::Scale { pitch, key } => {
                let degree = key.degree(pitch.class());
                if key.membership(pitch.class()) == Membership::Scale {
                    answers.push(Answer::Inside(Some(degree)));
                    answers.push(Answer::Inside(None));
                } else {
                    answers.push(Answer::Outside(degree));
                }
            }
        }
        answers.extend(
            self.right_places()
                .iter()
                .map(|place| Answer::Place(*place)),
        );
        answers
    }
}
