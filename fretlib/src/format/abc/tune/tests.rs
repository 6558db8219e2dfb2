use crate::format::Reading;
use crate::format::abc::{AbcOptions, read};

fn read_text(text: &str) -> Reading {
    read(text.as_bytes(), &AbcOptions::default())
        .unwrap_or_else(|diagnostics| panic!("{text}: {diagnostics}"))
}

fn pitches(text: &str) -> String {
    let melody = read_text(text).melody;
    let names: Vec<String> = melody
        .notes()
        .iter()
        .map(|note| note.pitch.to_string())
        .collect();
    names.join(" ")
}

fn check_faults(text: &str, expected: &[&str]) {
    match read(text.as_bytes(), &AbcOptions::default()) {
        Ok(reading) => panic!("{text}: {reading:?}"),
        Err(diagnostics) => {
            let found: Vec<String> = diagnostics
                .diagnostics()
                .iter()
                .map(ToString::to_string)
                .collect();
            assert_eq!(found, expected, "{text}");
        }
    }
}

#[test]
fn the_header_says_what_the_tune_is() {
    let melody = read_text(
        "X:1\nT:The Long\n+:Jetty % a working title\nT:Another Name\nC:M. Aar\nM:6/8\nQ:\"Gently\" 3/8=60\nP:AB\nK:D dorian\nD6|\n",
    )
    .melody;
    assert_eq!(melody.title(), "The Long Jetty");
    assert_eq!(melody.composer(), Some("M. Aar"));
    assert_eq!(melody.keys().first().unwrap().to_string(), "D dorian");
    assert_eq!(
        melody.tempos().first().unwrap().quarters_per_minute(),
        90.into()
    );
    assert_eq!(melody.notes()[0].duration, 3.into()); // eighths, by the meter
    assert!(melody.sections().is_empty());
}

#[test]
fn a_unit_tempo_waits_for_the_unit() {
    let melody = read_text("X:1\nQ:120\nM:4/4\nL:1/4\nK:C\nC|").melody;
    assert_eq!(
        melody.tempos().first().unwrap().quarters_per_minute(),
        120.into()
    );
}

#[test]
fn the_body_may_change_everything() {
    let text = "X:1\nM:4/4\nL:1/4\nK:G\nP:A\nFGAB|[K:F][M:3/4]\"C7\"FGB|\nM:2/4\nL:1/8\nK:Eb\nP:B\nQ:1/4=72\nEFAB|[L:1/4]A2|\n";
    let melody = read_text(text).melody;
    let keys: Vec<String> = melody
        .keys()
        .iter()
        .map(|(at, key)| format!("{at} {key}"))
        .collect();
    assert_eq!(keys, ["0 G major", "4 F major", "7 Eb major"]);
    let meters: Vec<String> = melody
        .meters()
        .iter()
        .map(|(at, meter)| format!("{at} {}", meter.unwrap()))
        .collect();
    assert_eq!(meters, ["0 4/4", "4 3/4", "7 2/4"]);
    let sections: Vec<String> = melody
        .sections()
        .iter()
        .map(|(at, name)| format!("{at} {name}"))
        .collect();
    assert_eq!(sections, ["0 A", "7 B"]);
    assert_eq!(melody.tempos().iter().next().unwrap().0, 7.into());
    assert_eq!(melody.length(), 11.into());
    assert_eq!(pitches(text), "F#4 G4 A4 B4 F4 G4 Bb4 Eb4 F4 Ab4 Bb4 Ab4");
}

#[test]
fn a_tune_without_a_key_has_none() {
    for key in ["K:none", "K:", "K: clef=treble"] {
        let melody = read_text(&format!("X:1\n{key}\nFB|\n")).melody;
        assert!(melody.keys().is_empty(), "{key}");
    }
    let reading = read_text("X:1\nM:3/4\nFB c2|\n");
    assert!(
        reading.warnings[0].contains("no `K:` field"),
        "{:?}",
        reading.warnings
    );
    assert_eq!(reading.melody.notes().len(), 3);
}

#[test]
fn words_layout_and_remarks_are_skipped() {
    let text = "X:1\nH:Found in a drawer\nwith the A string | still wound round it\nK:C\n% aside\nCD|\\\n%%MIDI program 24\nw:a e-cho\n+:that goes on\ns:!f!\n%%begintext\n\nAAA | not music\n%%endtext\nr:and\n[r:so]EF|% GGG\nN:on\n";
    assert_eq!(pitches(text), "C4 D4 E4 F4");
}

#[test]
fn an_empty_line_ends_the_tune() {
    let reading = read_text("X:1\nT:A\n\nK:C\nCD|\n \t\nMore of it:\nEF|\n");
    assert_eq!(reading.melody.notes().len(), 2);
    assert_eq!(
        reading.warnings,
        ["the tune ends at the empty line 6; what follows from line 8 on is not read"]
    );
    assert!(
        read_text("X:1\nK:C\nCD|\n\nA fine tune.\n")
            .warnings
            .is_empty()
    );
}

#[test]
fn one_voice_is_read() {
    let two = "X:1\nV:1 name=\"Upper part\"\nV:2 octave=-1\nL:1/4\nK:C\nV:1\nCD-|\nV:2\n[K:Eb]EE \"|\n[V:1]D2|[V:2]FF|\n";
    assert_eq!(pitches(two), "C4 D4");
    assert_eq!(
        read_text(two).warnings,
        ["the tune has 2 voices (`1` (Upper part), `2`); this is `1` (Upper part)"]
    );
    let voice = |name: &str| {
        let options = AbcOptions {
            voice: Some(name.to_owned()),
            ..AbcOptions::default()
        };
        let text = two.replace(" \"|", "|");
        read(text.as_bytes(), &options).map(|reading| reading.melody.notes().to_vec())
    };
    let lower: Vec<String> = voice("2")
        .unwrap()
        .iter()
        .map(|note| note.pitch.to_string())
        .collect();
    assert_eq!(lower, ["Eb3", "Eb3", "F3", "F3"]);
    assert_eq!(voice("Upper part"), voice("1"));
    let silent = read(b"X:1\nV:1\nV:2\nK:C\nV:2\nCD|\n", &AbcOptions::default()).unwrap_err();
    let hint = silent.diagnostics()[0].hint.as_deref();
    assert_eq!(hint, Some("ask for another of its voices: `1`, `2`"));
    let missing = voice("3").unwrap_err();
    let fault = &missing.diagnostics()[0];
    assert_eq!(fault.to_string(), "line 1, column 1: there is no voice `3`");
    assert_eq!(
        fault.hint.as_deref(),
        Some("the tune has these voices: `1` (Upper part), `2`")
    );
}

#[test]
fn bars_longer_than_their_meter_are_reported() {
    let cases = [
        (
            "CDEF|GABcd|",
            Some("bar 2 is longer than its meter: 5 quarter notes"),
        ),
        (
            "CDEFG|GABcd|c6|c8",
            Some("bar 1 is longer than its meter: 5 quarter notes, and so are 3 others"),
        ),
        (
            "C8|GABcd|",
            Some("bar 1 is longer than its meter: 8 quarter notes, and so is another"),
        ),
        ("C|CD:|EF|CDEF", None), // a repeat may split a bar
        ("[M:none]C9|", None),
        ("[M:9/4]C9|", None),
    ];
    for (music, expected) in cases {
        let warnings = read_text(&format!("X:1\nM:4/4\nL:1/4\nK:C\n{music}\n")).warnings;
        assert_eq!(warnings.first().map(String::as_str), expected, "{music}");
    }
}

#[test]
fn faults_that_do_not_affect_the_notes_are_warnings() {
    let reading = read_text("X:1\nT:caf\u{e9}\nM:waltz\nL:1/4\nQ:brisk\nm:~n=nn\nK:C\nC ? D|\n");
    assert_eq!(
        reading.warnings,
        [
            "the meter `waltz` is not known and is taken as free",
            "macros (`m:`) are not expanded",
            "the tempo `brisk` cannot be read",
            "signs without a meaning in music are left out: `?`",
        ]
    );
    let latin_1 = b"X:1\nT:caf\xE9\nK:C\nC|\n";
    let reading = read(latin_1, &AbcOptions::default()).unwrap();
    assert_eq!(reading.melody.title(), "café");
    assert_eq!(
        reading.warnings,
        ["the text is not UTF-8 and was read as Latin-1"]
    );
}

#[test]
fn faults_that_affect_the_notes_are_errors() {
    check_faults(
        "X:1\nL:eighth\nK:Q\nCDE|\n",
        &[
            "line 2, column 1: `eighth` is not a note length",
            "line 3, column 1: `Q` is not a key that can be read",
        ],
    );
    check_faults(
        "X:1\nK:C\nCé^ [K:G#]D|\n",
        &[
            "line 3, column 3: an accidental without a note",
            "line 3, column 5: `G#` is not a key that can be read",
        ],
    );
    let all_wrong = format!("X:1\nK:C\n{}\n", "A0 ".repeat(1000));
    let diagnostics = read(all_wrong.as_bytes(), &AbcOptions::default()).unwrap_err();
    assert_eq!(diagnostics.diagnostics().len(), 10);
    let voices: String = (0..100).map(|number| format!("V:{number}\n")).collect();
    check_faults(
        &format!("X:1\n{voices}K:C\nC|\n"),
        &["line 66, column 1: more than 64 voices"],
    );
}

#[test]
fn all_line_ends_are_read() {
    for end in ["\n", "\r\n", "\r"] {
        assert_eq!(
            pitches(&"X:1\nK:D\nFC|\nG|\n".replace('\n', end)),
            "F#4 C#4 G4"
        );
    }
}
