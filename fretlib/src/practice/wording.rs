//! Questions, answers and verdicts in words. On screens a note is a letter with its place; octave numbers stay in files.

use std::ops::RangeInclusive;

use super::answer::{Answer, Respelling, Verdict};
use super::material::PracticeMaterial;
use super::placement_key::PlacementKey;
use super::question::{Question, Task};
use super::strip::PhraseStrip;
use crate::neck::{Fret, Place};
use crate::theory::{Degree, Direction, Interval, Key, Membership, Mode, Octave, Pitch};

/// A question in words, in the parts that screens set apart.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Wording {
    /// Where in the tune and on the neck: `bar 3, beat 2 · position V, an octave higher`.
    pub whereabouts: String,
    /// The question itself: `Where is the high Eb?`
    pub question: String,
    /// The form of an answer: `string and fret, such as 3 5`.
    pub form: &'static str,
}

impl Question {
    /// The question in words. Nothing in it gives the answer away.
    pub fn wording(&self, material: &PracticeMaterial) -> Wording {
        let note = || match self.is_heard() {
            true => "the last note".into(),
            false => note_in_words(material, self.note),
        };
        let (question, form) = match &self.task {
            Task::Place { .. } => (format!("Where is {}?", note()), PLACE),
            Task::Name { place, key, .. } => (
                format!(
                    "Which note is on {}, and which degree of {key} is it?",
                    place_in_words(*place)
                ),
                "note and degree, such as Eb b3",
            ),
            Task::Degree { key, .. } => (
                format!("Which degree of {key} is {}?", note()),
                "degree, such as b3",
            ),
            Task::Interval { .. } if self.is_heard() => {
                ("Which interval do you hear?".into(), INTERVAL)
            }
            Task::Interval { .. } => (
                format!("Which interval leads from {} to the next note?", note()),
                INTERVAL,
            ),
            Task::Next { place, .. } if self.is_heard() => (
                format!(
                    "Where is the note that comes next? The last one you hear is on {}.",
                    place_in_words(*place)
                ),
                NEXT,
            ),
            Task::Next { pitch, place, .. } => (
                format!(
                    "What comes after the {} on {}?",
                    pitch.class(),
                    place_in_words(*place)
                ),
                NEXT,
            ),
            Task::Arranged(task) => task.in_words(),
            Task::Phrase { .. } => (
                "Which of these phrases do you hear?".into(),
                "its number, such as 2",
            ),
            Task::Scale { key, .. } => {
                let scale = match key.mode() {
                    Mode::Minor => format!("{} natural minor", key.tonic()),
                    _ => key.to_string(),
                };
                // By ear it may be a semitone off, and the player knows the tune.
                let changed = match self.is_heard() {
                    true => " It may differ from the tune's.",
                    false => "",
                };
                (
                    format!(
                        "Is {} in the scale of {scale}? If not, which degree is it?{changed}",
                        note()
                    ),
                    "yes, or no and the degree, such as no #4",
                )
            }
            Task::Octave {
                pitch,
                place,
                shown,
                ..
            } => {
                let way = match self.placement {
                    Some(placement) if placement.octave < shown.octave => "lower",
                    _ => "higher",
                };
                (
                    format!(
                        "{} is on {} in position {}. Where is it an octave {way}?",
                        pitch.class(),
                        place_in_words(*place),
                        shown.position
                    ),
                    PLACE,
                )
            }
        };
        Wording {
            whereabouts: self.whereabouts(material),
            question,
            form,
        }
    }

    /// Bar and beat, then position and octave when the question is asked somewhere on the neck.
    fn whereabouts(&self, material: &PracticeMaterial) -> String {
        let mut text = String::new();
        // Where a phrase stands would say which it is.
        if let Task::Phrase { .. } = self.task {
            return "by ear".into();
        }
        if let Some(note) = material.notes().get(self.note) {
            let beat = material.melody().beat_at(note.note.onset);
            text = format!("bar {}, beat {beat}", beat.bar);
            let section = material.melody().sections().at(note.note.onset);
            if let Some(section) = section.filter(|section| !section.is_empty()) {
                text.push_str(&format!(" · section {section}"));
            }
        }
        if let Some(placement) = self.placement {
            text.push_str(&format!(" · {}", placement.in_words()));
        }
        if self.is_heard() {
            text.push_str(" · by ear");
        }
        text
    }

    /// What there is to choose from, a line each: `1  bars 5-8: D  F  Bb | C`; empty when nothing is to be chosen.
    pub fn choices(&self, material: &PracticeMaterial, width: usize) -> Vec<String> {
        let Task::Phrase { choices, .. } = &self.task else {
            return Vec::new();
        };
        let lines = choices.iter().enumerate().map(|(index, choice)| {
            let names = PhraseStrip::of_phrase(choice.phrase, material).names();
            let line = format!("{}  {}: {names}", index + 1, bars_in_words(&choice.bars));
            match line.chars().count() > width {
                true => line
                    .chars()
                    .take(width.saturating_sub(3))
                    .chain("...".chars())
                    .collect(),
                false => line,
            }
        });
        lines.collect()
    }

    /// The right answer as a sentence: `it is the 6th`, `D: string 5, fret 17`.
    pub fn answer_in_words(&self) -> String {
        let places = || {
            let places = self.right_places().iter().map(|it| place_in_words(*it));
            places.collect::<Vec<_>>().join(" or ")
        };
        match &self.task {
            Task::Place { pitch, .. } | Task::Octave { pitch, .. } => {
                format!("{}: {}", pitch.class(), places())
            }
            Task::Name { pitch, key, .. } => {
                let degree = degree_in_words(key.degree(pitch.class()));
                format!("it is {}, {degree}", pitch.class())
            }
            Task::Degree { pitch, key } if self.is_heard() => {
                let degree = degree_in_words(key.degree(pitch.class()));
                format!("it is {degree}, {}", pitch.class())
            }
            Task::Degree { pitch, key } => {
                format!("it is {}", degree_in_words(key.degree(pitch.class())))
            }
            Task::Interval { from, to } if self.is_heard() => format!(
                "it is {}, from {} to {}",
                interval_in_words(*to - *from),
                from.class(),
                to.class()
            ),
            Task::Interval { from, to } => format!("it is {}", interval_in_words(*to - *from)),
            Task::Arranged(task) => task.answer_in_words(),
            Task::Phrase { choices, right } => {
                let bars = choices.get(*right).map(|it| bars_in_words(&it.bars));
                format!("it is {}, {}", right + 1, bars.unwrap_or_default())
            }
            Task::Next { next, key, .. } => {
                let degree = degree_in_words(key.degree(next.class()));
                format!("it is {}, {degree}: {}", next.class(), places())
            }
            Task::Scale { pitch, key } => {
                let degree = key.degree(pitch.class());
                match key.membership(pitch.class()) {
                    Membership::Scale => format!("it is in the scale, {}", degree_in_words(degree)),
                    Membership::Raised => {
                        format!("it is outside the natural scale, the raised {degree}")
                    }
                    Membership::Chromatic => {
                        format!("it is outside the scale, {}", degree_in_words(degree))
                    }
                }
            }
        }
    }

    /// The right answer as it stands in a key: `string 5, fret 17`, `b7`, `minor third down`.
    pub fn answer_on_paper(&self) -> String {
        match &self.task {
            Task::Degree { pitch, key } => key.degree(pitch.class()).to_string(),
            Task::Interval { from, to } => sized_in_words(*to - *from),
            Task::Place { right, .. } | Task::Octave { right, .. } => {
                let places = right.iter().map(|it| place_in_words(*it));
                places.collect::<Vec<_>>().join(" or ")
            }
            Task::Name { .. }
            | Task::Next { .. }
            | Task::Scale { .. }
            | Task::Phrase { .. }
            | Task::Arranged(_) => self.answer_in_words(),
        }
    }

    /// What the player is told: `yes, it is the 6th`, `no, D: string 5, fret 17`; without a verdict only the answer.
    pub fn verdict_in_words(&self, verdict: Option<Verdict>) -> String {
        let answer = self.answer_in_words();
        match verdict {
            Some(Verdict::Right | Verdict::Respelled(_)) => format!("yes, {answer}"),
            Some(Verdict::Wrong(_)) => format!("no, {answer}"),
            None => answer,
        }
    }

    /// What to add to a verdict; nothing when the answer was simply right or wrong.
    pub fn remark(&self, verdict: Verdict) -> Option<String> {
        match verdict {
            Verdict::Respelled(respelling) => Some(self.respelled(respelling)),
            Verdict::Wrong(Some(credit)) => Some(credit.remark().to_string()),
            Verdict::Right | Verdict::Wrong(None) => None,
        }
    }

    fn respelled(&self, respelling: Respelling) -> String {
        let answers = self.right_answers();
        let spelled = answers.first().map(Answer::to_string).unwrap_or_default();
        match (respelling, self.key()) {
            (Respelling::FromOwnScale, Some(key)) => format!(
                "counted from the scale of {key} that is right; here degrees are counted from {} major: {spelled}",
                key.tonic()
            ),
            (Respelling::Enharmonic, Some(key)) => {
                format!("it sounds the same, but in {key} it is written {spelled}")
            }
            (_, None) => format!("it sounds the same, but here it is written {spelled}"),
        }
    }

    /// The key that decides the spelling of the answer.
    const fn key(&self) -> Option<Key> {
        match self.task {
            Task::Name { key, .. }
            | Task::Degree { key, .. }
            | Task::Scale { key, .. }
            | Task::Next { key, .. } => Some(key),
            Task::Place { .. }
            | Task::Interval { .. }
            | Task::Octave { .. }
            | Task::Phrase { .. }
            | Task::Arranged(_) => None,
        }
    }
}

const INTERVAL: &str = "interval, such as m3, P5 down or major second";
const NEXT: &str = "note, degree or place, such as Eb, b3 or 3 5";
const PLACE: &str = "string and fret, such as 3 5";

impl PlacementKey {
    /// `position V`, `position VII, an octave higher`, `position I, 2 octaves lower`.
    pub fn in_words(self) -> String {
        if self.octave == Octave::WRITTEN {
            format!("position {}", self.position)
        } else {
            format!("position {}, {}", self.position, self.octave.in_words())
        }
    }
}

/// `D`, or `the high D` when the melody has several: a letter with its place.
fn note_in_words(material: &PracticeMaterial, note: usize) -> String {
    let Some(pitch) = material.notes().get(note).map(|it| it.note.pitch) else {
        return String::new();
    };
    let class = pitch.class();
    let alike = material.notes().iter().map(|it| it.note.pitch);
    let octaves: std::collections::BTreeSet<i8> = alike
        .filter(|other| other.class() == class)
        .map(Pitch::octave)
        .collect();
    let is_lowest = octaves.first() == Some(&pitch.octave());
    let is_highest = octaves.last() == Some(&pitch.octave());
    match (octaves.len(), is_lowest, is_highest) {
        (0 | 1, ..) => class.to_string(),
        (_, true, _) => format!("the low {class}"),
        (_, _, true) => format!("the high {class}"),
        _ => format!("the middle {class}"),
    }
}

/// `bar 5`, `bars 5-8`.
fn bars_in_words(bars: &RangeInclusive<u32>) -> String {
    match bars.start() == bars.end() {
        true => format!("bar {}", bars.start()),
        false => format!("bars {}-{}", bars.start(), bars.end()),
    }
}

pub(super) fn place_in_words(place: Place) -> String {
    if place.fret == Fret::OPEN {
        format!("string {}, open", place.string)
    } else {
        format!("string {}, fret {}", place.string, place.fret)
    }
}

/// `the tonic`, `the 6th`; altered ones as they are written, `b3`.
fn degree_in_words(degree: Degree) -> String {
    match (degree.alteration(), degree.number()) {
        (0, 1) => "the tonic".into(),
        (0, 2) => "the 2nd".into(),
        (0, 3) => "the 3rd".into(),
        (0, number) => format!("the {number}th"),
        _ => degree.to_string(),
    }
}

/// `a minor third down`, `an octave up`, `a unison`; doubly altered ones as they are written.
fn interval_in_words(interval: Interval) -> String {
    let size = sized_in_words(interval);
    let article = if size.starts_with(['a', 'o']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {size}")
}

/// `minor third down`, `octave up`, `unison`.
fn sized_in_words(interval: Interval) -> String {
    const NUMBERS: [&str; 15] = [
        "unison",
        "second",
        "third",
        "fourth",
        "fifth",
        "sixth",
        "seventh",
        "octave",
        "ninth",
        "tenth",
        "eleventh",
        "twelfth",
        "thirteenth",
        "fourteenth",
        "fifteenth",
    ];
    let name = interval.size().name();
    let number = NUMBERS.get(interval.size().steps().unsigned_abs() as usize);
    let quality = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let size = match (quality, number) {
        ("P", Some(&number)) if ["unison", "octave"].contains(&number) => number.to_string(),
        ("P", Some(number)) => format!("perfect {number}"),
        ("M", Some(number)) => format!("major {number}"),
        ("m", Some(number)) => format!("minor {number}"),
        ("A", Some(number)) => format!("augmented {number}"),
        ("d", Some(number)) => format!("diminished {number}"),
        _ => name,
    };
    match interval.direction() {
        Direction::Up => format!("{size} up"),
        Direction::Down => format!("{size} down"),
        Direction::Same => size,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Melody, Quarters};
    use crate::neck::{Instrument, Position};
    use crate::practice::Kind;

    fn material() -> PracticeMaterial {
        let mut draft = Draft::default();
        let quarters = |numer, denom| Quarters::new(numer, denom);
        draft
            .meters
            .set(quarters(0, 1), Some("4/4".parse().unwrap()));
        draft.keys.set(quarters(0, 1), "C minor".parse().unwrap());
        draft.bar_line();
        draft.note("G4".parse().unwrap(), quarters(1, 2)).unwrap();
        draft.bar_line();
        for (name, numer) in [("Eb5", 3), ("D5", 3), ("B4", 2)] {
            draft
                .note(name.parse().unwrap(), quarters(numer, 2))
                .unwrap();
        }
        let placements = [(5, 0), (8, 0), (1, -1)].map(|(position, octave)| PlacementKey {
            position: Position::new(position).unwrap(),
            octave: Octave::new(octave).unwrap(),
        });
        let home = "C minor".parse().unwrap();
        let melody = Melody::new(draft).unwrap();
        PracticeMaterial::new(
            melody,
            home,
            &[],
            Instrument::default(),
            placements.to_vec(),
        )
    }

    fn asked(kind: Kind, note: usize, placement: Option<usize>) -> Question {
        let material = material();
        let placement = placement.map(|index| material.placements()[index]);
        material.question(kind, note, placement, |_| 0).unwrap()
    }

    #[test]
    fn questions_say_where_and_what() {
        let check = |kind, note, placement, whereabouts: &str, question: &str, answer: &str| {
            let asked = asked(kind, note, placement);
            let wording = asked.wording(&material());
            assert_eq!(wording.whereabouts, whereabouts);
            assert_eq!(wording.question, question);
            assert_eq!(asked.answer_in_words(), answer);
            // What stands in a key is said in the sentence as well.
            let on_paper = asked.answer_on_paper();
            assert!(answer.contains(&on_paper), "{answer}: {on_paper}");
        };
        check(
            Kind::Place,
            1,
            Some(0),
            "bar 1, beat 1 · position V",
            "Where is Eb?",
            "Eb: string 3, fret 8 or string 2, fret 4",
        );
        check(
            Kind::Name,
            3,
            Some(1),
            "bar 1, beat 4 · position VIII",
            "Which note is on string 4, fret 9, and which degree of C minor is it?",
            "it is B, the 7th",
        );
        check(
            Kind::Degree,
            1,
            None,
            "bar 1, beat 1",
            "Which degree of C minor is Eb?",
            "it is b3",
        );
        check(
            Kind::Interval,
            1,
            None,
            "bar 1, beat 1",
            "Which interval leads from Eb to the next note?",
            "it is a minor second down",
        );
        check(
            Kind::Next,
            1,
            Some(0),
            "bar 1, beat 1 · position V",
            "What comes after the Eb on string 3, fret 8?",
            "it is D, the 2nd: string 3, fret 7",
        );
        check(
            Kind::Scale,
            3,
            None,
            "bar 1, beat 4",
            "Is B in the scale of C natural minor? If not, which degree is it?",
            "it is outside the natural scale, the raised 7",
        );
        check(
            Kind::Octave,
            2,
            Some(2),
            "bar 1, beat 2& · position I, an octave lower",
            "D is on string 3, fret 7 in position V. Where is it an octave lower?",
            "D: string 4, open or string 5, fret 5",
        );
        // A pickup of an eighth is the last half beat of its bar.
        check(
            Kind::Degree,
            0,
            None,
            "bar 0, beat 4&",
            "Which degree of C minor is G?",
            "it is the 5th",
        );
    }

    #[test]
    fn a_verdict_says_what_is_right_and_why_it_is_written_so() {
        let check = |kind, note, placement, typed: &str, told: &str, remark: Option<&str>| {
            let asked = asked(kind, note, placement);
            let answer = asked.read(typed, &Instrument::default()).unwrap();
            let verdict = asked.judge_on(answer, &Instrument::default());
            assert_eq!(asked.verdict_in_words(Some(verdict)), told, "{typed}");
            assert_eq!(asked.remark(verdict).as_deref(), remark, "{typed}");
        };
        check(Kind::Degree, 1, None, "b3", "yes, it is b3", None);
        check(Kind::Degree, 1, None, "5", "no, it is b3", None);
        // B is the 7th of C minor as the screens count; #7 counts from the natural minor scale.
        check(
            Kind::Degree,
            3,
            None,
            "#7",
            "yes, it is the 7th",
            Some(
                "counted from the scale of C minor that is right; here degrees are counted from C major: 7",
            ),
        );
        check(
            Kind::Next,
            0,
            Some(0),
            "D#",
            "yes, it is Eb, b3: string 3, fret 8 or string 2, fret 4",
            Some("it sounds the same, but in C minor it is written Eb"),
        );
        check(
            Kind::Place,
            1,
            Some(0),
            "4 1",
            "no, Eb: string 3, fret 8 or string 2, fret 4",
            Some("that is the note in another octave"),
        );
        let asked = asked(Kind::Interval, 1, None);
        assert_eq!(asked.verdict_in_words(None), "it is a minor second down");
    }

    /// A note is a letter with its place: `D6` would be read as a chord by half of all players.
    #[test]
    fn a_note_in_several_octaves_is_low_middle_or_high() {
        let mut draft = Draft::default();
        draft.bar_line();
        for name in ["D4", "D5", "D6", "C6"] {
            draft
                .note(name.parse().unwrap(), Quarters::from(1))
                .unwrap();
        }
        let home = "D minor".parse().unwrap();
        let melody = Melody::new(draft).unwrap();
        let material = PracticeMaterial::new(melody, home, &[], Instrument::default(), Vec::new());
        let names: Vec<String> = (0..4).map(|note| note_in_words(&material, note)).collect();
        assert_eq!(names, ["the low D", "the middle D", "the high D", "C"]);
    }
}
