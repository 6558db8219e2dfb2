use super::*;

fn tokens(text: &str) -> Vec<Result<Token<'_>, Problem>> {
    Lexer::new(Line {
        start: 0,
        text: text.as_bytes(),
    })
    .collect()
}

/// What a note or a rest of this text is; the text is all of one sign.
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
        };
        let length = Length::new(numer, denom).unwrap();
        assert_eq!(only(text), Ok(Token::Note(staff, length)), "{text}");
    }
}

#[test]
fn every_form_of_bar_line_is_one_sign() {
    for text in [
        "|", "||", "|]", "[|", "[|]", "|:", ":|", "::", ":|:", ":||:", "|::", "::|", ":|]", ":|2",
        "|1", "|1,3", "|1-3", "| 1", ":|[", ".|",
    ] {
        let text = text.trim_end_matches('[');
        assert_eq!(only(text), Ok(Token::Bar), "{text}");
    }
    // The bracket of an ending draws no bar line.
    assert_eq!(tokens("[1 z")[0], Ok(Token::Rest(Length::ONE)));
    assert_eq!(tokens(":|[2").len(), 1);
    assert_eq!(only(":"), Ok(Token::Unknown(':')));
}

#[test]
fn other_signs() {
    let tuplet = |notes, time, span| Token::Tuplet { notes, time, span };
    let cases = [
        ("z4", Token::Rest(Length::new(4, 1).unwrap())),
        ("x", Token::Rest(Length::ONE)),
        ("Z", Token::BarRest(1)),
        ("X12", Token::BarRest(12)),
        (">>", Token::Broken(2)),
        ("<", Token::Broken(-1)),
        (".-", Token::Tie),
        ("(3", tuplet(3, None, None)),
        ("(3:2", tuplet(3, Some(2), None)),
        ("(3::4", tuplet(3, None, Some(4))),
        ("(3:2:4", tuplet(3, Some(2), Some(4))),
        ("(3::", tuplet(3, None, None)),
        ("\"Am7\"", Token::Quoted(b"Am7")),
        ("&", Token::Overlay),
        ("(&", Token::OverlayOpen),
        ("&)", Token::OverlayClose),
        ("T", Token::Sign(b'T')),
        ("[", Token::StackOpen),
        ("]2", Token::StackClose(Length::new(2, 1).unwrap())),
        ("?", Token::Unknown('?')),
        ("é", Token::Unknown('é')),
    ];
    for (text, token) in cases {
        assert_eq!(only(text), Ok(token), "{text}");
    }
    let field = Field {
        name: b'K',
        value: b"D dor",
        start: 0,
    };
    assert_eq!(only("[K: D dor]"), Ok(Token::Field(field)));
    assert_eq!(
        Lexer::new(Line {
            start: 0,
            text: b"\xE9"
        })
        .next(),
        Some(Ok(Token::Unknown('é')))
    );
}

#[test]
fn what_has_no_sound_is_passed_over() {
    for text in [
        "{gcd}",
        "{/g}",
        "!trill!",
        "!D.C. al fine!",
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
        "[1",
        "[1-3,5",
    ] {
        assert_eq!(tokens(text), [], "{text}");
    }
}

#[test]
fn what_cannot_be_read_is_said_once() {
    let cases = [
        ("\"Am A B", Problem::Unclosed('"')),
        ("{gab c", Problem::Unclosed('{')),
        ("[K:G c", Problem::Unclosed('[')),
        ("^ ", Problem::StrayAccidental),
        ("^^^c2", Problem::BadAccidental),
        ("^_c", Problem::BadAccidental),
        ("^/c", Problem::Microtone),
        ("_3/2c'2", Problem::Microtone),
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
