//! Questions, their right answers, and how an answer is judged.

use super::answer::{
    Answer, Unclear, read_degree, read_interval, read_name, read_name_and_degree, read_place,
    read_scale,
};
use super::kind::Kind;
use super::spot::Spot;
use crate::neck::{Instrument, Place};
use crate::theory::{Degree, Direction, Key, Membership, Pitch, PitchClass};

/// One question about one note of a melody.
///
/// Everything that decides what is right is in it, so that no answer depends on how the question came up.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Which note of the melody is asked about, counted from 0.
    pub note: usize,
    /// The position and octave it is asked in; none for questions about the melody alone.
    pub spot: Option<Spot>,
    /// What is asked.
    pub task: Task,
}

/// What is asked, with what the player is shown and what is right. Pitches are written pitch, where they are played.
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
        /// Its degree.
        degree: Degree,
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
        shown: Spot,
        /// The note to find.
        pitch: Pitch,
        /// Every place that gives it within reach of the position asked for; not empty.
        right: Vec<Place>,
    },
}

/// How an answer was judged.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Verdict {
    /// Right.
    Right,
    /// Right by ear, though spelled otherwise here: counted right, the spelling pointed out.
    Respelled,
    /// Wrong; perhaps something about it was right.
    Wrong(Option<Near>),
}

impl Verdict {
    /// Whether the answer counts as right.
    pub const fn is_right(self) -> bool {
        !matches!(self, Verdict::Wrong(_))
    }
}

/// What was right about a wrong answer.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Near {
    /// The place gives this very note, but not within reach of the position.
    OutOfReach,
    /// The place gives this note in another octave.
    OtherOctave,
    /// The note is right, its degree is not.
    NameRight,
    /// The degree is right, the note is not.
    DegreeRight,
    /// The interval is right, but it leads the other way.
    OtherWay,
}

impl Near {
    /// A remark for the player.
    pub const fn remark(self) -> &'static str {
        match self {
            Near::OutOfReach => "that is the note, but out of reach from this position",
            Near::OtherOctave => "that is the note in another octave",
            Near::NameRight => "the note is right, the degree is not",
            Near::DegreeRight => "the degree is right, the note is not",
            Near::OtherWay => "the interval is right, but it leads the other way",
        }
    }
}

impl Question {
    /// The kind of question.
    pub const fn kind(&self) -> Kind {
        match self.task {
            Task::Place { .. } => Kind::Place,
            Task::Name { .. } => Kind::Name,
            Task::Degree { .. } => Kind::Degree,
            Task::Interval { .. } => Kind::Interval,
            Task::Next { .. } => Kind::Next,
            Task::Scale { .. } => Kind::Scale,
            Task::Octave { .. } => Kind::Octave,
        }
    }

    /// Every place that is a right answer, the least awkward first; empty when no place is asked for.
    pub fn right_places(&self) -> &[Place] {
        match &self.task {
            Task::Place { right, .. } | Task::Next { right, .. } | Task::Octave { right, .. } => {
                right
            }
            Task::Name { .. }
            | Task::Degree { .. }
            | Task::Interval { .. }
            | Task::Scale { .. } => &[],
        }
    }

    /// The place the player is shown with the question, if any.
    pub const fn shown_place(&self) -> Option<Place> {
        match self.task {
            Task::Name { place, .. } | Task::Next { place, .. } | Task::Octave { place, .. } => {
                Some(place)
            }
            Task::Place { .. }
            | Task::Degree { .. }
            | Task::Interval { .. }
            | Task::Scale { .. } => None,
        }
    }

    /// Every right answer spelled as it is in the tune, the one to show first.
    pub fn right_answers(&self) -> Vec<Answer> {
        let mut answers: Vec<Answer> = Vec::new();
        match &self.task {
            Task::Place { .. } | Task::Octave { .. } => {}
            Task::Name { pitch, degree, .. } => {
                answers.push(Answer::NameAndDegree(pitch.class(), *degree));
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
            Task::Next { next, .. } => answers.push(Answer::Name(next.class())),
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

    /// Reads an answer as it was typed.
    ///
    /// # Errors
    ///
    /// When the text does not answer this kind of question; say why and ask again.
    pub fn read(&self, text: &str, instrument: &Instrument) -> Result<Answer, Unclear> {
        match &self.task {
            Task::Place { .. } | Task::Octave { .. } => {
                read_place(text, instrument).map(Answer::Place)
            }
            Task::Name { .. } => {
                read_name_and_degree(text).map(|(name, degree)| Answer::NameAndDegree(name, degree))
            }
            Task::Degree { .. } => read_degree(text).map(Answer::Degree),
            Task::Interval { .. } => {
                read_interval(text).map(|(size, direction)| Answer::Interval { size, direction })
            }
            Task::Next { .. } if text.contains(|c: char| c.is_ascii_digit()) => {
                read_place(text, instrument).map(Answer::Place)
            }
            Task::Next { .. } => match read_name(text) {
                Ok(name) => Ok(Answer::Name(name)),
                Err(_) => Err(Unclear::Expected(
                    "a note such as Eb, or a place such as 3 5",
                )),
            },
            Task::Scale { key, .. } => {
                let (inside, degree) = read_scale(text)?;
                let in_scale =
                    |degree: Degree| key.scale().iter().any(|note| key.degree(*note) == degree);
                Ok(match (inside, degree) {
                    (Some(false), Some(degree)) => Answer::Outside(degree),
                    (None, Some(degree)) if !in_scale(degree) => Answer::Outside(degree),
                    _ => Answer::Inside(degree),
                })
            }
        }
    }

    /// Judges an answer. An answer of another sort than the question asks for is wrong.
    ///
    /// ```
    /// use fretlib::practice::{Answer, Question, Task, Verdict};
    ///
    /// let task = Task::Degree { pitch: "Eb4".parse()?, key: "C minor".parse()? };
    /// let question = Question { note: 0, spot: None, task };
    /// assert_eq!(question.judge(Answer::Degree("b3".parse()?)), Verdict::Right);
    /// assert_eq!(question.judge(Answer::Degree("#2".parse()?)), Verdict::Respelled);
    /// assert_eq!(question.judge(Answer::Degree("3".parse()?)), Verdict::Wrong(None));
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn judge(&self, answer: Answer) -> Verdict {
        match (&self.task, answer) {
            (_, Answer::Place(place)) => {
                if self.right_places().contains(&place) {
                    Verdict::Right
                } else {
                    Verdict::Wrong(None)
                }
            }
            (Task::Name { pitch, degree, .. }, Answer::NameAndDegree(name, said)) => {
                let class = pitch.class();
                let by_ear = (
                    name.chroma() == class.chroma(),
                    said.semitones() == degree.semitones(),
                );
                match by_ear {
                    (true, true) if name == class && said == *degree => Verdict::Right,
                    (true, true) => Verdict::Respelled,
                    (true, false) => Verdict::Wrong(Some(Near::NameRight)),
                    (false, true) => Verdict::Wrong(Some(Near::DegreeRight)),
                    (false, false) => Verdict::Wrong(None),
                }
            }
            (Task::Next { next, .. }, Answer::Name(name)) => judge_name(next.class(), name),
            (Task::Degree { pitch, key }, Answer::Degree(said)) => {
                judge_degree(key.degree(pitch.class()), said)
            }
            (Task::Interval { from, to }, Answer::Interval { size, direction }) => {
                let truth = *to - *from;
                let sounds = i16::from(size.semitones());
                let by_ear = match direction {
                    None | Some(Direction::Same) => sounds == i16::from(truth.semitones()).abs(),
                    Some(Direction::Up) => sounds == i16::from(truth.semitones()),
                    Some(Direction::Down) => -sounds == i16::from(truth.semitones()),
                };
                let spelled = size == truth.size();
                if spelled && direction.is_none_or(|said| said == truth.direction()) {
                    Verdict::Right
                } else if by_ear {
                    Verdict::Respelled
                } else if spelled {
                    Verdict::Wrong(Some(Near::OtherWay))
                } else {
                    Verdict::Wrong(None)
                }
            }
            (Task::Scale { pitch, key }, Answer::Inside(said)) => {
                let degree = key.degree(pitch.class());
                let inside = key.membership(pitch.class()) == Membership::Scale;
                let inside_by_ear = key
                    .scale()
                    .iter()
                    .any(|note| note.chroma() == pitch.class().chroma());
                if !inside_by_ear {
                    return Verdict::Wrong(None);
                }
                match said {
                    None if inside => Verdict::Right,
                    None => Verdict::Respelled,
                    Some(said) => judge_degree(degree, said),
                }
            }
            (Task::Scale { pitch, key }, Answer::Outside(said)) => {
                match key.membership(pitch.class()) {
                    Membership::Scale => Verdict::Wrong(None),
                    Membership::Raised | Membership::Chromatic => {
                        judge_degree(key.degree(pitch.class()), said)
                    }
                }
            }
            _ => Verdict::Wrong(None),
        }
    }

    /// Judges an answer, and says of a wrong place what is right about it on this instrument.
    pub fn judge_on(&self, answer: Answer, instrument: &Instrument) -> Verdict {
        let verdict = self.judge(answer);
        let (Verdict::Wrong(None), Answer::Place(place)) = (verdict, answer) else {
            return verdict;
        };
        let midi_at = |place| instrument.midi_at(place);
        let right = self.right_places().first().copied().and_then(midi_at);
        Verdict::Wrong(match (right, midi_at(place)) {
            (Some(right), Some(given)) if right == given => Some(Near::OutOfReach),
            (Some(right), Some(given)) if (right - given) % 12 == 0 => Some(Near::OtherOctave),
            _ => None,
        })
    }
}

fn judge_name(truth: PitchClass, said: PitchClass) -> Verdict {
    if said == truth {
        Verdict::Right
    } else if said.chroma() == truth.chroma() {
        Verdict::Respelled
    } else {
        Verdict::Wrong(None)
    }
}

fn judge_degree(truth: Degree, said: Degree) -> Verdict {
    if said == truth {
        Verdict::Right
    } else if said.semitones() == truth.semitones() {
        Verdict::Respelled
    } else {
        Verdict::Wrong(None)
    }
}
