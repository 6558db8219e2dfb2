//! Answers given by playing: what was heard, read as an answer.

use super::answer::Answer;
use super::kind::Kind;
use super::question::{Question, Task};
use crate::neck::{Instrument, Place};
use crate::theory::{Interval, Key, Membership, Pitch, PitchClass};

impl Kind {
    /// Whether a question of this kind can be answered by playing: it asks for a place, or is heard.
    ///
    /// Which of several phrases was heard is not: nobody plays a whole phrase to say so.
    pub fn is_playable(self) -> bool {
        match self {
            Kind::Place | Kind::Next | Kind::Octave | Kind::Line => true,
            Kind::IntervalByEar | Kind::DegreeByEar | Kind::ScaleByEar | Kind::NextByEar => true,
            Kind::Name | Kind::Degree | Kind::Interval | Kind::Scale => false,
            Kind::PhraseByEar | Kind::Under | Kind::Stays | Kind::LeftOut => false,
            // A whole phrase is no answer to a question.
            Kind::Play => false,
        }
    }
}

impl Question {
    /// What was played, read as an answer; `None` while it is not enough, or where the question is of a kind that is
    /// not answered by playing ([`Kind::is_playable`]).
    ///
    /// `played` are written pitches in order. A place cannot be heard: the first right place with this pitch stands for it, or
    /// else any place that has it. Of an interval both notes are played.
    ///
    /// ```
    /// use fretlib::neck::Instrument;
    /// use fretlib::practice::{Answer, Presentation, Question, Task};
    ///
    /// let task = Task::Place { pitch: "A4".parse()?, right: vec!["3:2".parse()?] };
    /// let presentation = Presentation::Shown;
    /// let question = Question { note: 0, placement: None, presentation, task };
    /// let guitar = Instrument::default();
    /// let answer = question.answer_played(&["A4".parse()?], &guitar);
    /// assert_eq!(answer, Some(Answer::Place("3:2".parse()?)));
    /// assert_eq!(question.answer_played(&[], &guitar), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn answer_played(&self, played: &[Pitch], instrument: &Instrument) -> Option<Answer> {
        if !self.kind().is_playable() {
            return None;
        }
        let last = *played.last()?;
        match &self.task {
            Task::Interval { from, to } => {
                let [.., first, second] = *played else {
                    return None;
                };
                let (heard, right) = (second - first, *to - *from);
                // As many semitones are the same interval, however it is spelled.
                let interval: Interval = match heard.semitones() == right.semitones() {
                    true => right,
                    false => heard,
                };
                Some(Answer::Interval {
                    size: interval.size(),
                    direction: Some(interval.direction()),
                })
            }
            Task::Degree { pitch, key } => Some(Answer::Degree(key.degree(spelled(last, *pitch)))),
            Task::Scale { pitch, key } => Some(membership(*key, spelled(last, *pitch))),
            Task::Place { .. } | Task::Octave { .. } | Task::Next { .. } | Task::Arranged(_) => {
                let right = self.right_places();
                let places: Vec<Place> = instrument.places_for(last.midi()).collect();
                let place = places.iter().find(|place| right.contains(place));
                let place = place.or(places.first()).copied();
                Some(place.map_or(Answer::Name(last.class()), Answer::Place))
            }
            Task::Name { .. } | Task::Phrase { .. } => None,
        }
    }
}

/// The name of a note that was heard, as the tune spells it where it is the note asked about.
fn spelled(heard: Pitch, asked: Pitch) -> PitchClass {
    let semitones = (heard - asked).semitones();
    match semitones % 12 == 0 {
        true => asked.class(),
        false => heard.class(),
    }
}

fn membership(key: Key, class: PitchClass) -> Answer {
    let degree = key.degree(class);
    match key.membership(class) == Membership::Scale {
        true => Answer::Inside(Some(degree)),
        false => Answer::Outside(degree),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::{Presentation, Verdict};

    /// A question, what is played, and whether it is right; `None` when more is waited for.
    fn check(presentation: Presentation, task: Task, played: &str, right: Option<bool>) {
        let question = Question {
            note: 0,
            placement: None,
            presentation,
            task,
        };
        let notes: Vec<Pitch> = played
            .split_whitespace()
            .map(|it| it.parse().unwrap())
            .collect();
        let guitar = Instrument::default();
        let verdict = question
            .answer_played(&notes, &guitar)
            .map(|answer| question.judge_on(answer, &guitar));
        assert_eq!(
            verdict.map(Verdict::is_right),
            right,
            "{question:?} {played}"
        );
    }

    #[test]
    fn what_is_played_is_judged_by_its_pitch() {
        let place = || Task::Place {
            pitch: "Db5".parse().unwrap(),
            right: vec!["2:2".parse().unwrap()],
        };
        let shown = Presentation::Shown;
        check(shown, place(), "", None);
        check(shown, place(), "C#5", Some(true)); // however it is spelled
        check(shown, place(), "C5 Db5", Some(true)); // the last one counts
        check(shown, place(), "D5", Some(false));
        check(shown, place(), "Db4", Some(false)); // another octave is another place
        check(shown, place(), "C2", Some(false)); // below the neck
        let interval = || Task::Interval {
            from: "G4".parse().unwrap(),
            to: "Bb4".parse().unwrap(),
        };
        let heard = Presentation::Heard;
        check(heard, interval(), "G4", None);
        check(heard, interval(), "G4 A#4", Some(true));
        check(heard, interval(), "D4 F4", Some(true)); // from any note
        check(heard, interval(), "Bb4 G4", Some(false)); // the other way
        check(shown, interval(), "G4 Bb4", None); // is asked about its name
        let degree = || Task::Degree {
            pitch: "Gb4".parse().unwrap(),
            key: "Bb major".parse().unwrap(),
        };
        check(heard, degree(), "F#3", Some(true)); // a degree has no octave
        check(heard, degree(), "F4", Some(false));
        let scale = || Task::Scale {
            pitch: "E4".parse().unwrap(),
            key: "Bb major".parse().unwrap(),
        };
        check(heard, scale(), "E4", Some(true));
        check(heard, scale(), "Eb4", Some(false));
    }
}
