//! `neckline arrange`: its page, its files and its errors.

use expect_test::expect;
use tests::neckline;

fn refused(args: &[&str], stdin: &str, expected: expect_test::Expect) {
    let run = neckline(&[&["arrange"], args].concat(), stdin.as_bytes());
    assert_eq!(run.stdout, "");
    expected.assert_eq(&format!("exit code {}\n{}", run.code, run.stderr));
}

const BARE_TUNE: &str = "X:1\nT:Ferry Bell\nM:3/4\nL:1/4\nK:G\nD|G2B|A2c|d3|G3|\n";

#[test]
fn errors_say_why_a_tune_cannot_be_arranged() {
    refused(
        &["-"],
        BARE_TUNE,
        expect![[r#"
        exit code 1
        error: the tune has no chords to arrange

        hint: write chords over it, or let its key stand in for them: `--chords-by-key --style bass` puts a bass of I, IV and V under it
    "#]],
    );
    refused(
        &["--instrument", "bass", "--hand", "40/40"],
        "",
        expect![[r#"
        exit code 1
        error: a hand that reaches 40 mm cannot stop two frets of the bass at once

        hint: check the measures of `--hand` or of your settings: millimetres between the first and the fourth finger
    "#]],
    );
    refused(
        &["--bare", "7,999"],
        "",
        expect![[r#"
        exit code 2
        error: there is no note 999 to leave bare

        hint: the tune has notes 1 to 86
    "#]],
    );
    refused(
        &["--octave", "+3"],
        "",
        expect![[r#"
        exit code 1
        error: note 2 (F7) is not on the neck

        hint: try another `--octave`, `--transpose` or `--instrument`
    "#]],
    );
    refused(
        &["--edit"],
        "",
        expect![[r#"
        exit code 2
        error: choosing on a full screen needs a terminal

        hint: without one, `--note 13` shows what there is and `--choose 13=SHAPE --save` keeps it
    "#]],
    );
    refused(
        &["--bars", "1-4", "--bare", "1", "--save"],
        "",
        expect![[r#"
        exit code 2
        error: choices are kept for a whole tune, not for a part of it

        hint: leave `--bars` out
    "#]],
    );
    refused(
        &["--style", "jazzy"],
        "",
        expect![[r#"
        exit code 2
        error: invalid value 'jazzy' for '--style <STYLE>': expected a style: plucked, pick, bass, two-voices, shells or full, found `jazzy`

        For more information, try '--help'.
    "#]],
    );
}

#[test]
fn a_tune_without_chords_takes_those_of_its_key() {
    let run = neckline(
        &["arrange", "-", "--chords-by-key", "--style", "bass"],
        BARE_TUNE.as_bytes(),
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stderr
            .contains("I, IV and V of G major stand in for them"),
        "{}",
        run.stderr
    );
    assert!(run.stdout.contains("Ferry Bell"));
}

#[test]
fn an_instrument_of_one_string_is_refused() {
    let string = "(name: \"monochord\", strings: \"E4\", frets: 12, scale_length: 648)";
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("one.ron");
    std::fs::write(&file, string).unwrap();
    let run = neckline(&["arrange", "--instrument", file.to_str().unwrap()], b"");
    assert_eq!((run.code, run.stdout.as_str()), (1, ""), "{}", run.stderr);
    assert!(
        run.stderr
            .starts_with("error: the monochord has one string"),
        "{}",
        run.stderr
    );
}

#[test]
fn a_page_shows_shapes_fingers_and_what_is_hard() {
    let run = neckline(&["arrange", "--bars", "5-6", "--octave", "+1"], b"");
    assert_eq!(run.stderr, "");
    expect![[r#"
        Lamps along the Jetty
        Bb major, guitar, octave +1, style plucked, density medium

        3 voicings under 5 notes, 3 with every guide tone. From voicing to voicing an
        inner voice moves 2.3 semitones and the hand 22 mm; no finger stays in all.

        bar 5 note 1 D6          bar 6 note 3 Bb5         bar 6 note 5 G5
        Gm7                      C7                       C7
          ─3─│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
          ───│─4─│───│───│         ───│───│─4─│───│         ─3─│───│───│───│
          ─2─│───│───│───│         ─2─│───│───│───│         ───│─4─│───│───│
        x ───│───│───│───│         ───│─3─│───│───│         ─2─│───│───│───│
          ─1─│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
        x ───│───│───│───│       x ───│───│───│───│         ─1─│───│───│───│
           10                       9                        8
        x-10-x-10-11-10          x-x-10-9-11-x            8-x-8-9-8-x
        1 b7 b3 5                1 3 b7                   1 b7 3 5
        down 3, 1, 2+4           down 4, 3, 2             down 3, 1, 2+4
                                 without 5
                                                          3 lead

        Hardest moments
          bar 5 note 1: Gm7 x-10-x-10-11-10, 4 fingers, 20 mm, hand 0.9
            leave it bare (saves 0.8)
            leave the root out: x-x-x-10-11-10, 1 finger fewer (saves 0.4)
          bar 6 note 5: C7 8-x-8-9-8-x, 4 fingers, 23 mm, hand 0.8
            leave it bare (saves 0.8)
            leave the root out: x-x-8-9-8-x, 1 finger fewer (saves 0.3)
          bar 6 note 3: C7 x-x-10-9-11-x, 3 fingers, 42 mm, hand 0.4
            leave it bare (saves 0.4)
            let one note go: x-x-x-9-11-x, 1 finger fewer (saves 0.1)
    "#]]
    .assert_eq(&run.stdout);
}

const TUNE: &str = "X:1\nT:Ferry Bell\nM:4/4\nL:1/4\nK:C\n\"Dm7\"f4|\"G7\"f4|\"Cmaj7\"e4|\n";

#[test]
fn choices_are_kept_beside_the_tune_and_hold() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bell.abc");
    let name = path.to_str().unwrap();
    let kept = folder.path().join("bell.abc.arrangement.ron");
    std::fs::write(&path, TUNE).unwrap();
    let run = neckline(
        &[
            "arrange",
            name,
            "--choose",
            "2=x-x-5-4-6-x",
            "--bare",
            "3",
            "--octave",
            "0",
            "--save",
        ],
        b"",
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stderr.starts_with("note: the choices are kept in"),
        "{}",
        run.stderr
    );
    expect![[r#"
        // What lies under Ferry Bell: edit by hand as you like.
        (
            octave: 0,
            style: "plucked",
            density: "medium",
            choices: [
                (note: 2, pitch: "F5", chord: "G7", shape: "x-x-5-4-6-x"),
                (note: 3, pitch: "E5", chord: "Cmaj7", bare: true),
            ],
        )
    "#]]
    .assert_eq(&std::fs::read_to_string(&kept).unwrap());
    let again = neckline(&["arrange", name], b"");
    assert_eq!((again.code, again.stderr.as_str()), (0, ""));
    assert_eq!(again.stdout, run.stdout);
    assert!(
        again.stdout.contains("x-x-5-4-6-x") && again.stdout.contains("note 3: left bare as asked")
    );
    // The second note has changed: its choice no longer fits, the other one applies.
    std::fs::write(&path, TUNE.replace("\"G7\"f4", "\"G7\"d4")).unwrap();
    let changed = neckline(&["arrange", name], b"");
    assert_eq!(
        changed.stderr,
        "note: the choice for note 2 (x-x-5-4-6-x) does not fit: the note is D5 now; the others hold\n"
    );
    assert!(changed.stdout.contains("note 3: left bare as asked"));
    // With a capo the shape no longer fits.
    std::fs::write(&path, TUNE).unwrap();
    let capo = neckline(&["arrange", name, "--capo", "3"], b"");
    assert!(
        capo.stderr
            .contains("the shape does not lie under this note"),
        "{}",
        capo.stderr
    );
    // Fingers and remarks of the player's own stay when something is added.
    let own = "(octave: 0, choices: [(note: 3, bare: true, remark: \"let it ring\")])";
    std::fs::write(&kept, own).unwrap();
    let added = neckline(
        &["arrange", name, "--choose", "2=x-x-5-4-6-x", "--save"],
        b"",
    );
    assert_eq!(added.code, 0, "{}", added.stderr);
    assert!(
        std::fs::read_to_string(&kept)
            .unwrap()
            .contains("remark: \"let it ring\"")
    );
}

#[test]
fn the_thumb_comes_over_the_neck_when_it_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bell.abc");
    let name = path.to_str().unwrap();
    std::fs::write(&path, "X:1\nT:Ferry Bell\nM:4/4\nL:1/4\nK:C\n\"G7\"d4|\n").unwrap();
    let kept = folder.path().join("bell.abc.arrangement.ron");
    let own = "(octave: 0, choices: [(note: 1, shape: \"3-x-3-4-3-x\", fingers: \"T 1 3 2\")])";
    std::fs::write(&kept, own).unwrap();
    let without = neckline(&["arrange", name], b"");
    assert!(
        without.stderr.contains("note 1 (3-x-3-4-3-x) does not fit"),
        "{}",
        without.stderr
    );
    let with = neckline(&["arrange", name, "--thumb", "--save"], b"");
    assert_eq!(with.code, 0, "{}", with.stderr);
    for words in [
        "─T─",
        "down 2, T, 1+3",
        "the thumb over the neck bends the wrist",
    ] {
        assert!(with.stdout.contains(words), "{words}: {}", with.stdout);
    }
    // It is kept with the rest.
    let again = neckline(&["arrange", name, "--json"], b"");
    assert!(
        again.stdout.contains("\"finger\":0,\"thumb\":true"),
        "{}",
        again.stdout
    );
}

#[test]
fn a_choice_may_hold_for_one_time_of_a_repeat() {
    let repeated = TUNE.replace("\"Dm7\"f4|\"G7\"f4|", "|:\"Dm7\"f4|\"G7\"f4:|");
    let run = neckline(
        &[
            "arrange", "-", "--octave", "0", "--bare", "1", "--time", "1", "--json",
        ],
        repeated.as_bytes(),
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    let document: serde_json::Value = serde_json::from_str(&run.stdout).unwrap();
    let notes = document["notes"].as_array().unwrap().iter();
    let entries: Vec<String> = notes
        .map(|note| {
            let struck = note["under"].as_array().unwrap().len();
            format!(
                "{} {} {} {struck}",
                note["number"], note["time"], note["bare"]
            )
        })
        .collect();
    assert_eq!(
        entries,
        [
            "1 null \"asked\" 0",
            "2 null null 1",
            "3 null null 1",
            "1 2 null 1",
            "2 2 null 1"
        ]
    );
    refused(
        &["-", "--octave", "0", "--bare", "3", "--time", "2"],
        &repeated,
        expect![[r#"
            exit code 1
            error: note 3 cannot have bare: the note sounds once

            hint: frets go from the lowest string to the highest, the melody's own among them; `neckline arrange` shows what fits
        "#]],
    );
}

#[test]
fn a_shape_that_does_not_fit_is_refused() {
    refused(
        &["-", "--octave", "0", "--choose", "2=x-x-3-4-3-x"],
        TUNE,
        expect![[r#"
            exit code 1
            error: note 2 cannot have x-x-3-4-3-x: the shape does not lie under this note, breaks a rule or is out of reach

            hint: frets go from the lowest string to the highest, the melody's own among them; `neckline arrange` shows what fits
        "#]],
    );
    refused(
        &["-", "--octave", "0", "--bare", "1", "--save"],
        TUNE,
        expect![[r#"
            exit code 2
            error: this tune lies in no file, so there is no place beside it for the choices

            hint: name a file with `--choices FILE`
        "#]],
    );
    refused(
        &["-", "--choose", "2=abc"],
        TUNE,
        expect![[r#"
        exit code 2
        error: invalid value '2=abc' for '--choose <NOTE=SHAPE>': expected a note and a shape such as 13=x-10-x-10-11-10, found `2=abc`

        For more information, try '--help'.
    "#]],
    );
}

#[test]
fn an_arrangement_is_written_as_score_and_sound() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, more: &[&str]| {
        let path = folder.path().join(name);
        let run = neckline(
            &[&["arrange", "-", "-o", path.to_str().unwrap()], more].concat(),
            TUNE.as_bytes(),
        );
        assert_eq!(run.code, 0, "{}", run.stderr);
        std::fs::read(path).unwrap()
    };
    let json = neckline(&["arrange", "-", "--json"], TUNE.as_bytes()).stdout;
    let arrangement: serde_json::Value = serde_json::from_str(&json).unwrap();
    let notes = arrangement["notes"].as_array().unwrap();
    let under: usize = notes
        .iter()
        .map(|note| note["under"][0]["places"].as_array().unwrap().len())
        .sum();

    // Each note of each voice is on the staff and in the tablature; no chord here is tied or split.
    let score = String::from_utf8(write("bell.musicxml", &[])).unwrap();
    let count = |text: &str| score.matches(text).count();
    assert_eq!(
        (count("<voice>1</voice>"), count("<voice>5</voice>")),
        (3, 3)
    );
    assert_eq!(
        (count("<voice>2</voice>"), count("<voice>6</voice>")),
        (under, under)
    );
    assert_eq!(count("<fret>"), 3 + under);
    assert_eq!(count("<chord/>"), 2 * (under - 3));
    // The melody is read back from the first voice, an octave up if it was arranged so.
    let first = fretlib::format::musicxml::MusicXmlOptions {
        voice: Some("1".into()),
        ..Default::default()
    };
    let read = fretlib::format::musicxml::read(score.as_bytes(), &first)
        .unwrap()
        .melody;
    let pitches: Vec<String> = read
        .notes()
        .iter()
        .map(|note| note.pitch.to_string())
        .collect();
    let played: Vec<&str> = notes
        .iter()
        .map(|note| note["place"]["pitch"].as_str().unwrap())
        .collect();
    assert_eq!(pitches, played);

    // Tracks: tempos and names, the melody, the voicings.
    let midi = write("bell.mid", &[]);
    assert_eq!(midi.windows(4).filter(|it| it == b"MTrk").count(), 3);

    let energy = |bytes: Vec<u8>| {
        let samples = bytes[44..]
            .chunks_exact(2)
            .map(|it| f64::from(i16::from_le_bytes([it[0], it[1]])));
        samples.map(|it| it * it).sum::<f64>()
    };
    let (even, soft) = (
        energy(write("even.wav", &["--contrast", "0"])),
        energy(write("soft.wav", &["--contrast", "60dB"])),
    );
    // How much softer is measured in `play`; here it is enough that the option is heard.
    assert!(even > 0.0 && soft > 0.0 && even != soft, "{even} {soft}");
    refused(
        &["-", "-o", "bell.pdf"],
        TUNE,
        expect![[r#"
        exit code 2
        error: an arrangement cannot be written to `bell.pdf`

        hint: name a file ending in .musicxml, .mid or .wav
    "#]],
    );
}

#[test]
fn the_voicings_for_a_note_are_ranked_and_filtered() {
    let run = neckline(
        &[
            "arrange",
            "-",
            "--octave",
            "0",
            "--note",
            "2",
            "--filter",
            "keep bass, max 3 fingers",
        ],
        TUNE.as_bytes(),
    );
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    expect![[r#"
        232 voicings for note 2, F5 over G7
        What each costs more than the one chosen, all else as it is:

        chosen                   +0.4                     +0.5
        G7                       G7                       G7
          ─2─│───│───│───│         ─2─│───│───│───│         ─2─│───│───│───│
        o ───│───│───│───│       o ───│───│───│───│       o ───│───│───│───│
        o ───│───│───│───│       o ───│───│───│───│         ─1─│───│───│───│
        x ───│───│───│───│       o ───│───│───│───│       o ───│───│───│───│
        x ───│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
        x ───│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
           1                        1                        1
        x-x-x-0-0-1              x-x-0-0-0-1              x-x-0-1-0-1
        1 3 b7                   5 1 3 b7                 5 b9 3 b7
        down 2
        without 5                                         without 1
        2 stay

        +0.6                     +0.8                     +0.8
        G7                       G7                       G7
          ─2─│───│───│───│         ─2─│───│───│───│         ─2─│───│───│───│
        o ───│───│───│───│       o ───│───│───│───│       o ───│───│───│───│
        x ───│───│───│───│         ─1─│───│───│───│       o ───│───│───│───│
        o ───│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
        x ───│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
        x ───│───│───│───│         ───│───│─4─│───│         ───│───│─4─│───│
           1                        1                        1
        x-x-0-x-0-1              3-x-x-1-0-1              3-x-x-0-0-1
        5 3 b7                   1 b9 3 b7                1 1 3 b7
        without 1                without 5                without 5

        +0.9                     +0.9                     +0.9
        G7                       G7                       G7
          ─2─│───│───│───│         ─2─│───│───│───│         ─2─│───│───│───│
        o ───│───│───│───│       o ───│───│───│───│       o ───│───│───│───│
        x ───│───│───│───│         ───│─4─│───│───│         ───│───│─4─│───│
        x ───│───│───│───│       o ───│───│───│───│       o ───│───│───│───│
        x ───│───│───│───│       x ───│───│───│───│       x ───│───│───│───│
          ───│───│─4─│───│       x ───│───│───│───│       x ───│───│───│───│
           1                        1                        1
        3-x-x-x-0-1              x-x-0-2-0-1              x-x-0-3-0-1
        1 3 b7                   5 9 3 b7                 5 #9 3 b7
        without 5                without 1                without 1

        223 more; `--filter` narrows them down
        Take one with `--choose 2=x-x-0-0-0-1`, keep it with `--save`.
    "#]]
    .assert_eq(&run.stdout);
    refused(
        &[
            "-",
            "--octave",
            "0",
            "--note",
            "2",
            "--filter",
            "no open, no barre, max 1 finger",
        ],
        TUNE,
        expect![[r#"
            exit code 1
            error: no voicing for note 2 is like `no open, no barre, max 1 finger`

            hint: ask for less in `--filter`
        "#]],
    );
    refused(
        &["-", "--note", "2", "--filter", "no thumbs"],
        TUNE,
        expect![[r#"
            exit code 2
            error: invalid value 'no thumbs' for '--filter <WORDS>': expected no root, no fifth, no open, no barre, top 2 strings, max 3 fingers, max 3 notes, max 60 mm, keep bass or complete, found `no thumbs`

            For more information, try '--help'.
        "#]],
    );
    refused(
        &["-", "--note", "9"],
        TUNE,
        expect![[r#"
        exit code 2
        error: there is no note 9 to look at

        hint: the tune has notes 1 to 3
    "#]],
    );
}
