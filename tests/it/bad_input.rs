//! Error messages: never a panic, always what is wrong, where, and what to do.

use tests::{Folder, data, neckline};

/// The exit code, and words that standard error must contain, in order.
fn check(args: &[&str], stdin: &[u8], code: u8, words: &[&str]) {
    let run = neckline(args, stdin);
    assert_eq!(run.code, code, "{args:?}: {}", run.stderr);
    assert_eq!(run.stdout, "", "{args:?}");
    let mut rest = run.stderr.as_str();
    for word in words {
        let at = rest
            .find(word)
            .unwrap_or_else(|| panic!("{args:?}: `{word}` is not in {}", run.stderr));
        rest = &rest[at + word.len()..];
    }
}

#[test]
fn files_that_are_not_tunes() {
    let folder = Folder::new();
    check(
        &["map", "no-such-tune.abc"],
        b"",
        2,
        &[
            "error: cannot read `no-such-tune.abc`",
            "no such file",
            "hint:",
        ],
    );
    check(&["map", "-"], b"", 2, &["`-` is empty", "hint:"]);
    check(
        &["map", &folder.write("empty.abc", b" \n")],
        b"",
        2,
        &["is empty"],
    );
    check(
        &[
            "map",
            &folder.write("binary", [0u8, 159, 146, 150, 255, 0, 1, 2]),
        ],
        b"",
        2,
        &["in no format that can be read", "hint:"],
    );
    check(
        &["map", std::env::temp_dir().to_str().unwrap()],
        b"",
        2,
        &["it is a folder"],
    );
}

#[test]
fn a_typing_slip_is_shown_where_it_is() {
    let folder = Folder::new();
    let tune = "(\n    title: \"Gulls over Breakfast\",\n    key: \"G major\",\n    meter: \"3/4\",\n    lines: [\n        (notes: \"D4 q G A | B h\"),\n        (notes: \"G4 q X4 B\"),\n    ],\n)\n";
    let name = folder.write("slips.ron", tune.as_bytes());
    // Both diagnostics of the file at once, each with its line and a caret.
    check(
        &["map", &name],
        b"",
        2,
        &[
            "slips.ron:6:29:",
            "too short",
            "(notes: \"D4 q G A | B h\"),",
            "^",
            "slips.ron:7:",
            "`X4`",
            "^",
        ],
    );
    let unknown = tune.replace("key:", "keys:");
    check(
        &["map", "-"],
        unknown.as_bytes(),
        2,
        &["error: -:3:", "keys"],
    );
}

#[test]
fn tunes_that_do_not_fit() {
    let wide = b"X:1\nK:C\nC,,, c'''\n";
    check(
        &["map", "-"],
        wide,
        1,
        &["semitones", "too many", "hint:", "--bars"],
    );
    let tune = data("abc").join("oneills1850_208_651739d7.abc");
    let tune = tune.to_str().unwrap();
    check(
        &["map", tune, "--frets", "3", "--tuning", "E4"],
        b"",
        1,
        &["too many", "hint:"],
    );
    check(
        &["map", tune, "--octave", "+7"],
        b"",
        1,
        &["leaves the neck", "hint: octaves"],
    );
    check(
        &["map", tune, "--bars", "900-901"],
        b"",
        2,
        &["no note begins in bars 900-901", "the tune has bars 0 to"],
    );
    check(
        &["map", tune, "--position", "XX"],
        b"",
        2,
        &["no such position", "I to XIX"],
    );
    check(
        &["map", tune, "--to-key", "Fb"],
        b"",
        2,
        &["key signature -8", "hint:"],
    );
}

#[test]
fn impossible_instruments() {
    for (args, words) in [
        (["--tuning", "E A D H B E"], "H"),
        (["--tuning", "C9"], "tuning"),
        (["--tuning", ""], "tuning"),
        (["--frets", "99"], "99"),
        (["--capo", "22"], "capo"),
        (["--instrument", "ukelele"], "did you mean `ukulele`"),
    ] {
        check(
            &[
                "map",
                data("abc")
                    .join("oneills1850_208_651739d7.abc")
                    .to_str()
                    .unwrap(),
                args[0],
                args[1],
            ],
            b"",
            2,
            &[words],
        );
    }
}

#[test]
fn wrong_usage() {
    check(
        &["map", "--bars", "8-1"],
        b"",
        2,
        &["ends before it begins"],
    );
    check(
        &["map", "--key", "H minor"],
        b"",
        2,
        &["cannot be read", "hint:"],
    );
    check(&["mpa"], b"", 2, &["mpa"]);
    check(
        &["map", "--transpose", "up"],
        b"",
        2,
        &["an interval such as"],
    );
}

#[test]
fn a_tune_of_a_hundred_thousand_notes_works() {
    let bars: String = (0..25_000)
        .map(|bar| if bar % 2 == 0 { "CEGc|" } else { "dBGE|\n" })
        .collect();
    let tune = format!("X:1\nL:1/4\nM:4/4\nK:C\n{bars}\n");
    let run = neckline(&["map", "-", "--positions", "V", "--json"], tune.as_bytes());
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(run.stdout.contains("\"number\":100000,"));
}

#[test]
fn titles_cannot_steer_the_terminal() {
    let run = neckline(
        &["map", "-"],
        b"X:1\nT:Harbour \x1b[2J\x07Lights\nK:C\nCDEF|\n",
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stdout.starts_with("Harbour [2JLights\n"),
        "{}",
        run.stdout
    );
    assert!(!run.stdout.contains('\u{1b}') && !run.stderr.contains('\u{1b}'));
}

#[test]
fn a_closed_pipe_is_success() {
    struct Closed;
    impl std::io::Write for Closed {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }
    }
    let mut stderr = Vec::new();
    let mut streams = trainer_cli::Streams::captured(&b""[..], Closed, &mut stderr);
    let args = ["neckline", "instruments"].map(Into::into);
    assert_eq!(trainer_cli::run(args, &mut streams), 0);
    drop(streams);
    assert!(stderr.is_empty());
}

#[test]
fn endless_pages_are_refused() {
    let tune = |bars: usize| format!("X:1\nL:1/4\nM:4/4\nK:C\n{}\n", "CDEF|".repeat(bars));
    let long = tune(5001);
    check(
        &["map", "-"],
        long.as_bytes(),
        1,
        &["20004 notes", "at most 20000", "hint:", "--bars", "--json"],
    );
    let run = neckline(&["map", "-", "--bars", "1-5000"], long.as_bytes());
    assert_eq!(run.code, 0, "{}", run.stderr);
    let folder = Folder::new();
    let page = format!("{}/page.svg", folder.text());
    check(
        &["sheet", "-", "-o", &page],
        tune(2001).as_bytes(),
        1,
        &["2001 bars", "at most 2000", "hint:", "--bars"],
    );
    // A single bar, since the tune has no bar lines.
    let endless = format!("X:1\nL:1/4\nM:none\nK:C\n{}\n", "CDEF".repeat(5001));
    check(
        &["sheet", "-", "-o", &page],
        endless.as_bytes(),
        1,
        &["20004 notes", "at most 20000"],
    );
    let bars = ["--bars", "1-16", "--parts", "notation"];
    let run = neckline(
        &[&["sheet", "-", "-o", &page], &bars[..]].concat(),
        tune(2001).as_bytes(),
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
}
