use super::*;
use crate::format::bar_line::BarStyle;

fn tokens(text: &str) -> Vec<Result<Token<'_>, Problem>> {
    Lexer::new(SourceLine {
        start: 0,
        text: text.as_bytes(),
    })
    .collect()
}

/// The note or rest that this text is; it must be a single sign.
fn only(text: &str) -> Result<Token<'_>, Problem> {
    let all = tokens(text);
    assert_eq!(all.len(), 1, "{text}: {all:?}");
    all[0]
}

#[test]
fn notes() {
    let cases = [
        ("C", (Letter::C, 4, None), (1, 1)),
        ("c", (Letter::C, 5, None), (1, 1)),
        ("B,,2", (Letter::B, 2, None), (2, 1)),
        ("^f'3/2", (Letter::F, 6, Some(1)), (3, 2)),
        ("=g/", (Letter::G, 5, Some(0)), (1, 2)),
        ("__e//", (Letter::E, 5, Some(-2)), (1, 4)),
        ("^^A3/", (Letter::A, 4, Some(2)), (3, 2)),
        ("D/3", (Letter::D, 4, None), (1, 3)),
        ("c',", (Letter::C, 5, None), (1, 1)),
    ];
    for (text, (letter, octave, accidental), (numer, denom)) in cases {
        let staff = Staff {
            letter,
            octave,
            accidental,
            is_rounded: false,
        };
        let length = Length::new(numer, denom).unwrap();
        assert_eq!(only(text), Ok(Token::Note(staff, length)), "{text}");
    }
}

#[test]
fn every_form_of_bar_line_is_one_sign() {
    let check = |text: &str, ends: u8, starts: u8, style: BarStyle, ending: &[u8]| {
        let line = BarLine {
            ends,
            starts,
            style,
            ending: Endings::new(ending.iter().copied()).unwrap(),
        };
        assert_eq!(only(text), Ok(Token::Bar(line)), "{text}");
    };
    for text in ["|", "[|]", ".|"] {
        check(text, 0, 0, BarStyle::Plain, &[]);
    }
    for text in ["||", "[|"] {
        check(text, 0, 0, BarStyle::Double, &[]);
    }
    check("|]", 0, 0, BarStyle::Final, &[]);
    for text in ["|:", "[|:"] {
        let style = if text == "|:" {
            BarStyle::Plain
        } else {
            BarStyle::Double
        };
        check(text, 0, 1, style, &[]);
    }
    check(":|", 1, 0, BarStyle::Plain, &[]);
    check(":|]", 1, 0, BarStyle::Final, &[]);
    for text in ["::", ":|:"] {
        check(text, 1, 1, BarStyle::Plain, &[]);
    }
    check(":||:", 1, 1, BarStyle::Double, &[]);
    check("|::", 0, 2, BarStyle::Plain, &[]);
    check("::|", 2, 0, BarStyle::Plain, &[]);
    check(":|2", 1, 0, BarStyle::Plain, &[2]);
    for text in ["|1", "| 1"] {
        check(text, 0, 0, BarStyle::Plain, &[1]);
    }
    check("|1,3", 0, 0, BarStyle::Plain, &[1, 3]);
    check("|1-3", 0, 0, BarStyle::Plain, &[1, 2, 3]);
}

#[test]
fn endings_and_words_of_the_form_are_signs() {
    let ending = |numbers: &[u8]| Endings::new(numbers.iter().copied()).unwrap().unwrap();
    assert_eq!(only("[1"), Ok(Token::Ending(ending(&[1]))));
    assert_eq!(only("[1-3,5"), Ok(Token::Ending(ending(&[1, 2, 3, 5]))));
    assert_eq!(tokens("[1 z")[1], Ok(Token::Rest(Length::ONE)));
    assert_eq!(only("!segno!"), Ok(Token::Form(FormSign::Segno)));
    assert!(matches!(
        only("!D.C. al fine!"),
        Ok(Token::Form(FormSign::Jump(_)))
    ));
}

#[test]
fn signs_without_sound_are_skipped() {
    for text in [
        "{gcd}",
        "{/g}",
        "!trill!",
        "+fermata+",
        ".",
        "(",
        ")",
        "`",
        "y",
        "y2",
        "\\",
        "$",
        " \t",
        "!",
    ] {
        assert_eq!(tokens(text), [], "{text}");
    }
}

#[test]
fn quarter_tones_go_towards_the_natural_note() {
    for (text, accidental) in [
        ("^/c", 0),
        ("_3/2c'2", -1),
        ("^3/c", 1),
        ("^1/4c", 0),
        ("_2c", -2),
    ] {
        let Ok(Token::Note(staff, _)) = only(text) else {
            panic!("{text}");
        };
        assert_eq!(
            (staff.accidental, staff.is_rounded),
            (Some(accidental), true),
            "{text}"
        );
    }
}

#[test]
fn old_files_stack_notes_between_plus_signs() {
    let stack = tokens("+GB+2");
    assert!(matches!(
        stack[..],
        [
            Ok(Token::StackOpen),
            Ok(Token::Note(..)),
            Ok(Token::Note(..)),
            Ok(Token::StackClose(_))
        ]
    ));
    assert_eq!(tokens("+ff+"), [], "forte");
    assert_eq!(tokens("+^G,B+"), tokens("[^G,B]"));
}

#[test]
fn each_fault_is_reported_once() {
    let cases = [
        ("\"Am A B", Problem::Unclosed('"')),
        ("{gab c", Problem::Unclosed('{')),
        ("[K:G c", Problem::Unclosed('[')),
        ("^ ", Problem::StrayAccidental),
        ("^^^c2", Problem::BadAccidental),
        ("^_c", Problem::BadAccidental),
        (" 2", Problem::StrayNumber),
        ("/", Problem::StrayNumber),
        ("A0", Problem::Zero),
        ("A/0", Problem::Zero),
        ("A1000001", Problem::TooLarge),
        ("Z99999999999", Problem::TooLarge),
        ("A////////////////////////", Problem::TooLarge),
        (">>>>", Problem::TooBroken),
    ];
    for (text, problem) in cases {
        assert_eq!(only(text), Err(problem), "{text}");
    }
}
