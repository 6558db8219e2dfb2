//! Questions about an arrangement: what lies under a note, which finger stays, what is left out, where the line goes on.

use std::fmt;

use super::answer::{Answer, AnswerError, PartialCredit, Verdict};
use super::kind::Kind;
use super::wording::place_in_words;
use crate::neck::{Finger, Place};
use crate::theory::{Chord, ChordDegree, Pitch};

/// How an arrangement plays a note of the melody, as far as questions go.
#[derive(Clone, Debug, PartialEq)]
pub struct ArrangedStep {
    /// Its pitch, in the octave of the arrangement.
    pub pitch: Pitch,
    /// Where it is played.
    pub place: Place,
    /// What is struck with it; `None` where it stays bare.
    pub voicing: Option<StruckVoicing>,
}

/// What is struck under a note of the melody.
#[derive(Clone, Debug, PartialEq)]
pub struct StruckVoicing {
    /// The chord.
    pub chord: Chord,
    /// The melody note over it, and where it is played.
    pub melody: (Pitch, Place),
    /// The places under it with what each note is over the chord, the lowest first.
    pub places: Vec<(Place, ChordDegree)>,
    /// Root, fifth and guide tones that do not sound.
    pub left_out: Vec<ChordDegree>,
    /// The fingers that stay from the voicing before; `None` for the first voicing, where none can.
    pub stays: Option<Vec<Finger>>,
}

/// What is asked of an arrangement.
#[derive(Clone, Debug, PartialEq)]
pub enum ArrangedTask {
    /// Name what lies under a note, as degrees of the chord.
    Under(StruckVoicing),
    /// Name the fingers that stay from the voicing before.
    Stays(StruckVoicing),
    /// Name what is left out of the chord.
    LeftOut(StruckVoicing),
    /// Find where the arrangement plays the next note of the melody.
    Line {
        /// Where it plays this note.
        place: Place,
        /// The note.
        pitch: Pitch,
        /// The next one.
        next: Pitch,
        /// Where it plays that: one place.
        right: Vec<Place>,
    },
}

/// Notes of a chord by their semitones above its root, octaves left out.
///
/// ```
/// use fretlib::practice::ChordToneSet;
///
/// let one: ChordToneSet = ["1", "b3", "9"].iter().map(|it| it.parse().unwrap()).collect();
/// let other: ChordToneSet = ["2", "1", "b3"].iter().map(|it| it.parse().unwrap()).collect();
/// assert_eq!(one, other); // 9 and 2 sound alike
/// ```
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct ChordToneSet(
    // Invariant: of the first twelve bits only.
    u16,
);

impl FromIterator<ChordDegree> for ChordToneSet {
    fn from_iter<T: IntoIterator<Item = ChordDegree>>(degrees: T) -> ChordToneSet {
        let bits = degrees.into_iter().map(|degree| 1 << degree.semitones());
        ChordToneSet(bits.fold(0, |all, bit| all | bit))
    }
}

impl fmt::Display for ChordToneSet {
    /// The plainest name of each, upwards; `none` for no note.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut names = Vec::new();
        for semitones in 0..12 {
            let mut all = ChordDegree::ALL.into_iter();
            let name = all.find(|it| it.semitones() == semitones);
            names.extend(name.filter(|_| self.0 & 1 << semitones != 0));
        }
        write_list(f, names.iter())
    }
}

/// Some of the four fingers.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct FingerSet(
    // Invariant: bits 1 to 4 only.
    u8,
);

impl FromIterator<Finger> for FingerSet {
    fn from_iter<T: IntoIterator<Item = Finger>>(fingers: T) -> FingerSet {
        let bits = fingers.into_iter().map(|finger| 1 << finger.get());
        FingerSet(bits.fold(0, |all, bit| all | bit))
    }
}

impl fmt::Display for FingerSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let fingers = Finger::ALL.into_iter();
        let fingers: Vec<Finger> = fingers.filter(|it| self.0 & 1 << it.get() != 0).collect();
        write_list(f, fingers.iter())
    }
}

fn write_list<T: fmt::Display>(
    f: &mut fmt::Formatter<'_>,
    items: impl ExactSizeIterator<Item = T>,
) -> fmt::Result {
    if items.len() == 0 {
        return f.write_str("none");
    }
    for (nth, item) in items.enumerate() {
        let space = if nth == 0 { "" } else { " " };
        write!(f, "{space}{item}")?;
    }
    Ok(())
}

/// Reads `1 b3 7`, with commas or without; `none` or `nothing` for no degree.
///
/// # Errors
///
/// When a word is no degree of a chord.
pub(super) fn read_tones(text: &str) -> Result<ChordToneSet, AnswerError> {
    const EXPECTED: AnswerError =
        AnswerError::Expected("degrees of the chord, such as 1 b7 3, or none");
    let degrees: Option<Vec<ChordDegree>> = words(text).map(|word| word.parse().ok()).collect();
    match degrees {
        _ if is_none(text) => Ok(ChordToneSet::default()),
        Some(degrees) if !degrees.is_empty() => Ok(degrees.into_iter().collect()),
        _ => Err(EXPECTED),
    }
}

/// Reads `1 3` or `13`; `none` for no finger.
///
/// # Errors
///
/// When there is anything else than fingers from 1 to 4.
pub(super) fn read_fingers(text: &str) -> Result<FingerSet, AnswerError> {
    const EXPECTED: AnswerError = AnswerError::Expected("fingers, such as 1 4, or none");
    if is_none(text) {
        return Ok(FingerSet::default());
    }
    let figures = words(text).flat_map(|word| word.bytes().collect::<Vec<_>>());
    let fingers: Option<Vec<Finger>> = figures
        .map(|it| {
            Finger::ALL
                .into_iter()
                .find(|finger| finger.get() + b'0' == it)
        })
        .collect();
    match fingers {
        Some(fingers) if !fingers.is_empty() => Ok(fingers.into_iter().collect()),
        _ => Err(EXPECTED),
    }
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| c.is_whitespace() || c == ',')
        .filter(|word| !word.is_empty() && !word.eq_ignore_ascii_case("and"))
}

fn is_none(text: &str) -> bool {
    ["none", "nothing", "no", "bare"]
        .iter()
        .any(|it| text.trim().eq_ignore_ascii_case(it))
}

impl ArrangedTask {
    /// The kind of question.
    pub const fn kind(&self) -> Kind {
        match self {
            ArrangedTask::Under(_) => Kind::Under,
            ArrangedTask::Stays(_) => Kind::Stays,
            ArrangedTask::LeftOut(_) => Kind::LeftOut,
            ArrangedTask::Line { .. } => Kind::Line,
        }
    }

    /// The voicing asked about, if it is one.
    pub const fn voicing(&self) -> Option<&StruckVoicing> {
        match self {
            ArrangedTask::Under(voicing)
            | ArrangedTask::Stays(voicing)
            | ArrangedTask::LeftOut(voicing) => Some(voicing),
            ArrangedTask::Line { .. } => None,
        }
    }

    /// The question, and what an answer looks like.
    pub(super) fn in_words(&self) -> (String, &'static str) {
        const DEGREES: &str = "degrees of the chord, such as 1 b7 3, or none";
        let over = |it: &StruckVoicing| {
            let (pitch, place) = it.melody;
            format!(
                "{} on {} over {}",
                pitch.class(),
                place_in_words(place),
                it.chord
            )
        };
        match self {
            ArrangedTask::Under(it) => (format!("What lies under {}?", over(it)), DEGREES),
            ArrangedTask::Stays(it) => (
                format!("Which fingers stay when you come to {}?", over(it)),
                "fingers, such as 1 4, or none",
            ),
            ArrangedTask::LeftOut(it) => {
                let (pitch, place) = it.melody;
                let note = pitch.class();
                let place = place_in_words(place);
                (
                    format!("What is left out of {} under {note} on {place}?", it.chord),
                    "root, fifth, third or seventh, such as 1 5, or none",
                )
            }
            ArrangedTask::Line { place, pitch, .. } => (
                format!(
                    "{} is on {}. Where does the arrangement play the next note?",
                    pitch.class(),
                    place_in_words(*place)
                ),
                "string and fret, such as 3 5",
            ),
        }
    }

    /// The right answer as a sentence.
    pub(super) fn answer_in_words(&self) -> String {
        match self {
            ArrangedTask::Under(it) => {
                let places = it.places.iter();
                let list =
                    places.map(|(place, degree)| format!("{degree} on {}", place_in_words(*place)));
                format!("from the lowest up {}", list.collect::<Vec<_>>().join("; "))
            }
            ArrangedTask::Stays(it) => match it.stays.as_deref() {
                None | Some([]) => "no finger stays".into(),
                Some([finger]) => format!("finger {finger} stays"),
                Some(fingers) => {
                    let all: FingerSet = fingers.iter().copied().collect();
                    format!("fingers {all} stay")
                }
            },
            ArrangedTask::LeftOut(it) => match it.left_out.as_slice() {
                [] => "nothing is left out".into(),
                degrees => {
                    let list = degrees.iter().map(ToString::to_string);
                    format!("left out: {}", list.collect::<Vec<_>>().join(" "))
                }
            },
            ArrangedTask::Line { next, right, .. } => {
                let places = right.iter().map(|it| place_in_words(*it));
                format!(
                    "{}: {}",
                    next.class(),
                    places.collect::<Vec<_>>().join(" or ")
                )
            }
        }
    }

    /// The right degrees or fingers; nothing where a place is asked for.
    pub(super) fn right_answer(&self) -> Option<Answer> {
        match self {
            ArrangedTask::Under(it) => {
                let degrees = it.places.iter().map(|(_, degree)| *degree);
                Some(Answer::Tones(degrees.collect()))
            }
            ArrangedTask::LeftOut(it) => Some(Answer::Tones(it.left_out.iter().copied().collect())),
            ArrangedTask::Stays(it) => Some(Answer::Fingers(
                it.stays.iter().flatten().copied().collect(),
            )),
            ArrangedTask::Line { .. } => None,
        }
    }

    /// Judges degrees: all that sound under the note, the melody's own may be named with them.
    pub(super) fn judge_tones(&self, said: ChordToneSet) -> Verdict {
        let (right, own) = match self {
            ArrangedTask::Under(it) => {
                let degrees = it.places.iter().map(|(_, degree)| *degree);
                let own = it.chord.degree(it.melody.0.class());
                (
                    degrees.collect::<ChordToneSet>(),
                    ChordToneSet::from_iter([own]),
                )
            }
            ArrangedTask::LeftOut(it) => (
                it.left_out.iter().copied().collect(),
                ChordToneSet::default(),
            ),
            ArrangedTask::Stays(_) | ArrangedTask::Line { .. } => return Verdict::Wrong(None),
        };
        if said == right || said.0 == right.0 | own.0 {
            return Verdict::Right;
        }
        some_of_it(said.0 & right.0 != 0)
    }

    /// Judges fingers.
    pub(super) fn judge_fingers(&self, said: FingerSet) -> Verdict {
        let ArrangedTask::Stays(it) = self else {
            return Verdict::Wrong(None);
        };
        let right: FingerSet = it.stays.iter().flatten().copied().collect();
        match said == right {
            true => Verdict::Right,
            false => some_of_it(said.0 & right.0 != 0),
        }
    }
}

fn some_of_it(is_some: bool) -> Verdict {
    Verdict::Wrong(is_some.then_some(PartialCredit::SomeRight))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn voicing() -> StruckVoicing {
        let place = |text: &str| text.parse().unwrap();
        let degree = |text: &str| text.parse().unwrap();
        // x-10-x-10-11-10 under D: a shape every player is taught, common practice.
        StruckVoicing {
            chord: "Gm7".parse().unwrap(),
            melody: ("D5".parse().unwrap(), place("1:10")),
            places: vec![
                (place("5:10"), degree("1")),
                (place("3:10"), degree("b7")),
                (place("2:11"), degree("b3")),
            ],
            left_out: Vec::new(),
            stays: Some(vec![Finger::First, Finger::Third]),
        }
    }

    #[test]
    fn answers_are_read_and_judged() {
        let under = ArrangedTask::Under(voicing());
        let tones = |typed: &str| under.judge_tones(read_tones(typed).unwrap());
        assert_eq!(tones("1 b7 b3"), Verdict::Right);
        assert_eq!(tones("b3, 1 and b7"), Verdict::Right);
        assert_eq!(tones("5 1 b7 b3"), Verdict::Right); // with the melody's own
        assert_eq!(
            tones("1 b7 3"),
            Verdict::Wrong(Some(PartialCredit::SomeRight))
        );
        assert_eq!(tones("none"), Verdict::Wrong(None));
        let out = ArrangedTask::LeftOut(voicing());
        assert_eq!(
            out.judge_tones(read_tones("nothing").unwrap()),
            Verdict::Right
        );
        assert_eq!(
            out.judge_tones(read_tones("1").unwrap()),
            Verdict::Wrong(None)
        );
        let stays = ArrangedTask::Stays(voicing());
        for typed in ["1 3", "13", "3, 1"] {
            assert_eq!(
                stays.judge_fingers(read_fingers(typed).unwrap()),
                Verdict::Right
            );
        }
        let one = stays.judge_fingers(read_fingers("1").unwrap());
        assert_eq!(one, Verdict::Wrong(Some(PartialCredit::SomeRight)));
        for typed in ["", "5", "x", "1 b"] {
            assert!(read_fingers(typed).is_err(), "{typed}");
        }
        for typed in ["", "x", "1 H", "8"] {
            assert!(read_tones(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn what_is_said_is_a_sentence() {
        let (question, _) = ArrangedTask::Under(voicing()).in_words();
        assert_eq!(question, "What lies under D on string 1, fret 10 over Gm7?");
        assert_eq!(
            ArrangedTask::Under(voicing()).answer_in_words(),
            "from the lowest up 1 on string 5, fret 10; b7 on string 3, fret 10; b3 on string 2, fret 11"
        );
        let stays = ArrangedTask::Stays(voicing()).answer_in_words();
        assert_eq!(stays, "fingers 1 3 stay");
        let out = ArrangedTask::LeftOut(voicing()).answer_in_words();
        assert_eq!(out, "nothing is left out");
    }
}
