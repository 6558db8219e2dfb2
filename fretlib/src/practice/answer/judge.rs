//! Judging answers, and what is right about a wrong one.

use super::Answer;
use crate::neck::Instrument;
use crate::practice::question::{Question, Task};
use crate::theory::{Degree, Direction, Key, Membership, PitchClass};

/// How an answer was judged.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Verdict {
    /// Right.
    Right,
    /// Right, but written differently here: counted as right, and the player is told how and why.
    Respelled(Respelling),
    /// Wrong; perhaps something about it was right.
    Wrong(Option<PartialCredit>),
}

impl Verdict {
    /// Whether the answer counts as right.
    pub const fn is_right(self) -> bool {
        !matches!(self, Verdict::Wrong(_))
    }
}

/// How a right answer differs from the way it is written here.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Respelling {
    /// It sounds the same: C# for Db.
    Enharmonic,
    /// Its degree is counted from the key's own scale: `#7` for the raised seventh of a minor key, which is 7 of the major
    /// scale on the same tonic.
    FromOwnScale,
}

/// What was right about a wrong answer.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum PartialCredit {
    /// The place gives the note, but out of reach of the position.
    OutOfReach,
    /// The place gives this note in another octave.
    OtherOctave,
    /// The note is right, its degree is not.
    NameRight,
    /// The degree is right, the note is not.
    DegreeRight,
    /// The interval is right, but it leads the other way.
    OtherWay,
    /// Some of it is right, but something is missing or too much.
    SomeRight,
    /// The place gives the note, but the arrangement plays it elsewhere.
    ElsewhereInArrangement,
}

impl PartialCredit {
    /// A remark for the player.
    pub const fn remark(self) -> &'static str {
        match self {
            PartialCredit::OutOfReach => "that is the note, but out of reach from this position",
            PartialCredit::OtherOctave => "that is the note in another octave",
            PartialCredit::NameRight => "the note is right, the degree is not",
            PartialCredit::DegreeRight => "the degree is right, the note is not",
            PartialCredit::SomeRight => "some of it is right, but not all",
            PartialCredit::ElsewhereInArrangement => {
                "that is the note, but the arrangement plays it elsewhere"
            }
            PartialCredit::OtherWay => "the interval is right, but it leads the other way",
        }
    }
}

impl Question {
    /// Judges an answer. An answer of another sort than the question asks for is wrong.
    ///
    /// ```
    /// use fretlib::practice::{Answer, Presentation, Question, Respelling, Task, Verdict};
    ///
    /// let task = Task::Degree { pitch: "Eb4".parse()?, key: "C minor".parse()? };
    /// let presentation = Presentation::Shown;
    /// let question = Question { note: 0, placement: None, presentation, task };
    /// assert_eq!(question.judge(Answer::Degree("b3".parse()?)), Verdict::Right);
    /// assert_eq!(
    ///     question.judge(Answer::Degree("#2".parse()?)),
    ///     Verdict::Respelled(Respelling::Enharmonic)
    /// );
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
            (Task::Name { pitch, key, .. }, Answer::NameAndDegree(name, said)) => {
                let degree = judge_degree(*key, pitch.class(), said);
                match (judge_name(pitch.class(), name), degree) {
                    (name, Verdict::Right) if name.is_right() => name,
                    (name, degree) if name.is_right() && degree.is_right() => degree,
                    (name, _) if name.is_right() => Verdict::Wrong(Some(PartialCredit::NameRight)),
                    (_, degree) if degree.is_right() => {
                        Verdict::Wrong(Some(PartialCredit::DegreeRight))
                    }
                    _ => Verdict::Wrong(None),
                }
            }
            (Task::Next { next, .. }, Answer::Name(name)) => judge_name(next.class(), name),
            (Task::Next { next, key, .. }, Answer::Degree(said)) => {
                judge_degree(*key, next.class(), said)
            }
            (Task::Degree { pitch, key }, Answer::Degree(said)) => {
                judge_degree(*key, pitch.class(), said)
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
                    Verdict::Respelled(Respelling::Enharmonic)
                } else if spelled {
                    Verdict::Wrong(Some(PartialCredit::OtherWay))
                } else {
                    Verdict::Wrong(None)
                }
            }
            (Task::Scale { pitch, key }, Answer::Inside(said)) => {
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
                    None => Verdict::Respelled(Respelling::Enharmonic),
                    Some(said) => judge_degree(*key, pitch.class(), said),
                }
            }
            (Task::Scale { pitch, key }, Answer::Outside(said)) => {
                match key.membership(pitch.class()) {
                    Membership::Scale => Verdict::Wrong(None),
                    Membership::Raised | Membership::Chromatic => {
                        judge_degree(*key, pitch.class(), said)
                    }
                }
            }
            (Task::Phrase { right, .. }, Answer::Choice(number)) => {
                match number.checked_sub(1) == Some(*right as u32) {
                    true => Verdict::Right,
                    false => Verdict::Wrong(None),
                }
            }
            (Task::Arranged(task), Answer::Tones(said)) => task.judge_tones(said),
            (Task::Arranged(task), Answer::Fingers(said)) => task.judge_fingers(said),
            _ => Verdict::Wrong(None),
        }
    }

    /// Judges an answer, and tells what is right about a wrong place on this instrument.
    pub fn judge_on(&self, answer: Answer, instrument: &Instrument) -> Verdict {
        let verdict = self.judge(answer);
        let (Verdict::Wrong(None), Answer::Place(place)) = (verdict, answer) else {
            return verdict;
        };
        let midi_at = |place| instrument.midi_at(place);
        let right = self.right_places().first().copied().and_then(midi_at);
        Verdict::Wrong(match (right, midi_at(place)) {
            (Some(right), Some(given)) if right == given => Some(match self.task {
                Task::Arranged(_) => PartialCredit::ElsewhereInArrangement,
                _ => PartialCredit::OutOfReach,
            }),
            (Some(right), Some(given)) if (right - given) % 12 == 0 => {
                Some(PartialCredit::OtherOctave)
            }
            _ => None,
        })
    }
}

fn judge_name(truth: PitchClass, said: PitchClass) -> Verdict {
    if said == truth {
        Verdict::Right
    } else if said.chroma() == truth.chroma() {
        Verdict::Respelled(Respelling::Enharmonic)
    } else {
        Verdict::Wrong(None)
    }
}

fn judge_degree(key: Key, class: PitchClass, said: Degree) -> Verdict {
    let truth = key.degree(class);
    if said == truth {
        Verdict::Right
    } else if from_own_scale(key, said) == Some(truth) {
        Verdict::Respelled(Respelling::FromOwnScale)
    } else if said.semitones() == truth.semitones() {
        Verdict::Respelled(Respelling::Enharmonic)
    } else {
        Verdict::Wrong(None)
    }
}

/// The meaning of a sharpened degree for a player who counts from the key's own scale, where that step is flat: `#7` in
/// a minor key is 7. Without a sharp it could mean either, so it is read as the screens write it.
fn from_own_scale(key: Key, said: Degree) -> Option<Degree> {
    if said.alteration() <= 0 {
        return None;
    }
    let own = key
        .scale()
        .map(|class| key.degree(class))
        .into_iter()
        .find(|own| own.number() == said.number() && own.alteration() < 0)?;
    Degree::from_fifths(said.fifths() + 7 * own.alteration()).ok()
}
