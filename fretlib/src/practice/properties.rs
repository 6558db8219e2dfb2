//! No right answer is judged wrong, and no wrong one right.

use std::ops::Range;

use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};

use super::{
    Answer, Drill, Kind, Moment, PlacementKey, PracticeMaterial, Question, Respelling, Task,
    Verdict,
};
use crate::melody::{Draft, Melody, Quarters};
use crate::neck::{Fret, Instrument, InstrumentSpec, Place};
use crate::theory::{Degree, Direction, Interval, Key, Letter, Mode, Octave, Pitch, PitchClass};

/// Picks at random, the same for the same seed.
pub(super) fn seeded(seed: u64) -> impl FnMut(usize) -> usize {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    move |count| random.next_u32() as usize % count.max(1)
}

/// The start of a day, as a moment.
pub(super) fn on(day: i32) -> Moment {
    Moment {
        seconds: i64::from(day) * 86_400,
        day,
    }
}

fn instrument(strings: &str, frets: u8, capo: u8) -> Instrument {
    Instrument::new(InstrumentSpec {
        name: "test".into(),
        strings: strings.split(' ').map(|it| it.parse().unwrap()).collect(),
        frets,
        capo,
        scale_length: 648.0,
        sounding: "P1".parse().unwrap(),
        program: 25,
    })
    .unwrap()
}

/// A guitar, one with a capo, an instrument whose strings do not fall in order, and one with two strings alike.
fn instruments() -> [Instrument; 4] {
    [
        instrument("E5 B4 G4 D4 A3 E3", 22, 0),
        instrument("E5 B4 G4 D4 A3 E3", 20, 3),
        instrument("A4 E4 C4 G4", 15, 0),
        instrument("D5 D5 A4 D4", 12, 0),
    ]
}

/// A melody whose notes lie where `seeds` say, on natural notes and with one sharp or flat.
fn melody(seeds: &[u8]) -> Option<Melody> {
    let mut draft = Draft::default();
    for seed in seeds {
        let octave = 4 + (seed / 128) as i8;
        let alteration = (seed / 7 % 3) as i8 - 1;
        let letter = Letter::from_steps((seed % 7).into());
        let pitch = Pitch::new(letter, alteration, octave).unwrap();
        draft.note(pitch, Quarters::from(1)).unwrap();
    }
    Melody::new(draft).ok()
}

fn key(seed: u8) -> Key {
    let mode = Mode::ALL[seed as usize % 7];
    Key::from_signature((seed / 7 % 15) as i8 - 7, mode).unwrap()
}

fn material(
    seeds: &[u8],
    phrases: &[Range<usize>],
    instrument: Instrument,
) -> Option<PracticeMaterial> {
    let placements = instrument
        .positions()
        .flat_map(|position| {
            let octaves = Octave::all().filter(|octave| octave.distance() <= 1);
            octaves.map(move |octave| PlacementKey { position, octave })
        })
        .collect();
    let home = key(*seeds.first()?);
    Some(PracticeMaterial::new(
        melody(seeds)?,
        home,
        phrases,
        instrument,
        placements,
    ))
}

fn accidental_in_words(alteration: i8) -> &'static str {
    ["double flat", "flat", "", "sharp", "double sharp"][(alteration + 2) as usize]
}

fn ways_to_write_name(class: PitchClass) -> Vec<String> {
    let letter = class.letter().to_string();
    let words = accidental_in_words(class.alteration());
    vec![
        class.to_string(),
        class.to_string().to_lowercase(),
        format!("{letter} {words}"),
        format!("{}-{words}", letter.to_lowercase())
            .trim_end_matches('-')
            .to_string(),
        class.to_string().replace('b', "♭").replace('#', "♯"),
    ]
}

fn ways_to_write_degree(degree: Degree) -> Vec<String> {
    let ordinals = [
        "", "unison", "second", "third", "fourth", "fifth", "sixth", "seventh",
    ];
    let mut ways = vec![
        degree.to_string(),
        degree.to_string().replace('b', "♭").replace('#', "♯"),
    ];
    if degree.alteration().abs() <= 2 {
        let words = accidental_in_words(degree.alteration());
        ways.push(format!("{words} {}", degree.number()));
        ways.push(format!("{words} {}", ordinals[degree.number() as usize]));
    }
    ways
}

fn ways_to_write_interval(size: Interval) -> Vec<String> {
    let name = size.name();
    let figures = name.trim_start_matches(|c: char| c.is_ascii_alphabetic());
    let quality = &name[..name.len() - figures.len()];
    let word = match &quality[..1] {
        "P" => "perfect",
        "M" => "major",
        "m" => "minor",
        "A" => "augmented",
        _ => "diminished",
    };
    let mut ways = vec![name.clone(), format!("{quality} {figures}")];
    if quality.len() == 1 {
        ways.push(format!("{word} {figures}th"));
        ways.push(format!("{}{figures}", &word[..3]));
    }
    ways
}

/// Every way of writing an answer that the documentation promises.
fn ways_to_write(answer: Answer) -> Vec<String> {
    match answer {
        Answer::Place(Place { string, fret }) => {
            let mut ways = vec![
                format!("{string} {fret}"),
                format!("s{string} f{fret}"),
                format!("S{string}F{fret}"),
                format!("string {string} fret {fret}"),
                format!("{string}rd string, {fret}th fret"),
                format!("f{fret} s{string}"),
                format!("string {string} {fret}"),
                format!("{string}:{fret}"),
                format!("{string}/{fret}"),
                format!("{string}-{fret}"),
                format!("{string},{fret}"),
            ];
            if fret == Fret::OPEN {
                ways.push(format!("{string} open"));
                ways.push(format!("open string {string}"));
            }
            ways
        }
        Answer::Tones(tones) => vec![tones.to_string(), tones.to_string().replace(' ', ", ")],
        Answer::Fingers(fingers) => vec![fingers.to_string()],
        Answer::Name(class) => ways_to_write_name(class),
        Answer::NameAndDegree(class, degree) => {
            let mut ways = Vec::new();
            for name in ways_to_write_name(class) {
                for degree in ways_to_write_degree(degree) {
                    ways.push(format!("{name}, {degree}"));
                    ways.push(format!("{degree} / {name}"));
                }
            }
            ways.push(format!("{class} {degree}"));
            ways.push(format!("{degree} {class}"));
            ways
        }
        Answer::Degree(degree) => ways_to_write_degree(degree),
        Answer::Interval { size, direction } => {
            let ways = ways_to_write_interval(size).into_iter();
            match direction {
                None | Some(Direction::Same) => ways.collect(),
                Some(Direction::Up) => ways
                    .flat_map(|it| [format!("+{it}"), format!("{it} up"), format!("rising {it}")])
                    .collect(),
                Some(Direction::Down) => ways
                    .flat_map(|it| {
                        [
                            format!("-{it}"),
                            format!("{it} down"),
                            format!("falling {it}"),
                        ]
                    })
                    .collect(),
            }
        }
        Answer::Inside(None) => ["yes", "y", "in", "in the scale"]
            .map(String::from)
            .to_vec(),
        Answer::Inside(Some(degree)) => ways_to_write_degree(degree)
            .into_iter()
            .flat_map(|it| [format!("yes {it}"), it])
            .collect(),
        Answer::Outside(degree) => ways_to_write_degree(degree)
            .into_iter()
            .flat_map(|it| [format!("no {it}"), format!("out, {it}"), it])
            .collect(),
        Answer::Choice(number) => vec![number.to_string(), format!("the {number}th")],
    }
}

fn check_right_answers(question: &Question, instrument: &Instrument) {
    let answers = question.right_answers();
    assert!(!answers.is_empty());
    for answer in answers {
        // For the next note, "bb7" may be a note or a degree: the player is asked which.
        let is_clear = |text: &String| {
            !matches!(
                (&question.task, answer),
                (Task::Next { .. }, Answer::Degree(_))
            ) || !text.starts_with("bb")
        };
        for text in ways_to_write(answer)
            .into_iter()
            .chain([answer.to_string()])
            .filter(is_clear)
        {
            let read = question.read(&text, instrument);
            let verdict = read.map(|answer| question.judge_on(answer, instrument));
            assert_eq!(verdict, Ok(Verdict::Right), "{text:?} for {question:?}");
        }
    }
}

/// Every place on the neck: right exactly when it gives the pitch within reach of the position asked for.
fn check_places(question: &Question, pitch: Pitch, instrument: &Instrument) {
    let position = question.placement.unwrap().position;
    for string in instrument.string_numbers() {
        for fret in 0..=instrument.highest_fret().get() {
            let place = Place {
                string,
                fret: Fret::new(fret).unwrap(),
            };
            let is_right = instrument.midi_at(place) == Some(pitch.midi())
                && position.reach(place.fret).is_some();
            let verdict = question.judge_on(Answer::Place(place), instrument);
            assert_eq!(verdict.is_right(), is_right, "{place} for {question:?}");
        }
    }
}

fn every_name() -> impl Iterator<Item = PitchClass> {
    Letter::ALL.into_iter().flat_map(|letter| {
        (-2..=2).map(move |alteration| PitchClass::new(letter, alteration).unwrap())
    })
}

fn every_degree() -> impl Iterator<Item = Degree> {
    (-16..=16).map(|fifths| Degree::from_fifths(fifths).unwrap())
}

/// Right by sound; the spelling decides between right and respelled.
fn expected(exact: bool, by_ear: bool) -> Verdict {
    match (exact, by_ear) {
        (true, _) => Verdict::Right,
        (false, true) => Verdict::Respelled(Respelling::Enharmonic),
        (false, false) => Verdict::Wrong(None),
    }
}

fn expected_degree(key: Key, class: PitchClass, said: Degree) -> Verdict {
    let degree = key.degree(class);
    // The key's own step of that number, raised: the meaning of "#7" counted from the minor scale.
    let own = key.scale()[usize::from(said.number()) - 1];
    let is_raised_step = said.alteration() > 0
        && key.degree(own).alteration() < 0
        && own.fifths() + 7 * said.alteration() == class.fifths();
    match expected(said == degree, said.semitones() == degree.semitones()) {
        Verdict::Right => Verdict::Right,
        _ if is_raised_step => Verdict::Respelled(Respelling::FromOwnScale),
        verdict => verdict,
    }
}

fn check_every_other_answer(question: &Question, instrument: &Instrument) {
    let judge = |answer| question.judge_on(answer, instrument);
    match &question.task {
        Task::Place { pitch, .. } | Task::Octave { pitch, .. } => {
            check_places(question, *pitch, instrument);
        }
        Task::Next { next, key, .. } => {
            check_places(question, *next, instrument);
            for said in every_degree() {
                let verdict = expected_degree(*key, next.class(), said);
                assert_eq!(
                    judge(Answer::Degree(said)),
                    verdict,
                    "{said} for {question:?}"
                );
            }
            for name in every_name() {
                let by_ear = name.chroma() == next.class().chroma();
                let verdict = expected(name == next.class(), by_ear);
                assert_eq!(
                    judge(Answer::Name(name)),
                    verdict,
                    "{name} for {question:?}"
                );
            }
        }
        Task::Name { pitch, key, .. } => {
            let degree = &key.degree(pitch.class());
            for name in every_name() {
                for said in every_degree() {
                    let is_right = name.chroma() == pitch.class().chroma()
                        && expected_degree(*key, pitch.class(), said).is_right();
                    let verdict = judge(Answer::NameAndDegree(name, said));
                    assert_eq!(
                        verdict.is_right(),
                        is_right,
                        "{name} {said} for {question:?}"
                    );
                    assert_eq!(
                        verdict == Verdict::Right,
                        name == pitch.class() && said == *degree
                    );
                }
            }
        }
        Task::Degree { pitch, key } => {
            for said in every_degree() {
                let verdict = expected_degree(*key, pitch.class(), said);
                assert_eq!(
                    judge(Answer::Degree(said)),
                    verdict,
                    "{said} for {question:?}"
                );
            }
        }
        Task::Interval { from, to } => {
            let truth = *to - *from;
            let sounds = to.midi() - from.midi();
            for steps in 0..16 {
                for semitones in 0..26 {
                    let Ok(size) = Interval::new(steps, semitones) else {
                        continue;
                    };
                    for direction in [None, Some(Direction::Up), Some(Direction::Down)] {
                        let by_ear = match direction {
                            None => semitones == sounds.abs(),
                            Some(Direction::Up) => semitones == sounds,
                            _ => -semitones == sounds,
                        };
                        let exact = size == truth.size()
                            && direction.is_none_or(|it| it == truth.direction());
                        let verdict = judge(Answer::Interval { size, direction });
                        assert_eq!(verdict.is_right(), by_ear || exact, "{question:?}");
                        assert_eq!(verdict == Verdict::Right, exact, "{question:?}");
                    }
                }
            }
        }
        // Judged in `arranged_question`.
        Task::Arranged(_) => {}
        Task::Phrase { choices, right } => {
            for number in 0..=choices.len() as u32 + 1 {
                let is_right = number == *right as u32 + 1;
                assert_eq!(judge(Answer::Choice(number)).is_right(), is_right);
            }
        }
        Task::Scale { pitch, key } => {
            let sounds_inside = key
                .scale()
                .iter()
                .any(|note| note.chroma() == pitch.class().chroma());
            assert_eq!(judge(Answer::Inside(None)).is_right(), sounds_inside);
            let inside = key.scale().contains(&pitch.class());
            for said in every_degree() {
                let by_ear = expected_degree(*key, pitch.class(), said).is_right();
                let verdict = judge(Answer::Outside(said));
                assert_eq!(
                    verdict.is_right(),
                    !inside && by_ear,
                    "no {said} for {question:?}"
                );
                let verdict = judge(Answer::Inside(Some(said)));
                assert_eq!(verdict.is_right(), sounds_inside && by_ear, "yes {said}");
            }
        }
    }
}

quickcheck::quickcheck! {
    fn every_right_answer_is_right_and_no_other(seeds: Vec<u8>, seed: u64) -> bool {
        let seeds: Vec<u8> = seeds.into_iter().take(12).collect();
        for instrument in instruments() {
            let middle = seeds.len() / 2;
            let phrases = [0..middle, middle..seeds.len()];
            let Some(material) = material(&seeds, &phrases, instrument) else {
                return true;
            };
            let Ok(mut drill) = Drill::new(&material, &Kind::ASKED, material.placements()) else {
                continue;
            };
            let mut pick = seeded(seed);
            for _ in 0..8 {
                let question = drill.next(&material, &mut pick).unwrap();
                check_right_answers(&question, material.instrument());
                check_every_other_answer(&question, material.instrument());
            }
        }
        true
    }

    fn no_answer_makes_a_reader_panic(text: String, seed: u64) -> bool {
        let seeds = [3, 40, 77, 201, 128];
        let material = material(&seeds, &[0..2, 2..5], instruments()[0].clone()).unwrap();
        let mut drill = Drill::new(&material, &Kind::ASKED, material.placements()).unwrap();
        let mut pick = seeded(seed);
        for _ in 0..10 {
            let question = drill.next(&material, &mut pick).unwrap();
            let _ = question.read(&text, material.instrument());
        }
        true
    }
}

#[test]
fn all_kinds_come_up_and_the_same_seed_asks_the_same() {
    let seeds = [3, 40, 77, 201, 128];
    let material = material(&seeds, &[0..2, 2..5], instruments()[0].clone()).unwrap();
    let run = |seed| -> Vec<Question> {
        let mut drill = Drill::new(&material, &Kind::ASKED, material.placements()).unwrap();
        let mut pick = seeded(seed);
        (0..60)
            .map(|_| drill.next(&material, &mut pick).unwrap())
            .collect()
    };
    let questions = run(7);
    // Nothing is arranged here.
    for kind in Kind::ASKED
        .into_iter()
        .filter(|kind| !kind.is_of_arrangement())
    {
        assert!(
            questions.iter().any(|question| question.kind() == kind),
            "{kind}"
        );
    }
    assert_eq!(run(7), questions);
    assert_ne!(run(8), questions);
    for pair in questions
        .windows(2)
        .filter(|pair| pair[0].note == pair[1].note)
    {
        let Question {
            note, placement, ..
        } = pair[1];
        let can_ask = |note: &usize| material.can_ask(pair[1].kind(), *note, placement);
        let all: Vec<usize> = material.asked().filter(can_ask).collect();
        assert_eq!(all, [note], "asked twice although there are others");
    }
}
