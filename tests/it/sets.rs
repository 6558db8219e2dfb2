//! `neckline set`, sets in `today` and `progress`, and several players.

use serde_json::Value;
use tests::{Folder, Run, neckline};

use crate::drill::JETTY;

fn on(folder: &Folder, args: &[&str], typed: &str) -> Run {
    let args = [args, &["--now", "2026-11-25", "--data-dir", folder.text()]].concat();
    neckline(&args, typed.as_bytes())
}

fn sunday(folder: &Folder) {
    let made = on(
        folder,
        &[
            "set",
            "sunday",
            "--by",
            "2026-11-29",
            "lamps-along-the-jetty",
            "oars-in-three",
        ],
        "",
    );
    assert_eq!(made.code, 0, "{}", made.stderr);
    let expected = "\
sunday, by 2026-11-29, in 4 days
  1  Lamps along the Jetty
  2  Oars in Three
";
    assert_eq!(made.stdout, expected);
}

#[test]
fn a_set_is_made_changed_and_taken_away() {
    let folder = Folder::new();
    assert!(on(&folder, &["set"], "").stdout.contains("no sets yet"));
    sunday(&folder);
    let more = on(
        &folder,
        &["set", "sunday", "pedalo-blues", "--to-key", "A"],
        "",
    );
    assert!(
        more.stdout.contains("3  Pedalo Blues, in A"),
        "{}",
        more.stdout
    );
    let less = on(&folder, &["set", "sunday", "--drop", "oars-in-three"], "");
    assert!(!less.stdout.contains("Oars"), "{}", less.stdout);
    let list = on(&folder, &["set"], "").stdout;
    assert_eq!(list, "sunday, 2 tunes, by 2026-11-29, in 4 days\n");
    assert_eq!(on(&folder, &["set", "sunday", "--delete"], "").code, 0);
    let gone = on(&folder, &["set", "sunday"], "");
    assert_eq!(gone.code, 1);
    assert!(
        gone.stderr.contains("hint: make one with"),
        "{}",
        gone.stderr
    );
}

#[test]
fn tunes_of_a_set_that_are_gone_are_one_note() {
    let folder = Folder::new();
    let titles = ["Slip", "Quay", "Oar", "Reed", "Weir"];
    let tune = |title: &str| {
        let text = format!("X:1\nT:{title}\nM:4/4\nL:1/4\nK:G\nG A B c|d4|\n");
        folder.write(&format!("{title}.abc"), text)
    };
    let files = titles.map(tune);
    let mut args = vec!["set", "sunday", "pedalo-blues"];
    args.extend(files.iter().map(String::as_str));
    assert_eq!(on(&folder, &args, "").code, 0);
    for file in &files {
        std::fs::remove_file(file).unwrap();
    }
    let data = ["--data-dir", folder.text()];
    for args in [
        &["progress", "--set", "sunday"][..],
        &["warm-up", "--set", "sunday", "--print"],
        &["today", "--set", "sunday", "--list"],
    ] {
        let run = neckline(&[args, &data].concat(), b"");
        let said = run.stderr.as_str();
        assert_eq!((run.code, said.matches("note: ").count()), (0, 1), "{said}");
        let note =
            "note: 5 tunes are left out: Slip, Quay, Oar and 2 more; of the first: cannot read";
        assert!(said.starts_with(note), "{args:?}: {said}");
    }
}

#[test]
fn invalid_tunes_of_a_set_are_errors_and_change_nothing() {
    let folder = Folder::new();
    sunday(&folder);
    let cases: [(&[&str], u8); 7] = [
        (&["set", "sun day", "oars-in-three"], 2),
        (&["set", "sunday", "no-such-tune"], 2),
        (&["set", "sunday", "-"], 2),
        (&["set", "sunday", "--drop", "pedalo-blues"], 1),
        (&["set", "sunday", "--by", "soon"], 2),
        (&["set", "sunday", "--by", "2026-11-24"], 2),
        (&["today", "--set", "monday"], 1),
    ];
    for (args, code) in cases {
        let run = on(&folder, args, "");
        assert_eq!(run.code, code, "{args:?}: {}", run.stderr);
        assert!(run.stderr.contains("error: "), "{args:?}: {}", run.stderr);
    }
    let kept = on(&folder, &["set", "sunday"], "").stdout;
    assert!(
        kept.starts_with("sunday, by 2026-11-29") && kept.contains("2  Oars in Three"),
        "{kept}"
    );
    std::fs::write(folder.path().join("sets.json"), "three tunes").unwrap();
    let damaged = on(&folder, &["set"], "");
    assert!(
        damaged.code == 1 && damaged.stderr.contains("sets.json"),
        "{}",
        damaged.stderr
    );
}

#[test]
fn today_divides_its_minutes_among_the_tunes_of_the_set() {
    let folder = Folder::new();
    sunday(&folder);
    on(
        &folder,
        &["drill", "pedalo-blues", "--questions", "3"],
        "?\n?\n?\n",
    );
    let plan = on(&folder, &["today", "--list", "--minutes", "20"], "").stdout;
    assert!(
        plan.starts_with("sunday, by 2026-11-29, in 4 days\n"),
        "{plan}"
    );
    let minutes = |line: &str| -> Option<u32> {
        let (minutes, what) = line.split_once(" min  ")?;
        (what != "in all").then(|| minutes.trim().parse().unwrap())
    };
    let sum: u32 = plan.lines().filter_map(minutes).sum();
    assert_eq!(sum, 20, "{plan}");
    assert!(plan.contains("\n  20 min  in all\n"), "{plan}");
    for tune in [
        "Lamps along the Jetty: play bars",
        "Oars in Three: play bars",
    ] {
        assert!(plan.contains(tune), "{plan}");
    }
    // The page names what is left out, including a tune that is not in the set.
    assert!(plan.contains("left out: 0 to play again, "), "{plan}");
    let words: Vec<&str> = plan.split_whitespace().collect();
    assert!(
        words
            .join(" ")
            .contains("not in the set: Pedalo Blues, 3 to play again"),
        "{plan}"
    );
    assert!(
        plan.lines().all(|line| line.chars().count() <= 80),
        "{plan}"
    );

    let drilled = on(&folder, &["today", "--minutes", "20"], &"?\n".repeat(400));
    assert_eq!(drilled.code, 0, "{}", drilled.stderr);
    assert!(
        drilled.stdout.contains("\nnow play\n"),
        "{}",
        drilled.stdout
    );
    let page = on(&folder, &["progress", "--set", "sunday"], "").stdout;
    let lines: Vec<&str> = page.lines().collect();
    assert_eq!(lines[0], "sunday, by 2026-11-29, in 4 days");
    assert_eq!(lines[3], "1. Lamps along the Jetty");
    assert!(
        lines[4].starts_with("    0 %    0 %    0 %      0 "),
        "{page}"
    );
    assert!(
        page.contains("weakest: bars 0-4, 0 % known, not played at any tempo yet"),
        "{page}"
    );
    assert!(page.contains("\n    0 %  the whole set\n"), "{page}");
}

#[test]
fn each_player_has_a_history() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let drill = ["drill", &tune, "--questions", "3"];
    on(
        &folder,
        &[&drill[..], &["--player", "ann-2"]].concat(),
        "?\n?\n?\n",
    );
    let reviews = |more: &[&str]| {
        let run = on(&folder, &[&["progress", "--json"], more].concat(), "");
        serde_json::from_str::<Value>(&run.stdout).unwrap()["reviews"].clone()
    };
    assert_eq!(reviews(&["--player", "ann-2"]), 3);
    assert_eq!(reviews(&["--player", "bert"]), 0);
    assert_eq!(reviews(&[]), 0);
    assert!(folder.path().join("players/ann-2/history.sqlite").is_file());
    for name in ["", "../x", "a b", "ä"] {
        let run = on(&folder, &["progress", "--player", name], "");
        assert_eq!(run.code, 2, "{name}");
    }
}
