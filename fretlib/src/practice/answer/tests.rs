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
    ];
    for (text, name) in cases {
        assert_eq!(read_name(text), Ok(name.parse().unwrap()), "{text}");
    }
    for text in [
        "",
        "h",
        "Eb4",
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
        ("sharp four", ""),
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
    ];
    for (text, name, degree) in cases {
        let expected = (name.parse().unwrap(), degree.parse().unwrap());
        assert_eq!(read_name_and_degree(text), Ok(expected), "{text}");
    }
    // B and b3, or Bb and 3?
    for text in ["b flat 3", "Eb5"] {
        assert_eq!(read_name_and_degree(text), Err(Unclear::TwoWays), "{text}");
    }
    for text in ["", "Eb", "b3", "Eb,", ",3", "q 3", "日 3"] {
        assert!(
            matches!(read_name_and_degree(text), Err(Unclear::Expected(_))),
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
    assert_eq!(read_interval("third"), Err(Unclear::Quality));
    assert_eq!(read_interval("7 down"), Err(Unclear::Quality));
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
        ("#4", None, degree("#4")),
    ];
    for (text, inside, degree) in cases {
        assert_eq!(read_scale(text), Ok((inside, degree)), "{text}");
    }
    assert_eq!(read_scale("no"), Err(Unclear::WhichDegree));
    for text in ["", "maybe", "yes no", "yes #"] {
        assert!(read_scale(text).is_err(), "{text}");
    }
}
