//! `neckline shelf`: a folder ranked with its reasons.

use serde_json::Value;
use tests::{Folder, neckline};

const EASY: &str = "X:1\nT:Easy\nM:4/4\nL:1/2\nQ:1/4=60\nK:G\nG A | B A | G2 |\n";
const MIDDLE: &str =
    "X:1\nT:Middle\nM:4/4\nL:1/4\nQ:1/4=90\nK:C\nC E G E | F A c A | G2 E2 | C4 |\n";
const HARD: &str =
    "X:1\nT:Hard\nM:4/4\nL:1/16\nQ:1/4=160\nK:C\nC^c'D^F Gb3e a'^G,2c' | c'^C_e'G, A4 ^F2 |\n";

fn shelf() -> Folder {
    let folder = Folder::new();
    for (name, tune) in [
        ("easy.abc", EASY),
        ("hard.abc", HARD),
        ("middle.abc", MIDDLE),
    ] {
        folder.write(name, tune);
    }
    folder.write("notes.txt", "three tunes for Sunday");
    folder
}

#[test]
fn tunes_are_ranked_with_their_reasons() {
    let folder = shelf();
    let run = neckline(&["shelf", folder.text()], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let at = |title: &str| run.stdout.find(title).unwrap();
    assert!(
        at("Easy") < at("Hard") && at("Middle") < at("Hard"),
        "{}",
        run.stdout
    );
    assert!(
        run.stdout.starts_with("3 of 3 tunes, the easiest first\n"),
        "{}",
        run.stdout
    );
    assert!(run.stdout.contains("fast notes"), "{}", run.stdout);
    assert!(
        !run.stdout.to_lowercase().contains("grade"),
        "{}",
        run.stdout
    );
    assert!(
        run.stdout.lines().all(|line| line.chars().count() <= 80),
        "{}",
        run.stdout
    );
}

#[test]
fn a_shelf_is_filtered_and_printed_as_json_lines() {
    let folder = shelf();
    let titles = |more: &[&str]| -> Vec<String> {
        let run = neckline(&[&["shelf", folder.text(), "--json"], more].concat(), b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        let lines = run
            .stdout
            .lines()
            .map(|line| serde_json::from_str::<Value>(line).unwrap());
        lines
            .map(|line| line["title"].as_str().unwrap().to_string())
            .collect()
    };
    assert_eq!(titles(&[]).last().unwrap(), "Hard");
    assert_eq!(titles(&["--key", "G"]), ["Easy"]);
    assert_eq!(titles(&["--under", "100bpm"]).len(), 2);
    assert_eq!(titles(&["--position", "I-V"]).len(), 2);
    assert!(titles(&["--key", "Eb"]).is_empty());
    let line = neckline(&["shelf", folder.text(), "--json", "--key", "G"], b"").stdout;
    let line: Value = serde_json::from_str(&line).unwrap();
    assert_eq!(line["schema"], 1);
    assert_eq!(line["reasons"].as_array().unwrap().len(), 3);
    assert!(
        (0.0..=100.0).contains(&line["score"].as_f64().unwrap()),
        "{line}"
    );
}

#[test]
fn one_bad_file_is_reported_and_the_rest_is_ranked() {
    let folder = shelf();
    folder.write("broken.abc", "X:1\nT:Broken\nM:4/4\nL:1/4\nK:Hmaj\nC D |\n");
    // Called a tune, though nothing in it looks like one.
    folder.write("letter.ron", "Dear all, three tunes for Sunday");
    let run = neckline(&["shelf", folder.text()], b"");
    assert_eq!(run.code, 1);
    for part in ["broken.abc", "letter.ron", "2 tunes could not be read"] {
        assert!(run.stderr.contains(part), "{part}: {}", run.stderr);
    }
    assert!(run.stdout.starts_with("3 of 3 tunes"), "{}", run.stdout);
    let nowhere = neckline(&["shelf", "no-such-folder"], b"");
    assert_eq!(nowhere.code, 2);
    assert!(
        nowhere.stderr.contains("hint: give a folder of tunes"),
        "{}",
        nowhere.stderr
    );
    assert_eq!(
        neckline(&["shelf", folder.text(), "--under", "fast"], b"").code,
        2
    );
}

#[test]
fn the_position_follows_the_settings() {
    let folder = Folder::new();
    folder.write("easy.abc", EASY);
    let settings = folder.write("settings.ron", "(open_strings_first: true)");
    let position = |more: &[&str]| {
        let run = neckline(&[&["shelf", folder.text(), "--json"], more].concat(), b"");
        let line: Value = serde_json::from_str(run.stdout.lines().next().unwrap()).unwrap();
        line["position"].as_u64()
    };
    assert_eq!(position(&["--settings", &settings]), Some(1));
    assert_ne!(position(&[]), Some(1));
}
