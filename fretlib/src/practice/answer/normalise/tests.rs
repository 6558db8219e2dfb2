//! Answers as players type them, and what is refused.

use super::*;

#[test]
fn names_are_read_generously() {
    let cases = [
        ("Eb", "Eb"),
        ("e flat", "Eb"),
        ("E♭", "Eb"),
        ("e-flat", "Eb"),
        ("eflat", "Eb"),
        ("b", "B"),
        ("bb", "Bb"),
        ("B flat", "Bb"),
        ("f double sharp", "F##"),
        ("fx", "F##"),
        ("C natural", "C"),
        (" c# ", "C#"),
        ("B double flat", "Bbb"),
        // An octave is ignored.
        ("Bb4", "Bb"),
        ("b flat 4", ""),
        ("a flat", "Ab"),
    ];
    for (text, name) in cases {
        assert_eq!(read_name(text).ok(), name.parse().ok(), "{text}");
    }
    for text in [
        "",
        "h",
        "E 4",
        "E99",
        "c sharp flat",
        "c double",
        "flat",
        "E b b b b b",
        "é",
    ] {
        assert!(read_name(text).is_err(), "{text}");
    }
}

#[test]
fn degrees_are_read_generously() {
    let cases = [
        ("b3", "b3"),
        ("flat 3", "b3"),
        ("flat third", "b3"),
        ("Flat 3rd", "b3"),
        ("♭3", "b3"),
        ("minor third", "b3"),
        ("m3", "b3"),
        ("#4", "#4"),
        ("sharp four", "#4"),
        ("flat seven", "b7"),
        ("VII", "7"),
        ("bVII", "b7"),
        ("♭vii", "b7"),
        ("iv", "4"),
        // As `map` prints them: raised, outside the scale, a stretch, the tonic.
        ("^7", "7"),
        ("*#4", "#4"),
        ("~6", "6"),
        ("[1]", "1"),
        ("leading tone", "7"),
        ("a minor third", "b3"),
        ("flat", ""),
        ("root", "1"),
        ("5", "5"),
        ("5th", "5"),
        ("perfect fifth", "5"),
        ("augmented fourth", "#4"),
        ("bb7", "bb7"),
        ("diminished seventh", "bb7"),
        ("octave", "1"),
        ("8b", ""),
        ("0", ""),
        ("b", ""),
    ];
    for (text, name) in cases {
        assert_eq!(read_degree(text).ok(), name.parse().ok(), "{text}");
    }
}

#[test]
fn a_note_and_its_degree_come_in_either_order() {
    let cases = [
        ("Eb b3", "Eb", "b3"),
        ("b3 Eb", "Eb", "b3"),
        ("e flat, flat 3", "Eb", "b3"),
        ("b b3", "B", "b3"),
        ("bb 3", "Bb", "3"),
        ("e5", "E", "5"),
        ("5e", "E", "5"),
        ("3 eb", "Eb", "3"),
        ("B flat / root", "Bb", "1"),
        ("C5 b7", "C", "b7"),
        ("C5b7", "C", "b7"),
        ("Eb (b3)", "Eb", "b3"),
        ("C flat seven", "", ""),
        ("C, flat seven", "C", "b7"),
    ];
    for (text, name, degree) in cases {
        let expected = name.parse().ok().zip(degree.parse().ok());
        assert_eq!(read_name_and_degree(text).ok(), expected, "{text}");
    }
    // B and b3, or Bb and 3?
    for text in ["b flat 3", "Eb5"] {
        assert_eq!(
            read_name_and_degree(text),
            Err(AnswerError::TwoWays),
            "{text}"
        );
    }
    for text in ["", "Eb", "b3", "Eb,", ",3", "q 3", "日 3"] {
        assert!(
            matches!(read_name_and_degree(text), Err(AnswerError::Expected(_))),
            "{text}"
        );
    }
}

#[test]
fn intervals_are_read_generously() {
    let cases = [
        ("m3", "m3", None),
        ("M3", "M3", None),
        ("minor third", "m3", None),
        ("Minor 3rd", "m3", None),
        ("maj 7", "M7", None),
        ("min7", "m7", None),
        ("P5 down", "P5", Some(Direction::Down)),
        ("down a perfect fifth", "P5", Some(Direction::Down)),
        ("falling fifth", "P5", Some(Direction::Down)),
        ("+m2", "m2", Some(Direction::Up)),
        ("-P8", "P8", Some(Direction::Down)),
        ("octave up", "P8", Some(Direction::Up)),
        ("half step", "m2", None),
        ("half-step down", "m2", Some(Direction::Down)),
        ("half step up", "m2", Some(Direction::Up)),
        ("step down", "M2", Some(Direction::Down)),
        ("a step up", "M2", Some(Direction::Up)),
        ("down an octave", "P8", Some(Direction::Down)),
        ("a4", "A4", None),
        ("whole tone", "M2", None),
        ("tritone", "A4", None),
        ("dim 5", "d5", None),
        ("aug4", "A4", None),
        ("doubly diminished seventh", "dd7", None),
        ("unison", "P1", None),
        ("same note", "P1", None),
        ("major tenth", "M10", None),
        ("up down m3", "", None),
        ("P3", "", None),
        ("mm3", "", None),
    ];
    for (text, name, direction) in cases {
        let expected = name.parse().ok().map(|size: Interval| (size, direction));
        assert_eq!(read_interval(text).ok(), expected, "{text}");
    }
    assert_eq!(read_interval("third"), Err(AnswerError::Quality));
    assert_eq!(read_interval("7 down"), Err(AnswerError::Quality));
}

#[test]
fn the_scale_is_a_yes_or_a_no_with_a_degree() {
    let degree = |name: &str| Some(name.parse().unwrap());
    let cases = [
        ("yes", Some(true), None),
        ("y", Some(true), None),
        ("in the scale", Some(true), None),
        ("yes, 5", Some(true), degree("5")),
        ("no #4", Some(false), degree("#4")),
        ("No: sharp 4", Some(false), degree("#4")),
        ("not in the scale, b3", Some(false), degree("b3")),
        ("out b3", Some(false), degree("b3")),
        ("yeah", Some(true), None),
        ("yep, the fifth", Some(true), degree("5")),
        ("nope, flat 6", Some(false), degree("b6")),
        ("it is in the key", Some(true), None),
        ("#4", None, degree("#4")),
    ];
    for (text, inside, degree) in cases {
        assert_eq!(read_scale(text), Ok((inside, degree)), "{text}");
    }
    assert_eq!(read_scale("no"), Err(AnswerError::WhichDegree));
    for text in ["", "maybe", "yes no", "yes #"] {
        assert!(read_scale(text).is_err(), "{text}");
    }
}

#[test]
fn places_are_read_by_string_numbers_and_names() {
    let guitar = Instrument::default();
    let cases = [
        ("3 5", "3:5"),
        ("s3 f5", "3:5"),
        ("f5 s3", "3:5"),
        ("string 3, fret 5", "3:5"),
        ("3rd string 5th fret", "3:5"),
        ("5th fret on the 3rd string", "3:5"),
        ("open string 2", "2:0"),
        ("G 2", "3:2"),
        ("g 2", "3:2"),
        ("G2", "3:2"),
        ("G string 2", "3:2"),
        ("2 on the G string", "3:2"),
        ("G string fret 2", "3:2"),
        ("open G", "3:0"),
        ("G string open", "3:0"),
        ("high E 3", "1:3"),
        ("low e 3", "6:3"),
        ("3", ""),
        ("3 5 7", ""),
        ("x y", ""),
    ];
    for (text, place) in cases {
        let read = read_place(text, &guitar).map(|place| place.to_string());
        match place {
            "" => assert!(read.is_err(), "{text}: {read:?}"),
            place => assert_eq!(read.as_deref(), Ok(place), "{text}"),
        }
    }
    let refused = [
        ("7 1", AnswerError::NoString(7)),
        ("1 30", AnswerError::NoFret(30)),
        ("99999999999 1", AnswerError::NoString(u32::MAX)),
        ("E 3", AnswerError::WhichString("E".parse().unwrap())),
        ("C 3", AnswerError::NoStringOfName("C".parse().unwrap())),
    ];
    for (text, error) in refused {
        assert_eq!(read_place(text, &guitar), Err(error), "{text}");
    }
}

#[test]
fn what_comes_next_is_a_note_a_degree_or_a_place() {
    let guitar = Instrument::default();
    let cases = [
        ("Bb", "Bb"),
        ("Bb4", "Bb"),
        ("b flat", "Bb"),
        ("D5", "D"),
        ("b3", "b3"),
        ("B3", "B"),
        ("flat seven", "b7"),
        ("5", "5"),
        ("3 5", "string 3, fret 5"),
        ("G 2", "string 3, fret 2"),
        ("D string 5", "string 4, fret 5"),
    ];
    for (text, answer) in cases {
        let read = read_next(text, &guitar).map(|answer| answer.to_string());
        assert_eq!(read.as_deref(), Ok(answer), "{text}");
    }
    for text in ["bb4", "b 5"] {
        assert_eq!(
            read_next(text, &guitar),
            Err(AnswerError::TwoWays),
            "{text}"
        );
    }
    assert_eq!(read_next("9 9", &guitar), Err(AnswerError::NoString(9)));
    assert!(matches!(
        read_next("somewhere", &guitar),
        Err(AnswerError::Expected(_))
    ));
}

#[test]
fn choices_are_read_by_their_numbers() {
    for text in ["2", " 2.", "two", "second", "the second", "2nd", "ii"] {
        assert_eq!(read_choice(text, 3), Ok(2), "{text}");
    }
    for text in ["", "0", "4", "-2", "1 2", "b2", "99999999999"] {
        assert_eq!(
            read_choice(text, 3),
            Err(AnswerError::NoChoice(3)),
            "{text}"
        );
    }
}
