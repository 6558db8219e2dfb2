//! The warm-up and the quiz of a sheet: made by practice, put on paper as excerpts.

use fretlib::fingering::Player;
use fretlib::melody::{AnalysedNote, Draft, Melody};
use fretlib::practice::{Kind, PracticeMaterial, Question, warm_up};
use fretlib::sheet::{Excerpt, TabPlace};

use crate::commands::warm_up::exercise_in_words;
use crate::session::SeededChoice;

/// How long a warm-up on paper takes, in seconds.
const WARM_UP: u32 = 7 * 60;
/// Questions of each kind in a quiz: all three fill one page.
const QUESTIONS: usize = 6;

/// The exercises of a warm-up on a tune; none when nothing of it is within comfortable reach.
pub fn warm_up_on_paper(material: &PracticeMaterial, player: Player) -> Vec<Excerpt> {
    let key = material.key_at(0);
    let tempo = material.melody().tempos().first().copied();
    let exercises = warm_up(material, player, WARM_UP);
    let excerpts = exercises.iter().map(|exercise| {
        let melody = exercise.melody.clone();
        let places = exercise.notes.iter().map(|note| {
            Some(TabPlace {
                place: note.place,
                finger: note.finger,
                position: note.position,
            })
        });
        let words = exercise_in_words(exercise, tempo);
        Excerpt {
            title: exercise.title.clone(),
            words: match exercise.rest_before {
                true => format!("let the hand hang for ten seconds first; {words}"),
                false => words,
            },
            notes: melody.analyse(key),
            places: places.collect(),
            melody,
            key,
            marked: 0..0,
            answer: String::new(),
        }
    });
    excerpts.collect()
}

/// A quiz on a tune; the seed tells which.
pub fn quiz_on_paper(material: &PracticeMaterial, seed: u64) -> Vec<Excerpt> {
    let mut choice = SeededChoice::new(seed);
    let questions = Question::quiz(material, QUESTIONS, |count| choice.below(count));
    questions
        .iter()
        .filter_map(|question| excerpt(question, material))
        .collect()
}

/// The bars a question is about, with the notes it asks after pointed at.
fn excerpt(question: &Question, material: &PracticeMaterial) -> Option<Excerpt> {
    let melody = material.melody();
    let onset = |note: usize| material.notes().get(note).map(|it| it.note.onset);
    let last = question.last_note();
    let start = melody.bar_at(onset(question.note)?).onset;
    let end = melody.bar_at(onset(last)?).end;
    let key = material.key_at(question.note);
    let bar = melody.bar_at(onset(question.note)?);
    let excerpt = plain(melody.between(start, end)?)?;
    let is_before = |it: &&AnalysedNote| it.note.onset < start;
    let before = material.notes().iter().take_while(is_before).count();
    let (section, words) = match question.kind() {
        Kind::Place => {
            let placement = question.placement?.in_words();
            (
                "Where is it? String and fret.",
                format!("bar {bar}, {placement}"),
            )
        }
        Kind::Degree => (
            "Which degree of the key is it?",
            format!("bar {bar}, degree of {key}"),
        ),
        _ => (
            "Which interval leads from the first marked note to the second, and which way?",
            format!("bar {bar}, interval"),
        ),
    };
    Some(Excerpt {
        title: section.to_string(),
        words,
        notes: excerpt.analyse(key),
        melody: excerpt,
        key,
        places: Vec::new(),
        marked: question.note - before..last + 1 - before,
        answer: question.answer_on_paper(),
    })
}

/// The notes alone: what else stands in the tune is no help here, and its signs would lead elsewhere.
fn plain(excerpt: Melody) -> Option<Melody> {
    let draft = excerpt.into_draft();
    Melody::new(Draft {
        chords: Default::default(),
        sections: Default::default(),
        form: Default::default(),
        line_breaks: Vec::new(),
        ..draft
    })
    .ok()
}
