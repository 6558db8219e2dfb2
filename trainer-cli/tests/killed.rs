//! A drill that is killed at any moment loses no answer it has acknowledged.
//!
//! `KILLED_RUNS=200 cargo test -p trainer-cli --test killed` kills it as often as that.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use trainer_cli::history::History;

/// Starts a drill, answers as fast as it asks, kills it after `wait`, and returns how many answers it acknowledged.
fn acknowledged_before_kill(folder: &Path, wait: Duration) -> u64 {
    let mut drill = Command::new(env!("CARGO_BIN_EXE_neckline"))
        .args(["drill", "--plain", "--seed", "1", "--data-dir"])
        .arg(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut answers = drill.stdin.take().unwrap();
    let questions = BufReader::new(drill.stdout.take().unwrap());
    let typing = std::thread::spawn(move || while answers.write_all(b"?\n").is_ok() {});
    // What was written before the kill is read to its end: it has been acknowledged.
    let reading = std::thread::spawn(move || {
        let lines = questions.lines().map_while(Result::ok);
        lines.filter(|line| line.starts_with("   it is ")).count() as u64
    });
    std::thread::sleep(wait);
    // On Unix this is SIGKILL, which no program can put off.
    drill.kill().unwrap();
    drill.wait().unwrap();
    typing.join().unwrap();
    reading.join().unwrap()
}

#[test]
fn no_acknowledged_answer_is_lost() {
    let runs: u64 = std::env::var("KILLED_RUNS").map_or(8, |runs| runs.parse().unwrap());
    let folder = std::env::temp_dir().join(format!("neckline-killed-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    let mut acknowledged = 0;
    let mut kept = 0;
    for _ in 0..runs {
        let wait = Duration::from_micros(rand::random::<u64>() % 300_000);
        acknowledged += acknowledged_before_kill(&folder, wait);
        // Opening it checks that the file is sound.
        kept = History::open(&folder).unwrap().count().unwrap();
        assert!(kept >= acknowledged, "{kept} kept of {acknowledged}");
    }
    // Each run may have kept one answer that it had no time to acknowledge.
    assert!(kept <= acknowledged + runs, "{kept} kept of {acknowledged}");
    println!("{runs} runs killed: {acknowledged} answers acknowledged, {kept} kept");
    std::fs::remove_dir_all(&folder).unwrap();
}
