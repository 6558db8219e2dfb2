//! A fingering kept beside its tune: written, edited by hand, and used by every command.

use std::collections::HashSet;
use std::fs;

use expect_test::expect;
use fretlib::format::abc;
use fretlib::neck::Instrument;
use fretlib::sound::{Layer, Manner, Renderer, SampleRate, play_through};
use fretlib::theory::Octave;
use serde_json::Value;
use tests::{Folder, neckline};

const TUNE: &str = "X:1\nT:Ferry Bell\nM:4/4\nL:1/8\nK:G\nG2 B2 d2 g2|f2 d2 B2 A2|e4 c4|G8|\n";

/// A folder with the tune, fingered with a pin in seventh position, and the paths of both files.
fn kept() -> (Folder, String, String) {
    let folder = Folder::new();
    let tune = folder.write("bell.abc", TUNE);
    let run = neckline(&["fingering", &tune, "--pin", "3=3/7", "--save"], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let file = folder.file("bell.abc.fingering.ron");
    (folder, tune, file)
}

/// The places of a tune's first fingering, as `string:fret`.
fn places(arguments: &[&str]) -> Vec<String> {
    let run = neckline(&[&["fingering"], arguments, &["--json"]].concat(), b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let document: Value = serde_json::from_str(&run.stdout).unwrap();
    let notes = document["fingerings"][0]["places"].as_array().unwrap();
    let place = |note: &Value| format!("{}:{}", note["string"], note["fret"]);
    notes.iter().map(place).collect()
}

#[test]
fn the_file_is_made_to_be_read() {
    let (_folder, _, file) = kept();
    expect![[r#"
        // The fingering of Ferry Bell: edit by hand as you like.
        // Every line holds; the note of one taken out is found anew, near home.
        // `pin: true` holds a note where it is when the others are found anew.
        (
            octave: 0,
            notes: [
                (note: 1, bar: 1, pitch: "G4", place: "3:0", position: "VII"),
                (note: 2, bar: 1, pitch: "B4", place: "4:9", finger: 3, position: "VII"),
                (note: 3, bar: 1, pitch: "D5", place: "3:7", finger: 1, position: "VII", pin: true),
                (note: 4, bar: 1, pitch: "G5", place: "2:8", finger: 2, position: "VII"),
                (note: 5, bar: 2, pitch: "F#5", place: "2:7", finger: 1, position: "VII"),
                (note: 6, bar: 2, pitch: "D5", place: "3:7", finger: 1, position: "VII"),
                (note: 7, bar: 2, pitch: "B4", place: "4:9", finger: 3, position: "VII"),
                (note: 8, bar: 2, pitch: "A4", place: "4:7", finger: 3, position: "V"),
                (note: 9, bar: 3, pitch: "E5", place: "2:5", finger: 1, position: "V"),
                (note: 10, bar: 3, pitch: "C5", place: "3:5", finger: 1, position: "V"),
                (note: 11, bar: 4, pitch: "G4", place: "4:5", finger: 1, position: "V"),
            ],
        )
    "#]]
    .assert_eq(&fs::read_to_string(file).unwrap());
}

#[test]
fn what_is_written_by_hand_holds() {
    let (_folder, tune, file) = kept();
    // A line changed, one taken out, remarks added.
    let text = fs::read_to_string(&file).unwrap();
    let text = text
        .replace("place: \"2:8\", finger: 2, position: \"VII\"), ", "")
        .replace(
            "place: \"2:8\", finger: 2, position: \"VII\"),",
            "place: \"3:12\"), // sing",
        )
        .replace(
            "        (note: 11, bar: 4, pitch: \"G4\", place: \"4:5\", finger: 1, position: \"V\"),\n",
            "        // anywhere\n",
        );
    fs::write(&file, &text).unwrap();
    let places_now = places(&[&tune]);
    assert_eq!(places_now[3], "3:12");
    assert_eq!(places_now.len(), 11);
    let run = neckline(&["fingering", &tune, "--save"], b"");
    assert_eq!(
        run.stderr.lines().next().unwrap(),
        "note: 1 note fingered anew around the others, first note 11 (G4); `neckline fingering --save` keeps that"
    );
    let saved = fs::read_to_string(&file).unwrap();
    assert!(saved.contains("place: \"3:12\", finger:"), "{saved}");
    assert!(
        saved.contains("// sing") && saved.contains("// anywhere"),
        "{saved}"
    );
    assert!(saved.contains("(note: 11, bar: 4"), "{saved}");
    assert_eq!(places(&[&tune]), places_now);
    // Pins hold when the rest is found anew; without them nothing does.
    assert_eq!(places(&[&tune, "--home", "II"])[2], "3:7");
    assert_ne!(places(&[&tune, "--anew"])[2], "3:7");
    assert_eq!(places(&[&tune]), places_now);
}

#[test]
fn a_changed_tune_keeps_what_fits() {
    let (_folder, tune, _) = kept();
    let before = places(&[&tune]);
    // A note before all others, and another one instead of the tenth.
    let changed = TUNE
        .replace("M:4/4", "M:none")
        .replace("G2 B2", "D2 G2 B2")
        .replace("c4", "d4");
    fs::write(&tune, changed).unwrap();
    let run = neckline(&["fingering", &tune], b"");
    assert_eq!(run.code, 0);
    let told: Vec<&str> = run.stderr.lines().collect();
    assert!(
        told[0].contains("note 10 (C5) is no longer in the tune; the rest holds"),
        "{told:?}"
    );
    assert!(
        told[1].contains("2 notes fingered anew around the others, first note 1 (D4)"),
        "{told:?}"
    );
    let now = places(&[&tune]);
    assert_eq!(now[1..10], before[..9]);
    assert_eq!(now[11], before[10]);
}

#[test]
fn every_command_uses_it() {
    let (folder, tune, _) = kept();
    let map = neckline(&["map", &tune, "--as-fingered"], b"");
    assert!(
        map.stdout.contains("Your fingering, as written: 1 shift"),
        "{}",
        map.stdout
    );
    let page = folder.file("bell.svg");
    assert_eq!(neckline(&["sheet", &tune, "-o", &page], b"").code, 0);
    assert!(
        fs::read_to_string(&page)
            .unwrap()
            .contains("your fingering, as written, 1 shift")
    );
    let abc = neckline(&["convert", &tune, "-", "--format", "abc"], b"");
    let music = "G2 !3!B2 !1!d2 !2!g2 | !1!f2 !1!d2 !3!B2 !3!A2 | !1!e4 !1!c4 | !1!G8 |]";
    assert_eq!(abc.stdout.lines().last().unwrap(), music);
    let score = neckline(&["convert", &tune, "-", "--format", "musicxml"], b"").stdout;
    let frets: Vec<&str> = (score.lines().map(str::trim))
        .filter(|line| line.starts_with("<string>") || line.starts_with("<fret>"))
        .collect();
    assert_eq!(
        frets[..4],
        [
            "<string>3</string>",
            "<fret>0</fret>",
            "<string>4</string>",
            "<fret>9</fret>"
        ]
    );
    let folders = [folder.text(), &folder.file("out")];
    let all = neckline(
        &[
            "convert", "--all", folders[0], folders[1], "--format", "abc",
        ],
        b"",
    );
    assert!(
        all.stderr.contains("bell.svg") && !all.stderr.contains("fingering.ron"),
        "{}",
        all.stderr
    );
    let converted = fs::read_to_string(folder.file("out/bell.abc")).unwrap();
    assert_eq!(converted, abc.stdout);
    // Whoever asks for a position gets it.
    let position = neckline(
        &[
            "convert",
            &tune,
            "-",
            "--format",
            "musicxml",
            "--position",
            "II",
        ],
        b"",
    );
    assert!(!position.stdout.contains("<fret>9</fret>"));
    let none = neckline(&["map", "pedalo-blues", "--as-fingered"], b"");
    assert_eq!(none.code, 1);
    assert!(
        none.stderr.contains("no fingering is kept with this tune"),
        "{}",
        none.stderr
    );
}

#[test]
fn it_is_for_this_tune_on_this_instrument() {
    let (folder, tune, file) = kept();
    let bass = neckline(&["fingering", &tune, "--instrument", "bass"], b"");
    assert!(
        bass.stderr.contains("nothing of") && bass.code == 0,
        "{}",
        bass.stderr
    );
    let moved = neckline(&["fingering", &tune, "--to-key", "D"], b"");
    assert!(
        moved.stderr.contains("is for the tune in its own key"),
        "{}",
        moved.stderr
    );
    // Some bars of it are fingered as in the whole.
    assert_eq!(places(&[&tune, "--bars", "2-3"]), places(&[&tune])[4..10]);
    for (option, message) in [
        (
            &["--bars", "1"][..],
            "a fingering is kept of the whole tune",
        ),
        (
            &["--to-key", "D"],
            "a fingering is kept of the tune in its own key",
        ),
    ] {
        let before = fs::read(&file).unwrap();
        let run = neckline(&[&["fingering", &tune, "--save"], option].concat(), b"");
        assert_eq!(run.code, 2);
        assert!(run.stderr.contains(message), "{}", run.stderr);
        assert_eq!(fs::read(&file).unwrap(), before);
    }
    let run = neckline(&["fingering", "-", "--save"], TUNE.as_bytes());
    assert!(run.stderr.contains("no place beside it"), "{}", run.stderr);
    let broken = folder.write(
        "bell.abc.fingering.ron",
        "(\n    notes: [(note: 1, place: \"9:9:9\")],\n)",
    );
    let run = neckline(&["fingering", &tune], b"");
    assert_eq!(run.code, 2);
    assert!(
        run.stderr.contains(&format!("{broken}:2:"))
            && run.stderr.contains("expected a string and a fret"),
        "{}",
        run.stderr
    );
    // A file of another kind under that name is not replaced.
    let other = "(title: \"Low Water\", notes: \"C4 D4\")";
    fs::write(&broken, other).unwrap();
    let run = neckline(&["fingering", &tune, "--anew", "--save"], b"");
    assert_eq!(run.code, 2, "{}", run.stderr);
    assert_eq!(fs::read_to_string(&broken).unwrap(), other);
}

#[test]
fn a_tune_of_a_book_has_a_file_of_its_own() {
    let folder = Folder::new();
    let book = folder.write(
        "book.abc",
        format!("{TUNE}\nX:2\nT:Low Water\nL:1/4\nK:D\nDEF|A2d|\n"),
    );
    let run = neckline(
        &["fingering", &book, "--tune", "2", "--home", "VII", "--save"],
        b"",
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        fs::read_to_string(folder.file("book.abc#2.fingering.ron"))
            .unwrap()
            .contains("home: \"VII\"")
    );
    let second = neckline(&["fingering", &book, "--tune", "2"], b"");
    assert!(second.stdout.contains("as kept in"), "{}", second.stdout);
    let first = neckline(&["fingering", &book], b"");
    assert!(!first.stdout.contains("as kept in"), "{}", first.stdout);
}

#[test]
fn pinning_on_a_full_screen_needs_a_terminal() {
    let (_folder, tune, _) = kept();
    let run = neckline(&["fingering", &tune, "--edit"], b"");
    assert_eq!(run.code, 2);
    assert!(
        run.stderr.contains("needs a terminal") && run.stderr.contains("--pin 12=3/7 --save"),
        "{}",
        run.stderr
    );
}

#[test]
fn the_drill_asks_along_it() {
    let (_folder, tune, _) = kept();
    let own = places(&[&tune]);
    let drill = [
        "drill",
        &tune,
        "--kinds",
        "place",
        "--questions",
        "40",
        "--seed",
        "3",
    ];
    let drill = [&drill[..], &["--no-history", "--plain"]].concat();
    let run = neckline(&drill, "?\n".repeat(40).as_bytes());
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stdout.contains("position VII") || run.stdout.contains("position V"),
        "{}",
        run.stdout
    );
    // The answers shown are the places of the fingering, each the only one.
    let answers: Vec<&str> = run
        .stdout
        .lines()
        .filter(|line| line.contains(": string "))
        .collect();
    assert!(answers.len() >= 40, "{}", run.stdout);
    for line in answers {
        let place = line.split(": string ").nth(1).unwrap();
        let place = place.replace(", fret ", ":").replace(", open", ":0");
        let place = place.split_whitespace().next().unwrap();
        assert!(own.iter().any(|it| it == place), "{line}: {own:?}");
    }
    // Whoever names positions is asked there.
    let there = neckline(
        &[&drill[..], &["--positions", "II"]].concat(),
        "?\n".repeat(40).as_bytes(),
    );
    assert!(there.stdout.contains("position II"), "{}", there.stdout);
    assert!(!there.stdout.contains("position VII"), "{}", there.stdout);
}

/// What was asked for is written too, and finds the same places when the lines of the notes are taken out.
#[test]
fn what_was_asked_for_is_kept() {
    for (options, key) in [
        (&["--home", "VII"][..], "home: \"VII\""),
        (&["--positions", "IV-VII"], "positions: "),
        (&["--strings", "2-4"], "strings: [2, 3, 4]"),
        (&["--start", "V"], "start: \"V\""),
        (&["--end", "VII"], "end: \"VII\""),
        (&["--max-shifts", "0"], "max_shifts: 0"),
        (&["--no-open"], "open_strings: \"nowhere\""),
    ] {
        let folder = Folder::new();
        let tune = folder.write("bell.abc", TUNE);
        let run = neckline(&[&["fingering", &tune], options, &["--save"]].concat(), b"");
        assert_eq!(run.code, 0, "{options:?}: {}", run.stderr);
        let file = folder.file("bell.abc.fingering.ron");
        let text = fs::read_to_string(&file).unwrap();
        assert!(text.contains(key), "{options:?}: {text}");
        let asked = places(&[&tune]);
        let notes = text.find("    notes: [").unwrap();
        fs::write(&file, format!("{}    notes: [],\n)\n", &text[..notes])).unwrap();
        assert_eq!(places(&[&tune]), asked, "{options:?}");
    }
}

#[test]
fn with_a_capo_its_places_are_those_above_it() {
    let folder = Folder::new();
    let tune = folder.write("bell.abc", TUNE);
    let with_capo = [tune.as_str(), "--capo", "2"];
    let run = neckline(&[&["fingering", "--save"], &with_capo[..]].concat(), b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let again = neckline(&[&["fingering"], &with_capo[..]].concat(), b"");
    assert!(again.stdout.contains("as kept in"), "{}", again.stdout);
    assert_eq!(
        places(&with_capo),
        places(&[&with_capo[..], &["--anew"]].concat())
    );
    let sheet = folder.file("bell.svg");
    let run = neckline(
        &[&["sheet"], &with_capo[..], &["-o", sheet.as_str()]].concat(),
        b"",
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        fs::read_to_string(&sheet)
            .unwrap()
            .contains("your fingering")
    );
}

/// The shift of the kept fingering, in bar 2, made two notes earlier by hand: its two lines as they were, and as they are then.
const MOVED: [(&str, &str); 2] = [
    (
        r#""D5", place: "3:7", finger: 1, position: "VII"),"#,
        r#""D5", place: "3:7", finger: 3, position: "V"),"#,
    ),
    (
        r#""B4", place: "4:9", finger: 3, position: "VII"),
        (note: 8"#,
        r#""B4", place: "3:4", finger: 1, position: "V"),
        (note: 8"#,
    ),
];

/// Then the place of each note, and the finger of each that is stopped.
const OWN: [&str; 11] = [
    "3:0", "4:9", "3:7", "2:8", "2:7", "3:7", "3:4", "4:7", "2:5", "3:5", "4:5",
];
const FINGERS: [&str; 10] = ["3", "1", "2", "1", "3", "1", "3", "1", "1", "1"];

/// As [`kept`], with the shift moved: the folder and the tune.
fn moved_by_hand() -> (Folder, String) {
    let (folder, tune, file) = kept();
    let mut text = fs::read_to_string(&file).unwrap();
    for (as_found, by_hand) in MOVED {
        assert_eq!(text.matches(as_found).count(), 1, "{text}");
        text = text.replace(as_found, by_hand);
    }
    fs::write(&file, text).unwrap();
    (folder, tune)
}

/// What a run prints that succeeds.
fn printed(arguments: &[&str]) -> String {
    let run = neckline(arguments, b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    run.stdout
}

#[test]
fn a_shift_moved_by_hand_is_on_every_page() {
    let (folder, tune) = moved_by_hand();
    assert_eq!(places(&[&tune]), OWN);
    let page = printed(&["fingering", &tune]);
    assert!(page.contains("note 6    VII to V "), "{page}");

    // On the neck, in the fourth fret of string 3, the third degree; one shift, and the stretch back.
    let map = printed(&["map", &tune, "--as-fingered"]);
    let string = map.lines().find(|line| line.starts_with("    G4"));
    assert_eq!(
        string.unwrap(),
        "    G4  [1] ╫─────┼─────┼─────┼─~3──┼──4──┼─────┼──5──┼─────┼─────┼"
    );

    // The words of the page in their order: two positions, eleven frets, ten fingers.
    let drawn = folder.file("bell.svg");
    printed(&["sheet", &tune, "-o", &drawn]);
    let drawn = fs::read_to_string(drawn).unwrap();
    let words: Vec<&str> = (drawn.split("</text>"))
        .filter_map(|it| it.rsplit_once('>').map(|(_, word)| word))
        .collect();
    let frets = OWN.map(|place| place.split_once(':').unwrap().1);
    let row = [&["VII", "V", "T", "A", "B"], &frets[..], &FINGERS[..]].concat();
    assert!(
        words.windows(row.len()).any(|it| it == row),
        "{words:?} without {row:?}"
    );
    // The second position stands over the sixth fret.
    let across = |word: &str, nth: usize| {
        let end = format!(">{word}</text>");
        let before = drawn.match_indices(&end).nth(nth).unwrap().0;
        let x = drawn[..before].rsplit_once(" x=\"").unwrap().1;
        x.split_once('"').unwrap().0.to_owned()
    };
    assert_eq!(across("V", 0), across("7", 2));
}

#[test]
fn a_shift_moved_by_hand_is_in_every_file() {
    let (_folder, tune) = moved_by_hand();
    let abc = printed(&["convert", &tune, "-", "--format", "abc"]);
    assert_eq!(
        abc.lines().last().unwrap(),
        "G2 !3!B2 !1!d2 !2!g2 | !1!f2 !3!d2 !1!B2 !3!A2 | !1!e4 !1!c4 | !1!G8 |]"
    );
    let score = printed(&["convert", &tune, "-", "--format", "musicxml"]);
    let values = |name: &str| -> Vec<&str> {
        let (begin, end) = (format!("<{name}>"), format!("</{name}>"));
        score
            .split(begin.as_str())
            .skip(1)
            .filter_map(|it| Some(it.split_once(end.as_str())?.0))
            .collect()
    };
    let both = values("string").into_iter().zip(values("fret"));
    let written: Vec<String> = both.map(|(one, other)| format!("{one}:{other}")).collect();
    assert_eq!(written, OWN);
    assert_eq!(values("fingering"), FINGERS);
}

#[test]
fn the_drill_asks_along_a_shift_moved_by_hand() {
    let (_folder, tune) = moved_by_hand();
    // The drill asks each note where the hand is then, and only its place is right: all answers so far, and one more.
    let moments = [
        "bar 1, beat 1 · position VII",
        "bar 1, beat 2 · position VII",
        "bar 1, beat 3 · position VII",
        "bar 1, beat 4 · position VII",
        "bar 2, beat 1 · position VII",
        "bar 2, beat 2 · position V",
        "bar 2, beat 3 · position V",
        "bar 2, beat 4 · position V",
        "bar 3, beat 1 · position V",
        "bar 3, beat 3 · position V",
        "bar 4, beat 1 · position V",
    ];
    let drill = ["drill", &tune, "--kinds", "place", "--questions", "90"];
    let options = ["--seed", "3", "--no-history", "--plain"];
    let (mut answers, mut asked) = (String::new(), HashSet::new());
    for right in 0..90 {
        let run = neckline(&[&drill[..], &options].concat(), answers.as_bytes());
        assert_eq!(
            run.stdout.matches("   yes, ").count(),
            right,
            "{}",
            run.stdout
        );
        let mut questions = run.stdout.lines().filter(|line| line.contains(". bar "));
        let (_, moment) = questions.next_back().unwrap().split_once(". ").unwrap();
        let note = moments.iter().position(|it| *it == moment);
        let note = note.unwrap_or_else(|| panic!("{moment} is asked"));
        asked.insert(note);
        answers += &format!("{}\n", OWN[note].replace(':', " "));
    }
    assert_eq!(asked.len(), moments.len(), "{asked:?}");
}

#[test]
fn a_shift_moved_by_hand_sounds() {
    let (_folder, tune) = moved_by_hand();
    // What is played is what sounds on these strings.
    let mut sound = Vec::new();
    let mut messages = Vec::new();
    let mut streams = trainer_cli::Streams::captured(&b""[..], &mut sound, &mut messages);
    let play = ["neckline", "play", &tune, "-o", "-", "--bits", "32"];
    assert_eq!(trainer_cli::run(play.map(Into::into), &mut streams), 0);
    drop(streams);
    let mut reader = hound::WavReader::new(&sound[..]).unwrap();
    let played: Vec<f32> = reader.samples::<f32>().map(Result::unwrap).collect();
    let expected = |places: &[&str]| -> Vec<f32> {
        let melody = abc::read(TUNE.as_bytes(), &abc::AbcOptions::default());
        let places: Vec<_> = places.iter().map(|it| Some(it.parse().unwrap())).collect();
        let (guitar, manner) = (Instrument::default(), Manner::default());
        let melody = melody.unwrap().melody;
        let pass = play_through(&melody, &places, Octave::WRITTEN, &guitar, &manner).unwrap();
        let mut renderer = Renderer::new(SampleRate::CD);
        // Only the melody is written.
        renderer.silence(Layer::Chords);
        renderer.silence(Layer::Click);
        renderer.then(pass.performance);
        let mut samples = vec![0.0; played.len()];
        renderer.render(&mut samples);
        samples
    };
    let differs = |places: &[&str]| {
        let pairs = played.iter().zip(expected(places));
        pairs
            .map(|(one, other)| (one - other).abs())
            .fold(0.0, f32::max)
    };
    assert!(differs(&OWN) < 1e-4, "{}", differs(&OWN));
    let mut as_found = OWN;
    as_found[6] = "4:9";
    assert!(differs(&as_found) > 0.01, "{}", differs(&as_found));
}

#[test]
fn a_scheduled_drill_meets_a_phrase_on_both_sides_of_its_shift() {
    let (folder, tune, _) = kept();
    let history = folder.file("history");
    let drill = |day: &str, answers: &str| {
        let now = ["--now", day, "--data-dir", &history];
        let drill = ["drill", &tune, "--kinds", "place", "--plain"];
        let run = neckline(&[&drill[..], &now].concat(), answers.as_bytes());
        assert_eq!(run.code, 0, "{}", run.stderr);
        run.stdout
    };
    // Shown once, then asked where the hand is before the shift and after it, though the first answer is wrong.
    let first = drill("2026-11-20", "?\n?\n");
    let lessons: Vec<&str> = (first.lines())
        .filter(|line| line.starts_with("Learn ") || line.contains("along your fingering"))
        .collect();
    assert_eq!(
        lessons,
        ["Learn bars 1-4 in positions VII and V"],
        "{first}"
    );
    let asked = |page: &str| -> Vec<String> {
        let lines = page.lines().filter_map(|line| line.split_once(" · "));
        let asked = lines.filter(|(at, _)| at.contains(". bar "));
        asked.map(|(_, position)| position.to_owned()).collect()
    };
    assert_eq!(
        asked(&first)[..2],
        ["position VII · untouched", "position V · untouched"]
    );
    // Both are remembered: the next day nothing of it is untouched.
    let next = drill("2026-11-21", "");
    assert!(
        next.contains("2 to play again today, 0 untouched"),
        "{next}"
    );
    // What is weak is drilled along the fingering, not anywhere in that position.
    let progress = neckline(&["progress", &tune, "--data-dir", &history], b"").stdout;
    assert!(
        progress.contains("bars 1-4, position VII") && !progress.contains("--positions"),
        "{progress}"
    );
    // The plan of a day counts both sides too.
    let other = folder.file("other");
    let plan = ["--data-dir", &other, "--now", "2026-11-20"];
    let begun = ["drill", &tune, "--kinds", "degree", "--plain"];
    assert_eq!(neckline(&[&begun[..], &plan].concat(), b"?\n").code, 0);
    let today = ["today", "--list", "--kinds", "place"];
    let today = neckline(&[&today[..], &plan].concat(), b"").stdout;
    assert!(today.contains("0 to play again, 2 untouched"), "{today}");
    // What is known of the phrase in a position is the same memory where the rest is played there too.
    fs::remove_file(folder.file("bell.abc.fingering.ron")).unwrap();
    let there = ["drill", &tune, "--kinds", "place", "--plain"];
    let positions = ["--positions", "VII", "--data-dir", &history];
    let now = ["--now", "2026-11-21"];
    let there = neckline(&[&there[..], &positions, &now].concat(), b"").stdout;
    assert!(
        there.contains("1 to play again today, 0 untouched"),
        "{there}"
    );
}

/// The first tune of a book is the same tune with its number and without.
#[test]
fn the_first_tune_of_a_book_has_one_file() {
    let book = format!("{TUNE}\nX:2\nT:Low Water\nL:1/4\nK:D\nDEF|A2d|\n");
    let (plain, numbered): (&[&str], &[&str]) = (&[], &["--tune", "1"]);
    for (save, show) in [(plain, numbered), (numbered, plain)] {
        let folder = Folder::new();
        let book = folder.write("book.abc", &book);
        let saved = ["fingering", &book, "--home", "VII", "--save"];
        assert_eq!(neckline(&[&saved[..], save].concat(), b"").code, 0);
        let shown = neckline(&[&["fingering", &book], show].concat(), b"");
        assert!(shown.stdout.contains("as kept in"), "{}", shown.stdout);
        let again = ["fingering", &book, "--home", "V", "--save"];
        assert_eq!(neckline(&[&again[..], show].concat(), b"").code, 0);
        let second = neckline(&["fingering", &book, "--tune", "2"], b"");
        assert!(!second.stdout.contains("as kept in"), "{}", second.stdout);
        let files = fs::read_dir(folder.text()).unwrap().count();
        assert_eq!(files, 2);
    }
}

#[test]
fn a_fingering_for_elsewhere_is_written_over_only_when_begun_anew() {
    let (_folder, tune, file) = kept();
    let before = fs::read_to_string(&file).unwrap();
    for options in [&["--octave", "-1"][..], &["--instrument", "bass"]] {
        let save = [&["fingering", &tune, "--save"], options].concat();
        let run = neckline(&save, b"");
        assert_eq!(run.code, 1, "{}", run.stderr);
        assert!(
            run.stderr
                .contains("is for another octave or instrument; nothing was written")
                && run.stderr.contains("`--anew`"),
            "{}",
            run.stderr
        );
        assert_eq!(fs::read_to_string(&file).unwrap(), before);
    }
    let save = ["fingering", &tune, "--octave", "-1", "--save", "--anew"];
    assert_eq!(neckline(&save, b"").code, 0);
    assert!(fs::read_to_string(&file).unwrap().contains("octave: -1"));
}

/// Who asks for something else is told what of the kept fingering still holds.
#[test]
fn what_is_pinned_holds_and_is_said_to() {
    let (_folder, tune, _) = kept();
    let says = |options: &[&str]| {
        let run = neckline(&[&["fingering", &tune], options].concat(), b"");
        run.stderr
            .contains("holds here too; `--anew` leaves it out")
    };
    assert!(says(&["--positions", "I-III"]));
    assert!(says(&["--best", "2"]));
    assert!(!says(&[]));
    assert!(!says(&["--best", "2", "--anew"]));
}

#[test]
fn it_is_not_a_tune() {
    let (_folder, _, file) = kept();
    let run = neckline(&["map", &file], b"");
    assert_eq!(run.code, 2);
    assert!(
        run.stderr
            .contains("is kept beside a tune and is not one itself"),
        "{}",
        run.stderr
    );
}

#[test]
fn a_home_for_bars_that_are_gone_is_named() {
    let folder = Folder::new();
    let tune = folder.write("bell.abc", TUNE);
    folder.write("bell.abc.fingering.ron", "(home: \"V II@9-16\", notes: [])");
    let run = neckline(&["fingering", &tune], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stderr
            .contains("the home II@9-16 is for bars that the tune does not have; the rest holds"),
        "{}",
        run.stderr
    );
}
