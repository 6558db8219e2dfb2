//! Hostile text in files, names and a foreign history, which must not reach the terminal.

use rusqlite::Connection;
use tests::{Folder, data, neckline};

/// Escape sequences, a changed direction of writing, an invisible letter.
const HOSTILE: &str = "\u{1b}[2J\u{9b}31m\u{202e}gp\u{200b}h\u{feff}";

fn is_clean(text: &str) -> bool {
    text.chars().all(|c| fretlib::is_visible(c) || c == '\n')
}

fn assert_clean(args: &[&str], stdin: &[u8]) {
    let run = neckline(args, stdin);
    assert!(is_clean(&run.stdout), "{args:?}: {:?}", run.stdout);
    assert!(is_clean(&run.stderr), "{args:?}: {:?}", run.stderr);
}

#[test]
fn no_file_or_name_controls_the_terminal() {
    let folder = Folder::new();
    let abc = format!(
        "X:1\nT:Pier {HOSTILE}\nC:{HOSTILE}\nM:3/4\nK:C\nV:{HOSTILE} name=\"{HOSTILE}\"\nCDE|GAB|\n"
    );
    let broken = format!("X:1\nT:{HOSTILE}\nK:C\n\"{HOSTILE}\"C {HOSTILE} D ?x|\n");
    let score = format!(
        "<?xml version='1.0'?><score-partwise><part-list><score-part id='a'><part-name>{HOSTILE}</part-name></score-part>\
         </part-list><part id='a'><measure><{HOSTILE}x/></measure></part></score-partwise>"
    )
    .replace('\u{1b}', "&#x9b;");
    let ron = format!("(title: \"{HOSTILE}\", {HOSTILE}: 1, lines: [(notes: \"{HOSTILE}\")])");
    for text in [&abc, &broken, &score, &ron] {
        for command in ["map", "fingering", "drill"] {
            assert_clean(&[command, "-", "--voice", HOSTILE], text.as_bytes());
            assert_clean(&[command, "-"], text.as_bytes());
        }
        assert_clean(&["tunes", "-"], text.as_bytes());
    }
    let named = folder.write(&format!("tune{HOSTILE}.abc"), &broken);
    for args in [
        &["map", &named][..],
        &["map", HOSTILE],
        &["map", "--instrument", HOSTILE],
        &["map", "--instrument", &named],
        &["map", "--tuning", HOSTILE],
        &["map", "--key", HOSTILE],
        &["fingering", "--settings", &named],
        &["sheet", "-o", HOSTILE],
        &["tunes", "--show", HOSTILE],
        &["history", "restore", &named, "--data-dir", folder.text()],
        &["progress", "--data-dir", &named],
        &[HOSTILE],
        &["map", "--bars", HOSTILE],
        &["--color=always", "map", "--bars", HOSTILE],
    ] {
        let run = neckline(args, b"");
        // clap colours its own errors when colour is requested; other escape sequences are removed.
        let said = run.stderr.replace("\u{1b}[0m", "");
        let said = ["1", "31", "32", "33", "4"]
            .iter()
            .fold(said, |said, style| {
                said.replace(&format!("\u{1b}[{style}m"), "")
            });
        assert!(
            is_clean(&said) && is_clean(&run.stdout),
            "{args:?}: {said:?}"
        );
    }
}

#[test]
fn no_foreign_history_controls_the_terminal() {
    let folder = Folder::new();
    let path = folder.path().join("history.sqlite");
    std::fs::copy(data("history/version-1.sqlite"), &path).unwrap();
    let history = Connection::open(&path).unwrap();
    history
        .execute("UPDATE tune SET title = title || ?1", [HOSTILE])
        .unwrap();
    history
        .execute("UPDATE instrument SET name = name || ?1", [HOSTILE])
        .unwrap();
    let sql =
        "UPDATE review SET question = ?1, answer = ?1, degree = ?1, interval = ?1, is_right = 0";
    history.execute(sql, [HOSTILE]).unwrap();
    drop(history);
    for args in [
        &["progress"][..],
        &["progress", "--csv"],
        &["progress", "--json"],
        &["today", "--list"],
        &["today", "--plain"],
    ] {
        let args = [
            args,
            &["--now", "2026-12-01T18:00", "--data-dir", folder.text()],
        ]
        .concat();
        assert_clean(&args, b"?\n");
    }
    // JSON keeps the title nevertheless.
    let run = neckline(&["progress", "--json", "--data-dir", folder.text()], b"");
    let said: serde_json::Value = serde_json::from_str(&run.stdout).unwrap();
    let titles = said["tunes"].as_array().unwrap().iter();
    assert!(
        titles
            .map(|tune| tune["title"].as_str().unwrap())
            .any(|it| it.ends_with(HOSTILE))
    );
}

#[test]
fn scores_and_pictures_are_well_formed_whatever_the_title() {
    let folder = Folder::new();
    let abc = "X:1\nT:Pier\u{fffe} 9\u{ffff}\u{1}\nM:3/4\nK:C\n\"^up\u{fffe}\"CDE|GAB|\n";
    let tune = folder.write("tune.abc", abc);
    let is_xml = |c: char| {
        // XML 1.0, production 2.
        matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{fffd}' | '\u{10000}'..)
    };
    for (command, name) in [("convert", "tune.musicxml"), ("sheet", "tune.svg")] {
        let file = format!("{}/{name}", folder.text());
        let args = match command {
            "convert" => vec!["convert", &tune, &file],
            _ => vec!["sheet", &tune, "-o", &file, "--parts", "heading,notation"],
        };
        let run = neckline(&args, b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.chars().all(is_xml), "{name}");
    }
}

#[test]
fn existing_files_are_not_overwritten() {
    let folder = Folder::new();
    let there = |name: &str| folder.write(name, "three tunes for Sunday");
    let tune = "oars-in-three";
    let pdf = there("page.pdf");
    let abc = there("tune.abc");
    let wav = there("take.wav");
    // If the second page exists, the first is not written either.
    there("many-2.svg");
    let many = format!("{}/many.svg", folder.text());
    let book = data("abc");
    let book = book.join("northumbrian_36_eba11ca0.abc");
    let long = [
        "lamps-along-the-jetty",
        "-o",
        &many,
        "--student",
        "--with-key",
    ];
    for args in [
        &["sheet", tune, "-o", &pdf][..],
        &[&["sheet"], &long[..]].concat(),
        &["convert", tune, &abc],
        &["play", tune, "-o", &wav],
    ] {
        let run = neckline(args, b"");
        assert_eq!(run.code, 1, "{args:?}: {}", run.stderr);
        assert!(
            run.stderr.contains("already there"),
            "{args:?}: {}",
            run.stderr
        );
        assert!(run.stderr.contains("--replace"), "{args:?}: {}", run.stderr);
    }
    assert!(!folder.path().join("many-1.svg").exists());
    for file in [&pdf, &abc, &wav] {
        assert_eq!(
            std::fs::read_to_string(file).unwrap(),
            "three tunes for Sunday"
        );
    }
    let book = book.to_str().unwrap();
    let run = neckline(&["convert", book, &abc, "--replace"], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(std::fs::read_to_string(&abc).unwrap().starts_with("X:"));
}

#[cfg(unix)]
#[test]
fn a_replaced_file_keeps_its_mode_and_its_links() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = Folder::new();
    let file = folder.write("tune.abc", "");
    let path = folder.path();
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
    let convert = |name: &str| {
        let out = path.join(name);
        neckline(
            &[
                "convert",
                "oars-in-three",
                out.to_str().unwrap(),
                "--format",
                "abc",
                "--replace",
            ],
            b"",
        )
    };
    assert_eq!(convert("tune.abc").code, 0);
    let mode = std::fs::metadata(&file).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode, 0o600);
    // A link still leads to its file.
    symlink(&file, path.join("link.abc")).unwrap();
    assert_eq!(convert("link.abc").code, 0);
    assert!(path.join("link.abc").is_symlink());
    // A dangling link counts as existing.
    symlink(path.join("nowhere.abc"), path.join("dangling.abc")).unwrap();
    let dangling = format!("{}/dangling.abc", folder.text());
    let run = neckline(&["convert", "oars-in-three", &dangling], b"");
    assert_eq!(run.code, 1);
    assert!(run.stderr.contains("already there"), "{}", run.stderr);
    assert!(path.join("dangling.abc").is_symlink());
    // Two names of one file are not separated.
    std::fs::hard_link(&file, path.join("other.abc")).unwrap();
    let run = convert("other.abc");
    assert_eq!(run.code, 1);
    assert!(run.stderr.contains("hard links"), "{}", run.stderr);
}

#[cfg(unix)]
#[test]
fn a_pipe_named_as_a_tune_is_refused_without_waiting() {
    let folder = Folder::new();
    let pipe = folder.path().join("tune.abc");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.unwrap().success());
    for name in [pipe.to_str().unwrap(), "/dev/zero"] {
        for args in [
            &["map", name][..],
            &["tunes", name],
            &["map", "--instrument", name],
            &["fingering", "--settings", name],
            &["transcribe", name],
        ] {
            let run = neckline(args, b"");
            assert_eq!(run.code, 2, "{args:?}: {}", run.stderr);
            assert!(
                run.stderr.contains("it is not a file"),
                "{args:?}: {}",
                run.stderr
            );
        }
    }
}
