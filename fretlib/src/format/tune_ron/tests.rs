//! Reading tunes, and errors with their places.

use super::read;
use crate::melody::{Melody, Quarters};

/// A tune with one line.
fn tune(meter: &str, chords: &str, notes: &str) -> String {
    format!("(meter: \"{meter}\", lines: [\n(chords: \"{chords}\",\nnotes: \"{notes}\")])")
}

fn melody(text: &str) -> Melody {
    read(text.as_bytes())
        .unwrap_or_else(|error| panic!("{error}\n{text}"))
        .melody
}

/// Notes as `onset pitch duration`.
fn check_notes(meter: &str, notes: &str, expected: &str) {
    let melody = melody(&tune(meter, "", notes));
    let found: Vec<String> = melody
        .notes()
        .iter()
        .map(|note| format!("{} {} {}", note.onset, note.pitch, note.duration))
        .collect();
    assert_eq!(found.join(", "), expected, "{notes}");
}

#[test]
fn notes_are_read() {
    check_notes("4/4", "E4 q. G4 e A4 h", "0 E4 3/2, 3/2 G4 1/2, 2 A4 2");
    check_notes("4/4", "E4 q G A B", "0 E4 1, 1 G4 1, 2 A4 1, 3 B4 1"); // value and octave carried
    check_notes("3/4", "B4 q C C5", "0 B4 1, 1 C4 1, 2 C5 1"); // the same octave number, not the nearest note
    check_notes("2/4", "r e E4 Bb3 q", "1/2 E4 1/2, 1 Bb3 1");
    check_notes("2/4", "E4 q. F e | ~ q G", "0 E4 3/2, 3/2 F4 3/2, 3 G4 1"); // a tie over the bar line
    check_notes("2/4", "E4 h | ~ | ~", "0 E4 6");
    check_notes(
        "2/4",
        "E4 e3 F G A q",
        "0 E4 1/3, 1/3 F4 1/3, 2/3 G4 1/3, 1 A4 1",
    );
    check_notes(
        "2/4",
        "E4 e3 F G A q|",
        "0 E4 1/3, 1/3 F4 1/3, 2/3 G4 1/3, 1 A4 1",
    );
    check_notes("2/4", "|E4 h|F 1/2", "0 E4 2, 2 F4 2");
    check_notes("free", "E4 q | F h. | G e", "0 E4 1, 1 F4 3, 4 G4 1/2");
    check_notes(
        "3/4",
        "[pickup] E4 q | F h. | G h",
        "0 E4 1, 1 F4 3, 4 G4 2",
    );
    check_notes(
        "3/4",
        "E4 h. | [irregular] F q | G h.",
        "0 E4 3, 3 F4 1, 4 G4 3",
    );
    check_notes(
        "3/4",
        "E4 h. | [meter 2/4] F h | G",
        "0 E4 3, 3 F4 2, 5 G4 2",
    );
}

#[test]
fn a_tune_is_read_with_all_its_fields() {
    let melody = melody(
        r#"Tune(
    title: "The \"Quiet\" Table",
    composer: "A. Guest",
    key: "D dorian", // and a comment
    meter: "6/8",
    tempo: "q. = 60",
    lines: [
        (notes: "[pickup] [section A] A4 e | D5 q. C q A e | B4 h., [key D minor] | "),
        (chords: "Dm7 | Gm7 C7 | - | %", notes: "[section B] Bb4 h. | A | [tempo 100] A | G q. r q"),
    ],
)"#,
    );
    assert_eq!(melody.title(), "The \"Quiet\" Table");
    assert_eq!(melody.composer(), Some("A. Guest"));
    let numbers: Vec<u32> = melody.bars().iter().map(|bar| bar.number).collect();
    assert_eq!(numbers, [0, 1, 2, 3, 4, 5, 6]);
    assert_eq!(melody.length(), Quarters::new(36, 2)); // the last bar is short by the pickup
    let keys: Vec<String> = melody
        .keys()
        .iter()
        .map(|(onset, key)| format!("{onset} {key}"))
        .collect();
    assert_eq!(keys, ["0 D dorian", "13/2 D minor"]);
    let chords: Vec<String> = melody
        .chords()
        .iter()
        .map(|(onset, chord)| format!("{onset} {}", chord.unwrap()))
        .collect();
    assert_eq!(chords, ["13/2 Dm7", "19/2 Gm7", "11 C7"]);
    let sections: Vec<String> = melody
        .sections()
        .iter()
        .map(|(onset, name)| format!("{onset} {name}"))
        .collect();
    assert_eq!(sections, ["0 A", "13/2 B"]);
    assert_eq!(melody.phrase_starts(), [Quarters::new(13, 2)]);
    let tempos: Vec<Quarters> = melody
        .tempos()
        .iter()
        .map(|(_, tempo)| tempo.quarters_per_minute())
        .collect();
    assert_eq!(tempos, [Quarters::from(90), Quarters::from(100)]);
}

/// Chords as `onset symbol`, over two bars.
fn check_chords(meter: &str, chords: &str, expected: &str) {
    let notes = match meter {
        "4/4" => "E4 w | E4",
        "3/4" => "E4 h. | E4",
        _ => "E4 q. E4 | E4 E4",
    };
    let melody = melody(&tune(meter, chords, notes));
    let found: Vec<String> = melody
        .chords()
        .iter()
        .map(|(onset, chord)| {
            let symbol = chord.map_or("N.C.".to_owned(), |chord| chord.to_string());
            format!("{onset} {symbol}")
        })
        .collect();
    assert_eq!(found.join(", "), expected, "{chords}");
}

#[test]
fn chords_are_placed() {
    check_chords("4/4", "Dm7 G7 | C6", "0 Dm7, 2 G7, 4 C6");
    check_chords("4/4", "| C6 | % |", "0 C6, 4 C6");
    check_chords("4/4", "Dm7 G7 | %", "0 Dm7, 2 G7, 4 Dm7, 6 G7");
    check_chords("4/4", "C6 | -", "0 C6");
    check_chords("4/4", "N.C. | - h. G7", "0 N.C., 7 G7");
    check_chords("4/4", "Dm7 h. G7 | C6", "0 Dm7, 3 G7, 4 C6");
    check_chords(
        "4/4",
        "C6 q A7 q Dm7 q G7 | C6",
        "0 C6, 1 A7, 2 Dm7, 3 G7, 4 C6",
    );
    check_chords("3/4", "C6 Dm7 G7 | N.C.", "0 C6, 1 Dm7, 2 G7, 3 N.C.");
    check_chords("3/4", "Dm7 h G7 q | C6", "0 Dm7, 2 G7, 3 C6");
    check_chords("6/8", "Dm7 G7 | C6", "0 Dm7, 3/2 G7, 3 C6"); // in two
    check_chords("4/4", "", "");
}

/// Errors of a tune in 4/4 with these chords on line 2 and these notes on line 3.
fn check_faults(chords: &str, notes: &str, expected: &[&str]) {
    let text = tune("4/4", chords, notes);
    let error = read(text.as_bytes()).unwrap_err();
    let found: Vec<String> = error
        .diagnostics()
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(found, expected, "{text}");
}

#[test]
fn errors_have_their_place() {
    check_faults(
        "C6 | Q7 | C6 Dm7 G7 | C6 h Dm7 q",
        "E4 w | F4 q G H q | E w | E",
        &[
            "line 2, column 16: expected a chord symbol such as Am7, F#m7b5 or C7(b9)/E, found `Q7`",
            "line 2, column 21: 3 chords do not share this bar in whole beats",
            "line 2, column 33: the chords last 3/4, the notes 1",
            "line 3, column 16: bar 2 is 1/4 too short for 4/4: it lasts 3/4",
            "line 3, column 23: expected a note such as E4, F#5 or Bb, `r` for a rest or `~` for a tie, found `H`",
        ],
    );
    check_faults(
        "",
        "E4 q | F4 w e | E4 zz | E w G9 q",
        &[
            "line 3, column 9: bar 1 is 3/4 too short for 4/4: it lasts 1/4",
            "line 3, column 21: the value `e` stands where a note was expected",
            "line 3, column 28: expected a note such as E4, F#5 or Bb, `r` for a rest or `~` for a tie, found `zz`",
            "line 3, column 33: bar 4 is 1/4 too long for 4/4: it lasts 5/4",
        ],
    );
    // With an unreadable value, the length of its bar is unknown, and no second error is given.
    check_faults(
        "",
        "E4 q9x G A | B",
        &[
            "line 3, column 12: expected a note value such as q, h., e3 (a triplet), h+e (tied) or 3/16, found `q9x`",
        ],
    );
    check_faults("", "E4 G A", &["line 3, column 9: `E4` has no value"]);
    check_faults(
        "",
        "G q A B C",
        &[
            "line 3, column 9: expected an octave with the first note of a line, such as E4, found `G`",
        ],
    );
    check_faults(
        "",
        "~ w",
        &["line 3, column 9: there is no note before this tie"],
    );
    check_faults(
        "",
        "r w | ~",
        &["line 3, column 15: there is no note before this tie"],
    );
    check_faults(
        "",
        "E4 w | | E",
        &["line 3, column 16: there is nothing in the bar before this line"],
    );
    check_faults("", " ", &["line 3, column 9: there is no bar in this line"]);
    check_faults("", "r w", &["in the file: no notes found"]);
    check_faults(
        "",
        "E4 w | [key H] E",
        &[
            "line 3, column 17: expected a key such as `Eb major`, `E minor` or `A dorian`, found `H`",
        ],
    );
    check_faults(
        "",
        "E4 w | [trio] E [pickup] | [section",
        &[
            "line 3, column 17: expected a mark such as [section A], [key G major], [meter 3/4], [tempo 90], [pickup] or [irregular], found `trio`",
            "line 3, column 26: a pickup is the first bar of the tune, or follows a repeat sign or a double bar line",
            "line 3, column 36: the bracket `[` is not closed",
        ],
    );
    check_faults(
        "",
        "[pickup] E4 w | E",
        &["line 3, column 18: a pickup that fills a bar of 4/4"],
    );
    // Only the last bar may be short by the pickup.
    check_faults(
        "",
        "[pickup] E4 q | E h. | E w | E h.",
        &["line 3, column 25: bar 1 is 1/4 too short for 4/4: it lasts 3/4"],
    );
    check_faults(
        "C6",
        "E4 w | E",
        &["line 2, column 11: 1 bar of chords over 2 bars of notes"],
    );
    check_faults(
        "% | C6 |  | C6",
        "E4 w | E | E | E",
        &[
            "line 2, column 11: there is no bar of chords before this `%`",
            "line 2, column 19: there is no chord in this bar",
        ],
    );
    check_faults(
        "C6 h G7 q F6 h | C6",
        "E4 w | E",
        &["line 2, column 11: the chords last 5/4, the notes 1"],
    );
    check_faults(
        "C6 w G7",
        "E4 w",
        &["line 2, column 11: nothing of the bar is left for the last chord"],
    );
    check_faults(
        "C6 h9x G7",
        "E4 w",
        &[
            "line 2, column 14: expected a note value such as q, h., e3 (a triplet), h+e (tied) or 3/16, found `h9x`",
        ],
    );
    check_faults(
        "",
        "E4 1/9999999 E",
        &[
            "line 3, column 12: expected a note value such as q, h., e3 (a triplet), h+e (tied) or 3/16, found `1/9999999`",
        ],
    );
    check_faults(
        "",
        "[irregular] E4 1/999983 E 1/999979",
        &[
            "line 3, column 33: note 2 begins or ends on a grid finer than 1/1000000 of a quarter note",
        ],
    );
}

#[test]
fn files_that_are_not_tunes_are_refused() {
    let cases = [
        (
            "",
            "line 1, column 1: expected opening `(` for struct `Tune`",
        ),
        (
            "(titel: \"x\", lines: [])",
            "line 1, column 2: there is no field `titel` here",
        ),
        (
            "(title: \"x\")",
            "line 1, column 12: the field `lines` is missing",
        ),
        (
            "(lines: [(notes: \"E4 w\", nots: \"\")])",
            "line 1, column 26: there is no field `nots` here",
        ),
        (
            "(lines: [\n(notes: E4)])",
            "line 2, column 9: expected text",
        ),
        (
            "(tempo: 5000, lines: [])",
            "line 1, column 9: quarter notes a minute 5000 is not in the range 1 to 1000",
        ),
        (
            "(tempo: \"allegro\", lines: [])",
            "line 1, column 10: expected a tempo such as 104 (quarter notes a minute) or q. = 70, found `allegro`",
        ),
        (
            "(meter: \"4/3\", lines: [])",
            "line 1, column 10: beat unit (a power of two) 3 is not in the range 1 to 64",
        ),
        (
            "(lines: [(notes: \"E4\\tw\")])",
            "line 1, column 23: expected text without a backslash",
        ),
        ("(lines: [])", "in the file: no notes found"),
        (
            "(lines: [(notes: \"E4 w\")]) x",
            "line 1, column 28: non-whitespace trailing characters",
        ),
    ];
    for (text, message) in cases {
        assert_eq!(
            read(text.as_bytes()).unwrap_err().to_string(),
            message,
            "{text}"
        );
    }
    assert_eq!(
        read(b"\xff\xfe(").unwrap_err().to_string(),
        "in the file: not text in UTF-8"
    );
}

#[test]
fn at_most_ten_errors_are_reported() {
    let error = read(tune("4/4", "", &"H w | ".repeat(40)).as_bytes()).unwrap_err();
    assert_eq!(error.diagnostics().len(), 10);
}

quickcheck::quickcheck! {
    fn any_bytes_are_a_tune_or_a_fault(bytes: Vec<u8>) -> bool {
        super::looks_like(&bytes);
        read(&bytes).is_ok() || !read(&bytes).unwrap_err().diagnostics().is_empty()
    }

    fn any_music_is_a_tune_or_a_fault(notes: Vec<u8>, chords: Vec<u8>) -> bool {
        let words = [
            "E4", "Bb", "H", "r", "~", "q", "h.", "e3", "7/8", "1/0", "|", "|", ",", "[pickup]", "[irregular]", "[meter 2/4]",
            "[key C]", "[tempo 3/0]", "[", "%", "-", "C7", "N.C.", "G9", "E4", "E4", "q", "é",
        ];
        let line = |numbers: Vec<u8>| {
            let words: Vec<&str> = numbers.iter().map(|number| words[*number as usize % words.len()]).collect();
            words.join(" ")
        };
        let text = tune("4/4", &line(chords), &line(notes));
        match read(text.as_bytes()) {
            Ok(_) => true,
            Err(error) => !error.diagnostics().is_empty(),
        }
    }
}

#[test]
fn a_long_tune_is_read() {
    let notes = "E4 e F G A B A G F | ".repeat(12_500);
    let long = melody(&tune("4/4", &"C6 G7 | ".repeat(12_500), &notes));
    assert_eq!(long.notes().len(), 100_000);
    assert_eq!(long.chords().iter().len(), 25_000);
}
