//! Times the fingering of a million notes and of a 32-bar tune, and tells how much memory that took.
//!
//! `cargo run --release -p tests --example finger_a_million`

use std::time::Instant;

use fretlib::format::abc;
use fretlib::mapping::fingering::{Aim, Limits, Line, Weights, find};
use fretlib::melody::{Draft, Melody, Note};
use tests::editions::player;

/// The reference tunes one after another, at the nearest octave on a guitar, until there are `count` notes.
fn joined(count: usize) -> Melody {
    let mut paths: Vec<_> = std::fs::read_dir(tests::data("abc"))
        .expect("the reference tunes are there")
        .map(|entry| entry.expect("the folder can be listed").path())
        .collect();
    paths.sort();
    let tunes: Vec<Vec<Note>> = paths
        .iter()
        .map(|path| {
            let bytes = std::fs::read(path).expect("the tune can be read");
            let reading =
                abc::read(&bytes, &abc::Options::default()).expect("the tune is readable");
            reading.melody.notes().to_vec()
        })
        .filter(|notes| {
            notes
                .iter()
                .all(|note| (52..=98).contains(&note.pitch.midi()))
        })
        .collect();
    let mut draft = Draft::default();
    for note in tunes.iter().flatten().cycle().take(count) {
        draft
            .note(note.pitch, note.duration)
            .expect("a time on the grid");
    }
    Melody::new(draft).expect("a melody")
}

fn main() {
    let (limits, weights) = (Limits::default(), Weights::default());
    let million = Line::new(&joined(1_000_000), 0, None).expect("as written");
    let begin = Instant::now();
    let found = find(&player(), &million, &weights, &limits, Aim::Least, 1).expect("on the neck");
    let seconds = begin.elapsed().as_secs_f64();
    println!(
        "1,000,000 notes: {seconds:.2} s, {} shifts",
        found[0].shifts().count()
    );

    // 32 bars of eighths are at most 256 notes.
    let tune = Line::new(&joined(200), 0, None).expect("as written");
    let begin = Instant::now();
    const TIMES: u32 = 200;
    for _ in 0..TIMES {
        std::hint::black_box(
            find(&player(), &tune, &weights, &limits, Aim::Least, 1).expect("on the neck"),
        );
    }
    println!(
        "200 notes: {:.3} ms",
        begin.elapsed().as_secs_f64() * 1000.0 / f64::from(TIMES)
    );
    // Only some systems tell a process how much memory it has used at most.
    if let Ok(status) = std::fs::read_to_string("/proc/self/status")
        && let Some(line) = status.lines().find(|line| line.starts_with("VmHWM"))
    {
        println!(
            "memory at most: {}",
            line.trim_start_matches("VmHWM:").trim()
        );
    }
}
