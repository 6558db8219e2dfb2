//! Tunes are written so that they read back the same, laid out as lead sheets.

use quickcheck::{Arbitrary, Gen, TestResult};

use crate::format::tune_ron::{read, write};
use crate::melody::{Draft, Melody, Meter, Quarters, Tempo};
use crate::theory::{Chord, Key, Mode};

fn melody(text: &str) -> Melody {
    read(text.as_bytes())
        .unwrap_or_else(|error| panic!("{error}\n{text}"))
        .melody
}

#[test]
fn names_that_need_quotes_or_brackets_are_written() {
    let mut before = melody(r#"(meter: "4/4", lines: [(notes: "E4 w | E")])"#).into_draft();
    before.title = "back\\slash and \"quotes\"".to_owned();
    before
        .sections
        .set(Quarters::from(0), "the \"#1\" [loud]".to_owned());
    let before = Melody::new(before).unwrap();
    let after = melody(&write(&before));
    assert_eq!(after.title(), before.title());
    assert_eq!(
        after.sections().first().map(String::as_str),
        Some("the \"#1\" (loud)")
    );
}

#[test]
fn lines_are_written_as_on_a_lead_sheet() {
    let text = r#"(
    title: "Gulls over Breakfast",
    key: "G major",
    meter: "3/4",
    tempo: 132,
    lines: [
        (
            chords: "-             | G             | Am7 h D7 | Gmaj7  | %",
            notes:  "[pickup] D4 q | B4 h A4 q | G4 E4 F#4 | B4 h., | r q r D4",
        ),
        (
            notes:  "[section B] D4 h. | G4 h",
        ),
    ],
)
"#;
    let expected = r#"(
    title: "Gulls over Breakfast",
    key: "G major",
    meter: "3/4",
    tempo: 132,
    lines: [
        (
            chords: "-             | G         | Am7 h D7  | Gmaj7  | Gmaj7",
            notes:  "[pickup] D4 q | B4 h A4 q | G4 E4 F#4 | B4 h., | r h D4 q",
        ),
        (
            notes:  "[section B] D4 h. | G4 h",
        ),
    ],
)
"#;
    assert_eq!(write(&melody(text)), expected);
}

/// A melody from random bytes, with everything a melody can have.
#[derive(Clone, Debug)]
struct AnyMelody(Melody);

impl Arbitrary for AnyMelody {
    fn arbitrary(g: &mut Gen) -> AnyMelody {
        let mut draft = Draft {
            title: String::arbitrary(g),
            composer: Option::arbitrary(g),
            ..Draft::default()
        };
        let meters = [None, Some("3/4"), Some("4/4"), Some("6/8"), Some("5/8")];
        if bool::arbitrary(g) {
            let meter = g.choose(&meters).unwrap();
            let meter = meter.map(|text| text.parse::<Meter>().unwrap());
            draft.meters.set(Quarters::from(0), meter);
        }
        for _ in 0..1 + usize::arbitrary(g) % 40 {
            let denominators = [1, 2, 2, 3, 4, 5, 7, 8, 12];
            let numer = 1 + i64::from(u8::arbitrary(g) % 9);
            let length = Quarters::new(numer, *g.choose(&denominators).unwrap());
            match u8::arbitrary(g) % 16 {
                0..3 => draft.rest(length).unwrap(),
                3..7 => draft.bar_line(),
                _ => draft.note(Arbitrary::arbitrary(g), length).unwrap(),
            }
        }
        draft
            .note("E4".parse().unwrap(), Quarters::from(1))
            .unwrap();
        let end = draft.now;
        // Changes at any time, at onsets and within notes.
        let when = |g: &mut Gen| end * Quarters::new(i64::from(u8::arbitrary(g) % 24), 24);
        for _ in 0..usize::arbitrary(g) % 6 {
            let mode = *g.choose(&Mode::ALL).unwrap();
            let signature = i8::arbitrary(g) % 8;
            draft
                .keys
                .set(when(g), Key::from_signature(signature, mode).unwrap());
            let meter = g.choose(&meters).unwrap().map(|text| text.parse().unwrap());
            draft.meters.set(when(g), meter);
            let count = Quarters::new(
                1 + i64::from(u16::arbitrary(g) % 900),
                1 + i64::from(u8::arbitrary(g) % 2),
            );
            if let Ok(tempo) = Tempo::new(Quarters::from(1), count) {
                draft.tempos.set(when(g), tempo);
            }
            draft.sections.set(
                when(g),
                g.choose(&["A", "B", "Last time", ""]).unwrap().to_string(),
            );
            draft.chords.set(when(g), Option::<Chord>::arbitrary(g));
            draft.phrase_starts.push(when(g));
        }
        AnyMelody(Melody::new(draft).unwrap())
    }
}

quickcheck::quickcheck! {
    fn a_melody_is_written_and_read_back(before: AnyMelody) -> TestResult {
        let text = write(&before.0);
        match read(text.as_bytes()) {
            Ok(after) if after.melody == before.0 => TestResult::passed(),
            Ok(after) => TestResult::error(format!("{text}\n{:#?}", after.melody)),
            Err(error) => TestResult::error(format!("{text}\n{error}")),
        }
    }
}
