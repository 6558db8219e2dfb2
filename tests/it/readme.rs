//! Every example in the README and the tour shows the real output.

use std::path::Path;

use expect_test::expect_file;
use tests::{Folder, neckline};

use crate::listen_live::{silence, sound, with_microphone};

/// The words of a command line; double quotes keep spaces together. The built-in tunes' folder is found from here.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (index, piece) in command.split('"').enumerate() {
        if index % 2 == 1 {
            words.push(piece.to_owned());
        } else {
            let here = |word: &str| match word {
                "melodies/" => concat!(env!("CARGO_MANIFEST_DIR"), "/../melodies/").to_owned(),
                word => word.to_owned(),
            };
            words.extend(piece.split_whitespace().map(here));
        }
    }
    words
}

/// The output of an example. Of the shell's language only `printf '…' |` before the command, and `| head -n N` or `|
/// tail -n N` after it are supported.
fn shown(example: &str) -> String {
    let (stdin, command) = match example.strip_prefix("printf '") {
        Some(rest) => rest.split_once("' | ").expect("a pipe after printf"),
        None => ("", example),
    };
    let mut pieces = command.split(" | ");
    let args = words(
        pieces
            .next()
            .and_then(|it| it.strip_prefix("neckline "))
            .expect(example),
    );
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let run = match args.as_slice() {
        ["listen", tune, "--bars", bars, ..] => with_microphone(&args, two_passes(tune, bars)),
        _ => neckline(&args, stdin.replace("\\n", "\n").as_bytes()),
    };
    assert_eq!(run.code, 0, "{example}: {}", run.stderr);
    let lines: Vec<&str> = run.stdout.lines().collect();
    let lines = match pieces.next().map(|it| it.split_at(8)) {
        Some(("head -n ", count)) => &lines[..lines.len().min(count.trim().parse().unwrap())],
        Some(("tail -n ", count)) => {
            &lines[lines.len().saturating_sub(count.trim().parse().unwrap())..]
        }
        _ => &lines[..],
    };
    lines.join("\n")
}

/// What is played to an example that listens: these bars twice, the first time with a C in place of the D of bar 2.
fn two_passes(tune: &str, bars: &str) -> Vec<f32> {
    let folder = Folder::new();
    let file = folder.file("played.abc");
    let run = neckline(&["convert", tune, &file, "--bars", bars], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let right = std::fs::read_to_string(&file).unwrap();
    let wrong = right.replacen("d3 A3 |", "c3 A3 |", 1);
    assert_ne!(right, wrong);
    let mut samples = silence(0.5);
    for text in [&wrong, &right] {
        samples.extend(sound(text, 0.8));
        samples.extend(silence(2.5));
    }
    samples
}

/// The text with the current output of each console example, and the number of examples.
fn with_real_output(text: &str) -> (String, usize) {
    let (mut updated, mut count) = (String::new(), 0);
    for (index, part) in text.split("```").enumerate() {
        if index > 0 {
            updated.push_str("```");
        }
        let Some(block) = part.strip_prefix("console\n").filter(|_| index % 2 == 1) else {
            updated.push_str(part);
            continue;
        };
        updated.push_str("console\n");
        let examples = block.lines().filter_map(|line| line.strip_prefix("$ "));
        let examples: Vec<String> = examples
            .map(|it| format!("$ {it}\n{}\n", shown(it)))
            .collect();
        updated.push_str(&examples.join("\n"));
        count += examples.len();
    }
    (updated, count)
}

/// `UPDATE_EXPECT=1` writes the current output into the text. Read the diff.
fn check(file: &str, at_least: usize) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    let (updated, count) = with_real_output(&text);
    assert!(count >= at_least, "{file} shows {count} examples");
    expect_file![path].assert_eq(&updated);
}

#[test]
fn the_readme_shows_real_output() {
    check("README.md", 3);
}

#[test]
fn the_tour_shows_real_output() {
    check("docs/tour.md", 7);
}
