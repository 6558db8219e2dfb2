//! `neckline map` as a whole: its JSON compared with the reference tunes and with the literal definitions.

use serde_json::Value;
use tests::golden::{Golden, collection};
use tests::{GUITAR, data, neckline, neckline_on};

fn golden() -> Vec<Golden> {
    let airs = collection("airdsAirs").skip(60);
    airs.chain(collection("northumbrian"))
        .chain(collection("americanfife"))
        .collect()
}

fn map_json(args: &[&str]) -> Value {
    let run = neckline(args, b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert_eq!(run.stdout.lines().count(), 1);
    serde_json::from_str(&run.stdout).unwrap()
}

#[test]
fn the_notes_are_those_of_the_reference() {
    for tune in golden() {
        let id = &tune.id;
        let document = map_json(&["map", &tune.abc_path(), "--json"]);
        assert_eq!(document["schema"], 1);
        let melody = &document["melody"];
        assert_eq!(melody["key"], tune.key, "{id}");
        assert_eq!(melody["key_source"], "declared", "{id}");
        assert_eq!(melody["meter"], tune.meter, "{id}");
        assert_eq!(melody["range"]["low"], tune.low, "{id}");
        assert_eq!(melody["range"]["high"], tune.high, "{id}");
        let notes = melody["notes"].as_array().unwrap();
        assert_eq!(notes.len(), tune.notes.len(), "{id}");
        for (index, (note, expected)) in notes.iter().zip(&tune.notes).enumerate() {
            let number = index + 1;
            assert_eq!(note["number"], number, "{id}");
            assert_eq!(note["midi"], expected.midi, "{id}, note {number}");
            for (key, value) in [
                ("pitch", &expected.pitch),
                ("onset", &expected.onset),
                ("duration", &expected.dur),
                ("degree", &expected.degree),
                ("membership", &expected.membership),
            ] {
                assert_eq!(note[key], **value, "{id}, note {number}, {key}");
            }
            let interval = match index {
                0 => Value::Null,
                _ => tune.intervals[index - 1].clone().into(),
            };
            assert_eq!(note["interval"], interval, "{id}, note {number}");
        }
    }
}

/// The definition of the map taken literally, by trying every fret: each note is in position if some string gives it at
/// fret P..P+3 (or, in position I, open), else a stretch at P-1 (>= 1) or P+4, else missing.
#[test]
fn every_placement_follows_the_definition() {
    for tune in golden().iter().take(12) {
        let id = &tune.id;
        let document = map_json(&["map", &tune.abc_path(), "--json"]);
        let midis: Vec<i64> = tune.notes.iter().map(|note| note.midi.into()).collect();
        let mut placements = document["placements"].as_array().unwrap().iter();
        for position in 1..=19i64 {
            for octave in -5..=5i64 {
                let sounding: Vec<i64> = midis.iter().map(|midi| midi + 12 * octave).collect();
                if sounding.iter().any(|midi| !(52..=76 + 22).contains(midi)) {
                    continue;
                }
                let it = placements.next().unwrap();
                assert_eq!(
                    (it["position"].as_i64(), it["octave"].as_i64()),
                    (Some(position), Some(octave))
                );
                let mut stretches = 0;
                let mut missing = Vec::new();
                for (index, midi) in sounding.iter().enumerate() {
                    let frets = || {
                        GUITAR
                            .iter()
                            .map(|open| midi - open)
                            .filter(|fret| (0..=22).contains(fret))
                    };
                    let in_position = |fret: i64| {
                        (position..position + 4).contains(&fret) || (position == 1 && fret == 0)
                    };
                    let reachable =
                        |fret: i64| (fret == position - 1 && fret >= 1) || fret == position + 4;
                    if frets().any(in_position) {
                    } else if frets().any(reachable) {
                        stretches += 1;
                    } else {
                        missing.push(index as i64 + 1);
                    }
                }
                assert_eq!(it["stretches"], stretches, "{id} {position} {octave}");
                assert_eq!(
                    it["missing"],
                    serde_json::json!(missing),
                    "{id} {position} {octave}"
                );
                assert_eq!(it["whole"], missing.is_empty(), "{id} {position} {octave}");
                for place in it["places"].as_array().unwrap() {
                    let note = place["note"].as_u64().unwrap() as usize - 1;
                    let (string, fret) = (
                        place["string"].as_u64().unwrap() as usize,
                        place["fret"].as_i64().unwrap(),
                    );
                    assert_eq!(
                        GUITAR[string - 1] + fret,
                        sounding[note],
                        "{id} {position} {octave}"
                    );
                    let (reach, finger) = (
                        place["reach"].as_str().unwrap(),
                        place["finger"].as_i64().unwrap(),
                    );
                    match reach {
                        "open" => assert_eq!((fret, finger, position), (0, 0, 1)),
                        "in position" => assert_eq!(finger, fret - position + 1),
                        "stretch" => assert!(
                            (finger, fret) == (1, position - 1)
                                || (finger, fret) == (4, position + 4)
                        ),
                        other => panic!("{other}"),
                    }
                }
            }
        }
        assert!(placements.next().is_none(), "{id}");
    }
}

#[test]
fn pages_fit_the_terminal() {
    for width in [60, 80, 132] {
        for id in [
            "airdsAirs_0004_f6fc4bb6",
            "northumbrian_36_eba11ca0",
            "oneills1850_208_651739d7",
        ] {
            let file = data("abc").join(format!("{id}.abc"));
            let run = neckline_on(&["map", file.to_str().unwrap()], b"", width);
            for line in run.stdout.lines() {
                assert!(line.chars().count() <= width, "{width}: {line}");
            }
        }
    }
}

#[test]
fn options_move_and_cut_the_tune() {
    let file = data("abc").join("oneills1850_208_651739d7.abc");
    let file = file.to_str().unwrap();
    let first_pitch = |args: &[&str]| {
        map_json(&[&["map", file, "--json"], args].concat())["melody"]["notes"][0]["pitch"].clone()
    };
    assert_eq!(first_pitch(&[]), "E4");
    assert_eq!(first_pitch(&["--transpose", "+m3"]), "G4");
    assert_eq!(first_pitch(&["--transpose", "-P4"]), "B3");
    assert_eq!(first_pitch(&["--to-key", "Ab"]), "Eb4");
    let part = map_json(&[
        "map",
        file,
        "--json",
        "--bars",
        "2-3",
        "--positions",
        "V-VII",
    ]);
    let bars: Vec<u64> = part["melody"]["notes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|note| note["bar"].as_u64().unwrap())
        .collect();
    assert!(bars.iter().all(|bar| (2..=3).contains(bar)), "{bars:?}");
    assert!(
        part["placements"]
            .as_array()
            .unwrap()
            .iter()
            .all(|it| (5..=7).contains(&it["position"].as_u64().unwrap()))
    );
    let key = |args: &[&str]| {
        let melody = map_json(&[&["map", file, "--json"], args].concat())["melody"].clone();
        (melody["key"].clone(), melody["key_source"].clone())
    };
    assert_eq!(
        key(&["--key", "F# minor"]),
        ("F# minor".into(), "option".into())
    );
    assert_eq!(
        key(&["--key", "estimate"]),
        ("A major".into(), "estimated".into())
    );
}

#[test]
fn a_tempo_keeps_its_unit() {
    let said = |name: &str| {
        let file = data("abc").join(name).with_extension("abc");
        let melody = map_json(&["map", file.to_str().unwrap(), "--json"])["melody"].clone();
        [
            &melody["tempo"],
            &melody["tempo_unit"],
            &melody["tempo_count"],
        ]
        .map(Value::clone)
    };
    // Q:3/8=120
    let jig = said("airdsAirs_0907_c0024e9c");
    assert_eq!(jig, [Value::from(180), "3/2".into(), 120.into()]);
    let untold = said("oneills1850_208_651739d7");
    assert_eq!(untold, [Value::Null, Value::Null, Value::Null]);
}

#[test]
fn a_capo_moves_the_nut_and_colour_comes_when_asked() {
    let file = data("abc").join("oneills1850_208_651739d7.abc");
    let file = file.to_str().unwrap();
    let with_capo = map_json(&["map", file, "--json", "--capo", "2"]);
    assert_eq!(with_capo["instrument"]["capo"], 2);
    let transposed = map_json(&["map", file, "--json", "--transpose", "-M2"]);
    let first = |document: &Value| document["placements"][0]["places"].clone();
    // A capo at 2 feels like the tune a tone lower.
    assert_eq!(first(&with_capo), first(&transposed));
    assert!(!neckline(&["map", file], b"").stdout.contains('\u{1b}'));
    assert!(
        neckline(&["map", file, "--color", "always"], b"")
            .stdout
            .contains('\u{1b}')
    );
    let ascii = neckline(&["map", file, "--ascii"], b"").stdout;
    assert!(ascii.is_ascii(), "{ascii}");
}

/// The position and octave that the page calls best.
fn best(args: &[&str]) -> (String, String) {
    let run = neckline(&[&["map"], args].concat(), b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let line = run.stdout.lines().find(|line| line.starts_with("best"));
    let words: Vec<&str> = line.unwrap().split_whitespace().collect();
    (words[1].to_owned(), words[2..4].join(" "))
}

#[test]
fn the_ballad_is_shown_in_fifth_position_unless_open_strings_come_first() {
    let folder = tests::Folder::new();
    let settings = folder.write("settings.ron", "(open_strings_first: true)");
    let ballad = "lamps-along-the-jetty";
    let as_written = |position: &str| (position.to_owned(), "as written".to_owned());
    assert_eq!(best(&[ballad]), as_written("V"));
    assert_eq!(best(&[ballad, "--settings", &settings]), as_written("I"));
    assert_eq!(
        best(&[ballad, "--no-open", "--positions", "I,VII"]),
        as_written("VII")
    );
    // A tune whole in I on open strings is named beside any other.
    let page = neckline(&["map", ballad], b"").stdout;
    assert!(
        page.contains("I     as written   whole, on open strings"),
        "{page}"
    );
    let page = neckline(&["map", ballad, "--no-open"], b"").stdout;
    assert!(!page.contains("open strings"), "{page}");
}

/// String and fret of each note in a score's tablature.
fn tablature(score: &str) -> Vec<(i64, i64)> {
    let number = |text: &str| text.split('<').next().unwrap().parse().unwrap();
    let strings = score.split("<string>").skip(1).map(number);
    let frets = score.split("<fret>").skip(1).map(number);
    strings.zip(frets).collect()
}

#[test]
fn map_drill_and_convert_agree_on_the_best_placement() {
    let folder = tests::Folder::new();
    let mut checked = 0;
    for tune in golden().iter().step_by(4) {
        let id = &tune.id;
        let file = data("abc").join(format!("{id}.abc"));
        let file = file.to_str().unwrap();
        let (position, octave) = best(&[file]);
        let document = map_json(&["map", file, "--json"]);
        let number = i64::from(position.parse::<fretlib::neck::Position>().unwrap().get());
        let octave: i64 = match octave.strip_prefix("octave ") {
            Some(octave) => octave.parse().unwrap(),
            None => 0,
        };
        let placements = document["placements"].as_array().unwrap();
        let here = |it: &&Value| it["position"] == number && it["octave"] == octave;
        let placement = placements.iter().find(here).unwrap();
        if placement["whole"] == false {
            continue;
        }
        let score = folder.file(&format!("{id}.musicxml"));
        let run = neckline(&["convert", file, &score], b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        let mut written = tablature(&std::fs::read_to_string(&score).unwrap());
        let places = placement["places"].as_array().unwrap().iter();
        let place = |it: &Value| (it["string"].as_i64().unwrap(), it["fret"].as_i64().unwrap());
        let mut expected: Vec<(i64, i64)> = places.map(place).collect();
        // Tied notes occur more than once in a score.
        written.dedup();
        expected.dedup();
        assert_eq!(written, expected, "{id}");
        let drill = [
            "drill",
            file,
            "--kinds",
            "place",
            "--questions",
            "1",
            "--no-history",
            "--plain",
        ];
        let run = neckline(&drill, b"?\n");
        let numeral = format!(" in position {position}");
        assert!(
            run.stdout.contains(&numeral),
            "{id} {numeral}: {}",
            run.stdout
        );
        checked += 1;
    }
    assert!(checked >= 5, "{checked}");
}

#[test]
fn one_note_in_one_bar_is_counted_as_one() {
    let tune = b"X:1\nT:One\nM:4/4\nL:1/4\nK:G\nG4|]\n";
    let page = neckline(&["map", "-"], tune).stdout;
    assert!(page.contains("1 note, 1 bar, "), "{page}");
}

#[test]
fn the_page_fits_a_terminal() {
    for tune in golden().iter().step_by(5) {
        let id = &tune.id;
        let file = data("abc").join(format!("{id}.abc"));
        let page = neckline(&["map", file.to_str().unwrap()], b"").stdout;
        assert!(page.lines().count() <= 24, "{page}");
        assert!(
            page.lines().all(|line| line.chars().count() <= 80),
            "{page}"
        );
    }
}

/// Best in II by one stretch, and whole in I on open strings: each command that shows II also names I.
#[test]
fn every_command_names_position_i_on_open_strings_beside_the_easiest() {
    const TUNE: [&str; 3] = ["pedalo-blues", "--bars", "9-12"];
    let folder = tests::Folder::new();
    let settings = folder.write("settings.ron", "(open_strings_first: true)");
    let with_settings = ["--settings", settings.as_str()];

    let drill = |more: &[&str]| {
        let args = [
            &["drill"],
            &TUNE[..],
            &["--no-history", "--seed", "1", "--kinds", "place"],
            more,
        ]
        .concat();
        let run = neckline(&args, b"q\n");
        assert_eq!(run.code, 0, "{}", run.stderr);
        run
    };
    assert_eq!(
        drill(&[]).stderr,
        "note: the tune is also whole in I on open strings, as written; `--positions I` asks about it there\n"
    );
    assert_eq!(drill(&["--positions", "II"]).stderr, "");
    let preferred = drill(&with_settings);
    assert_eq!(preferred.stderr, "");
    assert!(
        preferred.stdout.contains("position I\n"),
        "{}",
        preferred.stdout
    );

    let score = folder.file("blues.musicxml");
    let convert = |more: &[&str]| {
        let args = [&["convert"], &TUNE[..], &[&score, "--replace"], more].concat();
        let run = neckline(&args, b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        let lines = run.stderr.lines().map(str::to_owned);
        lines
            .filter(|it| it.contains("whole in I"))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        convert(&[]),
        [
            "note: the tablature is in position II; the tune is also whole in I on open strings (`--position I`)"
        ]
    );
    assert!(convert(&["--position", "II"]).is_empty());
    assert!(convert(&with_settings).is_empty());

    let page = folder.file("blues.svg");
    let more = ["-o", &page, "--replace", "--position", "II"];
    let run = neckline(&[&["sheet"], &TUNE[..], &more].concat(), b"");
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let drawing = std::fs::read_to_string(&page).unwrap();
    assert!(drawing.contains("II position, as written; also whole in I on open strings"));
}

#[test]
fn the_tablature_says_where_the_tune_jumps() {
    let abc = b"X:1\nM:2/4\nL:1/4\nK:C\nEG|E!segno!G|C2!dacoda!|D2!D.S.alcoda!|!coda!C2|]\n";
    let run = neckline(&["map", "-", "--tablature"], abc);
    assert_eq!(run.code, 0, "{}", run.stderr);
    let words = ["Segno", "3 To Coda", "4 D.S. al Coda", "5 Coda"];
    let at: Vec<_> = words.iter().map(|words| run.stdout.find(words)).collect();
    assert!(at.is_sorted() && !at.contains(&None), "{}", run.stdout);
}

// Common practice: the dots of a repeat sign stand on the two strings in the middle.
#[test]
fn the_tablature_shows_repeats_and_endings() {
    let abc = b"X:1\nM:2/4\nL:1/4\nK:C\nEG|:AG|1 EC:|2 ED|C2|]\n";
    let run = neckline(&["map", "-", "--tablature", "--ascii"], abc);
    assert_eq!(run.code, 0, "{}", run.stderr);
    let strings: Vec<&str> = run
        .stdout
        .lines()
        .filter(|line| line.contains("--") && line.contains('|'))
        .collect();
    let dots: Vec<usize> = strings
        .iter()
        .map(|line| line.matches(':').count())
        .collect();
    assert!(dots.ends_with(&[0, 0, 2, 2, 0, 0]), "{}", run.stdout);
    assert!(
        run.stdout.contains("3 [1") && run.stdout.contains("4 [2"),
        "{}",
        run.stdout
    );
}
