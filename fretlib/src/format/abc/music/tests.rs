use crate::format::abc::{AbcOptions, read};
use crate::format::{ReadError, Reading};

fn read_body(fields: &str, music: &str) -> Result<Reading, ReadError> {
    let text = format!("X:1\nL:1/4\n{fields}\nK:C\n{music}\n");
    read(text.as_bytes(), &AbcOptions::default())
}

/// Notes as `pitch:duration`, with `z:` for the time between them.
fn check(fields: &str, music: &str, expected: &str) {
    let melody = read_body(fields, music)
        .unwrap_or_else(|diagnostics| panic!("{music}: {diagnostics}"))
        .melody;
    let mut now = 0.into();
    let mut found = Vec::new();
    for note in melody.notes() {
        if note.onset > now {
            found.push(format!("z:{}", note.onset - now));
        }
        found.push(format!("{}:{}", note.pitch, note.duration));
        now = note.end();
    }
    if melody.length() > now {
        found.push(format!("z:{}", melody.length() - now));
    }
    assert_eq!(found.join(" "), expected, "{music}");
}

fn check_fault(music: &str, expected: &str) {
    match read_body("M:4/4", music) {
        Ok(reading) => panic!("{music}: {reading:?}"),
        Err(diagnostics) => assert_eq!(diagnostics.to_string(), expected, "{music}"),
    }
}

#[test]
fn notes_and_rests_take_time() {
    check("", "C2 z/ x/ c", "C4:2 z:1 C5:1");
    check("M:3/4", "C3|Z2|D3|", "C4:3 z:6 D4:3");
    check("", "(CD).E~F`G y A\\", "C4:1 D4:1 E4:1 F4:1 G4:1 A4:1");
}

#[test]
fn broken_rhythm_shares_the_time_of_two() {
    check("", "C>D", "C4:3/2 D4:1/2");
    check("", "C<<D", "C4:1/4 D4:7/4");
    check("", "C > {g}D E>z", "C4:3/2 D4:1/2 E4:3/2 z:1/2");
    check("", "C<D>E", "C4:1/2 D4:9/4 E4:1/2"); // shortened, then dotted
    check("", "C>|D", "C4:3/2 D4:1/2");
}

#[test]
fn tuplets_squeeze_and_stretch() {
    check("M:4/4", "(3CDE F", "C4:2/3 D4:2/3 E4:2/3 F4:1");
    check("M:6/8", "(2CD E", "C4:3/2 D4:3/2 E4:1");
    check("M:4/4", "(5CDEFG", "C4:2/5 D4:2/5 E4:2/5 F4:2/5 G4:2/5");
    check("M:6/8", "(5CDEFG", "C4:3/5 D4:3/5 E4:3/5 F4:3/5 G4:3/5");
    check("", "(3:2:2C2D E", "C4:4/3 D4:2/3 E4:1"); // r: for two notes
    check("", "(3C>zD", "C4:1 z:1/3 D4:2/3");
    check("", "(3{c}[CE]DE F", "E4:2/3 D4:2/3 E4:2/3 F4:1");
    check("", "(11:8:1C D", "C4:8/11 D4:1");
    check("", "(3C(3DEF G", "C4:2/3 D4:2/3 E4:2/3 F4:2/3 G4:1");
}

#[test]
fn ties_make_one_note() {
    check("", "C-C|-C", "C4:2 C4:1"); // the sign follows its note
    check("", "C-|C-\nC D", "C4:3 D4:1");
    check("", "^C-|C C", "C#4:2 C4:1"); // the accidental crosses the bar line with the tie, and no further
    check("", "C-D", "C4:1 D4:1");
    check("", "C-^C", "C4:1 C#4:1");
    check("", "C-z C", "C4:1 z:1 C4:1");
    check("", "[CE]-[CE] [C-E][CE] [CE-]E", "E4:2 E4:1 E4:1 E4:2");
    check("", "C>-C", "C4:2");
}

#[test]
fn of_a_stack_the_top_note_is_read() {
    check("", "[CEG]2 [c/E2]2", "G4:2 C5:1");
    check("", "[^CE,]|[C\"Am\"!trill!E]", "C#4:1 E4:1");
    check("", "[CE]>[DF]", "E4:3/2 F4:1/2");
    check("", "[ce]C [A,B,c']", "E5:1 C4:1 C6:1");
    let warnings = read_body("", "[CE][CE]").unwrap().warnings;
    assert_eq!(
        warnings,
        ["of notes stacked on each other the top one is the melody"]
    );
}

#[test]
fn of_several_layers_the_first_is_read() {
    check("", "C D & E ^F | F G", "C4:1 D4:1 F4:1 G4:1");
    check("", "(& C | D & E | F &) G", "C4:1 D4:1 G4:1");
}

#[test]
fn bar_lines_make_bars() {
    let cases = [
        ("M:4/4", "|:CDEF|G4:|2CDEF||c4|]", "0 4 8 12"),
        ("M:4/4", "C|DEFG|A4|", "0 1 5"),
        ("M:4/4", "C4|Z3|D4", "0 4 8 12 16"),
        ("M:2/4", "CD|C [1 D:|[2 E||F2", "0 2 4 5"), // the ending begins within its bar
        ("M:2/4", "CDEF", "0 2"),                    // none written: by the meter
    ];
    for (fields, music, expected) in cases {
        let melody = read_body(fields, music).unwrap().melody;
        let onsets: Vec<String> = melody
            .bars()
            .iter()
            .map(|bar| bar.onset.to_string())
            .collect();
        assert_eq!(onsets.join(" "), expected, "{music}");
    }
}

#[test]
fn chord_symbols_hold_from_the_next_note() {
    let reading = read_body(
        "",
        "\"Am\"A2 \"^slow\"\"D7/F#\"B{c}>\"N.C.\"z \"G\"|\"tr\"G",
    )
    .unwrap();
    let chords: Vec<_> = reading
        .melody
        .chords()
        .iter()
        .map(|(onset, chord)| {
            (
                onset.to_string(),
                chord.map_or("-".to_owned(), |chord| chord.to_string()),
            )
        })
        .collect();
    let expected = [("0", "Am"), ("2", "D7/F#"), ("7/2", "-"), ("4", "G")];
    assert_eq!(
        chords,
        expected.map(|(onset, chord)| (onset.to_owned(), chord.to_owned()))
    );
    assert_eq!(
        reading.warnings,
        ["text that is not a chord symbol is left out: `tr`"]
    );
}

#[test]
fn letters_for_decorations_may_be_defined() {
    let reading = read_body("U:n=!upbow!", "TC nD WE").unwrap();
    assert_eq!(
        reading.warnings,
        ["signs without a meaning in music are left out: `W`"]
    );
}

#[test]
fn an_accidental_in_another_octave_gives_a_warning() {
    check("", "^c C|C", "C#5:1 C#4:1 C4:1");
    check("%%propagate-accidentals octave", "^c C", "C#5:1 C4:1");
    check("I:propagate-accidentals not", "^c c", "C#5:1 C5:1");
    let warnings = read_body("", "^c C").unwrap().warnings;
    assert!(warnings[0].contains("every octave"), "{warnings:?}");
}

#[test]
fn errors_have_their_place() {
    // The music is on line 5.
    check_fault(
        "CDE|F >> > G",
        "line 5, column 10: broken rhythm without a note before it",
    );
    check_fault(
        "> C",
        "line 5, column 1: broken rhythm without a note before it",
    );
    check_fault(
        "C D>",
        "line 5, column 4: broken rhythm without a note after it",
    );
    check_fault(
        "C [EG | C",
        "line 5, column 3: `[` is not closed on this line",
    );
    check_fault(
        "C [EG\nC]",
        "line 5, column 3: `[` is not closed on this line\nline 6, column 2: `]` without `[`",
    );
    check_fault("C []", "line 5, column 3: a stack without notes");
    check_fault(
        "C,,,,,,",
        "line 5, column 1: MIDI note -12 is not in the range 0 to 127",
    );
    check_fault("CD (12EF", "line 5, column 4: a tuplet of 12 notes");
    check_fault("C Z1000", "line 5, column 3: a rest of 1000 bars");
    check_fault("C \"é\" 2", "line 5, column 7: a number without a note");
    check_fault(
        "[M:none] C Z",
        "line 5, column 12: a rest of whole bars in free meter",
    );
    check_fault("z|z", "line 1, column 1: no notes found");
    check_fault(
        "(11:3C(97:5D(89:7E(83:6F",
        "line 5, column 24: note 4 begins or ends on a grid finer than 1/1000000 of a quarter note",
    );
    check_fault(
        "C1000000D1000000E1000000F1000000G",
        "line 5, column 33: note 5 lies beyond 4000000 quarter notes from the start",
    );
}

#[test]
fn ties_that_lead_nowhere_and_quarter_tones_are_said() {
    let said = |music: &str| read_body("M:4/4", music).unwrap().warnings.join("; ");
    assert_eq!(
        said("C4-"),
        "a tie from C4 leads to no note and is left out"
    );
    assert_eq!(
        said("C4-|Z|"),
        "a tie from C4 leads to no note and is left out"
    );
    assert_eq!(said("C4-|C4"), "");
    assert!(said("^/C4").starts_with("accidentals finer than a semitone"));
    check("", "^/C ^3/D +CE+2", "C4:1 D#4:1 E4:2");
}
