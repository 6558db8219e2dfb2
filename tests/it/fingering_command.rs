//! `neckline fingering` as a whole: its page, its JSON, its errors.

use expect_test::expect_file;
use serde_json::Value;
use tests::golden::collection;
use tests::{Folder, GUITAR, neckline};

#[test]
fn the_page_is_as_expected() {
    let run = neckline(
        &[
            "fingering",
            "pedalo-blues",
            "--bars",
            "5-8",
            "--tempo",
            "60",
            "--best",
            "2",
            "--why",
        ],
        b"",
    );
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    expect_file!["fingering_page.txt"].assert_eq(&run.stdout);
}

/// A home is named only where the player named one.
#[test]
fn a_shift_towards_home_says_which() {
    let check = |tune: &str, options: &[&str], shift: &str, reason: &str| {
        let tune = collection("oneills1850").find(|it| it.id == tune).unwrap();
        let path = tune.abc_path();
        let run = neckline(&[&["fingering", &path], options].concat(), b"");
        let mut lines = run.stdout.lines();
        assert!(
            lines.any(|it| it.contains(shift) && it.ends_with(reason)),
            "no {shift}{reason} in\n{}",
            run.stdout
        );
    };
    let (waltz, reel) = ("oneills1850_249_b853b684", "oneills1850_136_97c58289");
    check(
        reel,
        &["--home", "VII"],
        "VI to VII ",
        ": to be at home in VII",
    );
    let nearer = ": to be nearer home, VII";
    let below = ["--home", "VII", "--positions", "1-6"];
    check(waltz, &below, "IV to VI ", nearer);
    check(
        reel,
        &["--start", "VII"],
        "VI to VII ",
        ": to be back in VII, where it starts",
    );
    check(
        waltz,
        &["--best", "4"],
        "IV to VI ",
        ": to stay near sixth position",
    );
}

#[test]
fn every_place_sounds_its_note_and_is_under_its_finger() {
    let mut tried = 0;
    for tune in collection("airdsAirs").take(60) {
        let run = neckline(&["fingering", &tune.abc_path(), "--json"], b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        let document: Value = serde_json::from_str(&run.stdout).unwrap();
        assert_eq!(document["schema"], 1);
        let fingering = &document["fingerings"][0];
        let places = fingering["places"].as_array().unwrap();
        let notes = &tune.notes;
        assert_eq!(places.len(), notes.len());
        // A tune that is not on the neck is moved by octaves.
        let sounding = |place: &Value| {
            let string = place["string"].as_u64().unwrap() as usize;
            GUITAR[string - 1] + place["fret"].as_i64().unwrap()
        };
        let octaves = sounding(&places[0]) - i64::from(notes[0].midi);
        assert_eq!(octaves % 12, 0);
        let mut shifts = 0;
        for (index, (place, note)) in places.iter().zip(notes).enumerate() {
            assert_eq!(place["note"], index + 1);
            assert_eq!(sounding(place), i64::from(note.midi) + octaves);
            let number = |key: &str| place[key].as_i64().unwrap();
            let from_position = number("fret") - number("position");
            match number("finger") {
                0 => assert_eq!(number("fret"), 0),
                1 => assert!((-1..=0).contains(&from_position)),
                2 => assert!((0..=1).contains(&from_position)),
                3 => assert!((1..=2).contains(&from_position)),
                4 => assert!((2..=4).contains(&from_position)),
                other => panic!("no hand has finger {other}"),
            }
            shifts += u64::from(index > 0 && place["position"] != places[index - 1]["position"]);
        }
        assert_eq!(fingering["shifts"], shifts);
        tried += 1;
    }
    assert!(tried >= 60, "{tried} tunes");
}

#[test]
fn a_note_that_cannot_be_played_is_named_with_what_would_help() {
    let run = neckline(&["fingering", "oars-in-three", "--positions", "12"], b"");
    assert_eq!(run.code, 1);
    assert!(
        run.stderr
            .contains("cannot be played with these constraints"),
        "{}",
        run.stderr
    );
    assert!(
        run.stderr.contains("allow other positions"),
        "{}",
        run.stderr
    );
    let run = neckline(&["fingering", "oars-in-three", "--pin", "900=1/1"], b"");
    assert_eq!(run.code, 2);
    assert!(
        run.stderr.contains("there is no note 900 to pin"),
        "{}",
        run.stderr
    );
}

#[test]
fn the_hand_of_the_settings_is_used() {
    let folder = Folder::new();
    let settings = folder.write("settings.ron", "(hand: (one_four: (40, 45)))");
    let wide = neckline(
        &["fingering", "oars-in-three", "--positions", "5-8", "--json"],
        b"",
    );
    let set = [
        "fingering",
        "oars-in-three",
        "--positions",
        "5-8",
        "--json",
        "--settings",
    ];
    let narrow = neckline(&[&set[..], &[&settings]].concat(), b"");
    assert_eq!((wide.code, narrow.code), (0, 0), "{}", narrow.stderr);
    assert_ne!(wide.stdout, narrow.stdout);
    // The option takes precedence over the settings.
    let given = neckline(&[&set[..], &[&settings, "--hand", "medium"]].concat(), b"");
    assert_eq!(wide.stdout, given.stdout);

    let wrong = folder.write("wrong.ron", "(\n  hand: (one_four: (50, 45)))");
    let run = neckline(&["fingering", "--settings", &wrong], b"");
    assert_eq!(run.code, 2);
    assert!(
        run.stderr
            .contains("wrong.ron:2:10: utmost reach in mm 45 is not in the range 50 to 250"),
        "{}",
        run.stderr
    );
}

#[test]
fn another_tempo_explains_its_fingering() {
    let run = neckline(
        &["fingering", "lamps-along-the-jetty", "--tempo", "200"],
        b"",
    );
    assert!(
        run.stdout
            .contains("What changes from the tune's own tempo (q = 66)")
    );
    assert!(
        run.stdout
            .contains("only at q = 66, with 1.4 s for it; 0.5 s at q = 200"),
        "{}",
        run.stdout
    );
    let run = neckline(
        &["fingering", "lamps-along-the-jetty", "--tempo", "66"],
        b"",
    );
    assert!(
        run.stdout
            .ends_with("The best fingering is the same at the tune's own tempo (q = 66).\n")
    );
}

#[test]
fn the_settings_say_where_open_strings_are_wanted() {
    let folder = Folder::new();
    let open_strings = |wanted: &str| {
        let settings = folder.write("settings.ron", format!("(open_strings: \"{wanted}\")"));
        let run = neckline(
            &[
                "fingering",
                "lamps-along-the-jetty",
                "--json",
                "--settings",
                &settings,
            ],
            b"",
        );
        assert_eq!(run.code, 0, "{}", run.stderr);
        let document: Value = serde_json::from_str(&run.stdout).unwrap();
        let notes = document["fingerings"][0]["places"].as_array().unwrap();
        let open = notes.iter().filter(|note| note["finger"] == 0);
        let positions: Vec<u64> = open
            .map(|note| note["position"].as_u64().unwrap())
            .collect();
        positions
    };
    assert!(
        open_strings("anywhere")
            .iter()
            .any(|position| *position > 1)
    );
    let first = open_strings("first position");
    assert!(first.iter().all(|position| *position == 1), "{first:?}");
    assert!(open_strings("nowhere").is_empty());
    let wrong = folder.write("settings.ron", "(open_strings: \"somewhere\")");
    let run = neckline(&["map", "--settings", &wrong], b"");
    assert!(
        run.stderr.contains("settings.ron:1:")
            && run.stderr.contains("first position, anywhere or nowhere"),
        "{}",
        run.stderr
    );
}

/// Common practice, no source: a quick tune in an open key stays in one position, and between two quick notes no finger goes
/// to another string and another fret at once.
#[test]
fn quick_notes_are_played_without_shifts_and_hops() {
    let document = |arguments: &[&str]| -> Value {
        let run = neckline(&[&["fingering"], arguments, &["--json"]].concat(), b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        serde_json::from_str(&run.stdout).unwrap()
    };
    assert_eq!(document(&["pedalo-blues"])["fingerings"][0]["shifts"], 0);
    let ballad = document(&["lamps-along-the-jetty"]);
    let places = ballad["fingerings"][0]["places"].as_array().unwrap();
    // Bar 24: notes 62 to 66.
    for pair in places[61..66].windows(2) {
        let differ = |key: &str| pair[0][key] != pair[1][key];
        let hops = !differ("finger") && differ("string") && differ("fret");
        assert!(!hops, "{pair:?}");
    }
}

/// A place is checked before anything is searched, and the hint says where the note lies.
#[test]
fn what_the_neck_does_not_have_is_said_as_it_is() {
    let folder = Folder::new();
    let tune = folder.write("pier.abc", "X:1\nL:1/4\nM:4/4\nK:C\nE G B c | A2 e2 |]\n");
    let low = folder.write("low.abc", "X:1\nL:1/4\nM:4/4\nK:C\nC,, C c''' c |]\n");
    for (tune, options, code, said) in [
        (
            &tune,
            &["--pin", "3=3/2"][..],
            2,
            "error: note 3 is B4, which does not lie at string 3, fret 2\n\nhint: B4 lies at 2/0, 3/4, 4/9, 5/14, 6/19",
        ),
        (
            &tune,
            &["--octave", "-1", "--pin", "3=3/4"],
            2,
            "error: note 3 is B3, which does not lie at string 3, fret 4\n\nhint: B3 lies at 5/2, 6/7",
        ),
        (
            &tune,
            &["--pin", "3=3/4", "--pin", "3=4/9"],
            2,
            "error: note 3 is pinned twice, at 3/4 and at 4/9\n",
        ),
        (
            &low,
            &[],
            1,
            "error: note 1 (C2 in bar 1) is not on the guitar, which has frets 0 to 22\n\nhint: try another `--octave`",
        ),
    ] {
        let run = neckline(&[&["fingering", tune], options].concat(), b"");
        assert_eq!(run.code, code, "{}", run.stderr);
        assert!(run.stderr.contains(said), "{}", run.stderr);
    }
}

/// What a region is good for is said of a fingering that lies there: a pin, a start or a tune's range may keep it elsewhere.
#[test]
fn a_region_is_named_where_the_fingering_lies_there() {
    let folder = Folder::new();
    let tune = folder.write(
        "reeds.abc",
        "X:1\nM:3/4\nL:1/4\nK:Am\nABc|ded|cBA|E2E|A2e|agd|\n",
    );
    let check = |options: &[&str], is_named: bool| {
        let run = neckline(
            &[&["fingering", &tune, "--best", "2"], options].concat(),
            b"",
        );
        assert_eq!(run.code, 0, "{}", run.stderr);
        let low = run.stdout.contains("Fingering 1, low, with open strings: ");
        assert_eq!(low, is_named, "{}", run.stdout);
        assert_eq!(run.stdout.contains("Good for: open strings"), is_named);
    };
    check(&[], true);
    check(&["--no-open"], false);
    check(&["--start", "VII"], false);
    check(&["--pin", "2=4/9", "--pin", "9=4/7"], false);
}

/// On a terminal no line is broken within a word; on a pipe each shift has one line.
#[test]
fn lines_fit_a_narrow_terminal() {
    let page = |width: usize, is_terminal: bool| -> String {
        let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
        let mut streams = trainer_cli::Streams::captured(&b""[..], &mut stdout, &mut stderr);
        (streams.width, streams.stdout_is_terminal) = (width, is_terminal);
        streams.color = false;
        let arguments = ["neckline", "fingering", "lamps", "--start", "IX"].map(Into::into);
        assert_eq!(trainer_cli::run(arguments, &mut streams), 0);
        drop(streams);
        String::from_utf8(stdout).unwrap()
    };
    let words = |page: &str| -> Vec<String> {
        let shifts = page.split("Shifts: ").nth(1).unwrap();
        let shifts = shifts.split("Compared").next().unwrap();
        shifts.split_whitespace().map(str::to_owned).collect()
    };
    let piped = page(60, false);
    assert!(piped.lines().any(|line| line.chars().count() > 80));
    for width in [60, 80, 120] {
        let page = page(width, true);
        let widest = page.lines().map(|line| line.chars().count()).max();
        assert!(widest <= Some(width), "{page}");
        assert_eq!(words(&page), words(&piped));
    }
}
