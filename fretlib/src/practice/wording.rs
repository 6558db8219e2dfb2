//! Questions in words.

use super::material::Material;
use super::question::{Question, Task, Verdict};
use crate::melody::Quarters;
use crate::theory::{Mode, Octave, Pitch};

/// A question in words, in the parts that screens set apart.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Wording {
    /// Where in the tune and on the neck: `bar 3, beat 2 · V position, octave +1`.
    pub whereabouts: String,
    /// The question itself: `Where is Eb5?`
    pub question: String,
    /// What an answer looks like: `string and fret, such as 3 5`.
    pub form: &'static str,
}

impl Question {
    /// The question in words.
    ///
    /// Pitches are written pitch. Nothing in it gives the answer away: the interval question does not name the next note.
    pub fn wording(&self, material: &Material) -> Wording {
        let (question, form) = match &self.task {
            Task::Place { pitch, .. } => (format!("Where is {pitch}?"), PLACE),
            Task::Name { place, .. } => (
                format!(
                    "Which note is at string {} fret {}, and which degree of {}?",
                    place.string,
                    place.fret,
                    material.key_at(self.note)
                ),
                "note and degree, such as Eb b3",
            ),
            Task::Degree { pitch, key } => (
                format!("Which degree of {key} is {}?", pitch.class()),
                "degree, such as b3",
            ),
            Task::Interval { from, .. } => (
                format!("Which interval leads from {from} to the next note?"),
                "interval, such as m3, P5 down or major second",
            ),
            Task::Next { pitch, place, .. } => (
                format!(
                    "What comes after {pitch} at string {} fret {}?",
                    place.string, place.fret
                ),
                "note, such as Eb, or string and fret",
            ),
            Task::Scale { pitch, key } => {
                let scale = match key.mode() {
                    Mode::Minor => format!("{} natural minor", key.tonic()),
                    _ => key.to_string(),
                };
                (
                    format!(
                        "Is {} in the scale of {scale}? If not, which degree is it?",
                        pitch.class()
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
                let way = match self.spot {
                    Some(spot) if spot.octave < shown.octave => "lower",
                    _ => "higher",
                };
                (
                    format!(
                        "{} is at string {} fret {} in {} position. Where is it an octave {way}?",
                        octave_of(*pitch, way),
                        place.string,
                        place.fret,
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
    fn whereabouts(&self, material: &Material) -> String {
        let mut text = String::new();
        if let Some(note) = material.notes().get(self.note) {
            text = format!("bar {}, {}", note.bar, beat(material, note.note.onset));
        }
        if let Some(spot) = self.spot {
            text.push_str(&format!(" · {} position", spot.position));
            if spot.octave != Octave::WRITTEN {
                text.push_str(&format!(", octave {}", spot.octave));
            }
        }
        text
    }

    /// The answer in words, as it is shown after a wrong one: `string 3 fret 5 or string 4 fret 10`.
    pub fn answer_in_words(&self) -> String {
        let answers = self.right_answers();
        let mut words: Vec<String> = Vec::new();
        for answer in answers {
            // The fuller form of an interval or a yes comes first and says all that the shorter one does.
            let text = answer.to_string();
            if !words.iter().any(|word| word.starts_with(&text)) {
                words.push(text);
            }
        }
        words.join(" or ")
    }

    /// What to tell the player about an answer that was right or nearly so; nothing when it was simply right or wrong.
    pub fn remark(&self, verdict: Verdict) -> Option<String> {
        match verdict {
            Verdict::Respelled => Some(format!("here it is spelled {}", self.answer_in_words())),
            Verdict::Wrong(Some(near)) => Some(near.remark().to_string()),
            Verdict::Right | Verdict::Wrong(None) => None,
        }
    }
}

const PLACE: &str = "string and fret, such as 3 5";

/// The pitch that is shown when the one to find is an octave `way` of it.
fn octave_of(pitch: Pitch, way: &str) -> String {
    let shift = if way == "lower" { 1 } else { -1 };
    format!("{}{}", pitch.class(), pitch.octave() + shift)
}

/// `beat 2`, `beat 2+1/2`; in free meter the time since the bar line in quarter notes.
fn beat(material: &Material, onset: Quarters) -> String {
    let melody = material.melody();
    let bar = melody.bar_at(onset);
    let passed = onset - bar.onset;
    let Some(meter) = melody.meters().at(onset).copied().flatten() else {
        return format!("{passed} quarters in");
    };
    // A pickup is counted back from the bar line that ends it.
    let skipped = if bar.number == 0 {
        let next = melody
            .bars()
            .get(1)
            .map_or(melody.length(), |next| next.onset);
        meter.bar_length() - (next - bar.onset)
    } else {
        Quarters::from(0)
    };
    let beats = (passed + skipped) / meter.beat();
    let whole = beats.floor();
    let rest = beats - whole;
    let number = whole.to_integer() + 1;
    if rest == Quarters::from(0) {
        format!("beat {number}")
    } else {
        format!("beat {number}+{rest}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Melody};
    use crate::neck::{Instrument, Position};
    use crate::practice::{Kind, Spot};

    fn material() -> Material {
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
        let spots = [(5, 0), (8, 0), (1, -1)].map(|(position, octave)| Spot {
            position: Position::new(position).unwrap(),
            octave: Octave::new(octave).unwrap(),
        });
        let home = "C minor".parse().unwrap();
        let melody = Melody::new(draft).unwrap();
        Material::new(melody, home, &[], Instrument::default(), spots.to_vec())
    }

    fn check(
        kind: Kind,
        note: usize,
        spot: Option<usize>,
        whereabouts: &str,
        question: &str,
        answer: &str,
    ) {
        let material = material();
        let spot = spot.map(|index| material.spots()[index]);
        let asked = material.question(kind, note, spot, |_| 0).unwrap();
        let wording = asked.wording(&material);
        assert_eq!(wording.whereabouts, whereabouts);
        assert_eq!(wording.question, question);
        assert_eq!(asked.answer_in_words(), answer);
    }

    #[test]
    fn questions_say_where_and_what() {
        check(
            Kind::Place,
            1,
            Some(0),
            "bar 1, beat 1 · V position",
            "Where is Eb5?",
            "string 3 fret 8 or string 2 fret 4",
        );
        check(
            Kind::Name,
            3,
            Some(1),
            "bar 1, beat 4 · VIII position",
            "Which note is at string 4 fret 9, and which degree of C minor?",
            "B 7",
        );
        check(
            Kind::Degree,
            1,
            None,
            "bar 1, beat 1",
            "Which degree of C minor is Eb?",
            "b3",
        );
        check(
            Kind::Interval,
            1,
            None,
            "bar 1, beat 1",
            "Which interval leads from Eb5 to the next note?",
            "m2 down",
        );
        check(
            Kind::Next,
            1,
            Some(0),
            "bar 1, beat 1 · V position",
            "What comes after Eb5 at string 3 fret 8?",
            "D or string 3 fret 7",
        );
        check(
            Kind::Scale,
            3,
            None,
            "bar 1, beat 4",
            "Is B in the scale of C natural minor? If not, which degree is it?",
            "no, 7",
        );
        check(
            Kind::Octave,
            2,
            Some(2),
            "bar 1, beat 2+1/2 · I position, octave -1",
            "D5 is at string 3 fret 7 in V position. Where is it an octave lower?",
            "string 4 open or string 5 fret 5",
        );
        // A pickup of an eighth is the last half beat of its bar.
        check(
            Kind::Degree,
            0,
            None,
            "bar 0, beat 4+1/2",
            "Which degree of C minor is G?",
            "5",
        );
    }
}
