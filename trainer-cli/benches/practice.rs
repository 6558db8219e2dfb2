//! What a player with a long history waits for. Run with `cargo bench -p trainer-cli --bench practice`.

use std::path::{Path, PathBuf};

use divan::Bencher;
use fretlib::neck::Position;
use fretlib::practice::{
    Grade, Item, Kind, Memory, MemoryModel, Moment, PlacementKey, Schedule, SessionAim, TuneId,
};
use once_cell::sync::Lazy;
use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};
use trainer_cli::history::History;
use trainer_cli::{Streams, run};

fn main() {
    divan::main();
}

const NOW: Moment = Moment {
    seconds: 20_000 * 86_400,
    day: 20_000,
};

/// 200,000 items, three in four of them remembered, half of those due.
fn items() -> Vec<(Item, Option<Memory>)> {
    (0..200_000u32)
        .map(|number| {
            let item = Item {
                tune: TuneId::from_bytes([(number / 4000) as u8; 16]),
                phrase: number % 4000 / 76,
                kind: Kind::Place,
                placement: Position::new((number % 19 + 1) as u8).ok().map(|position| {
                    PlacementKey {
                        position,
                        octave: fretlib::theory::Octave::new((number % 76 / 19) as i8 - 2)
                            .expect("near"),
                    }
                }),
            };
            let days = (number % 60 * 11 % 60) as i32;
            let memory = Memory {
                stability: (number % 60 * 7 % 60) as f32 + 0.5,
                difficulty: 5.0,
                last: Moment {
                    seconds: NOW.seconds - i64::from(days) * 86_400,
                    day: NOW.day - days,
                },
                is_right: true,
            };
            (item, (number % 4 > 0).then_some(memory))
        })
        .collect()
}

/// Choosing among 200,000 items and taking the answer in.
#[divan::bench]
fn next_of_200_000_items(bencher: Bencher) {
    let mut schedule = Schedule::new(items(), MemoryModel::default(), SessionAim::default());
    let mut random = ChaCha8Rng::seed_from_u64(1);
    bencher.bench_local(|| {
        let (index, _) = schedule
            .next(NOW, |count| random.next_u32() as usize % count.max(1))
            .unwrap();
        schedule.answered(index, Grade::Right, NOW)
    });
}

/// A history of a million answers to 20,000 items of fifty tunes, made once and left in the folder for temporary files.
static MILLION: Lazy<PathBuf> = Lazy::new(|| {
    let folder = std::env::temp_dir().join("neckline-bench-million-3");
    if History::open_to_read(&folder).ok().flatten().is_some() {
        return folder;
    }
    let _ = std::fs::remove_dir_all(&folder);
    drop(History::open(&folder).unwrap());
    fill(&folder.join(History::FILE));
    folder
});

/// Writes the answers straight into the tables: a million commits would take an hour.
fn fill(path: &Path) {
    let connection = rusqlite::Connection::open(path).unwrap();
    connection
        .execute_batch(
            "PRAGMA synchronous = OFF; BEGIN;
             INSERT INTO instrument (name, strings, frets, capo) VALUES ('guitar', 'E5 B4 G4 D4 A3 E3', 22, 0);
             WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 49)
             INSERT INTO tune (content, title) SELECT randomblob(16), 'Tune ' || i FROM n;
             INSERT INTO tune_on_instrument (tune, instrument) SELECT id, 1 FROM tune;
             WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 19999)
             INSERT INTO item (tune_on_instrument, phrase, kind, position, octave, stability, difficulty, last_at, last_day)
             SELECT 1 + i / 400, i % 400 / 40, CASE i % 2 WHEN 0 THEN 'place' ELSE 'next' END,
                    1 + i % 40 / 2 % 19, i % 40 / 38, 1 + i % 50, 5.0, 1728000000 - i % 90 * 86400, 20000 - i % 90 FROM n;
             WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 999999)
             INSERT INTO review (item, at, day, note, question, answer, is_right, grade, milliseconds, degree, interval, string)
             SELECT 1 + i * 7919 % 20000, 1728000000 - (1000000 - i) * 60, 20000 - (1000000 - i) / 1440, i % 100,
                    'Where is Eb5?', '3 8', i % 5 > 0, CASE WHEN i % 5 > 0 THEN 3 ELSE 1 END, 1000 + i * 31 % 9000,
                    'b3', '+m3', 1 + i % 6 FROM n;
             COMMIT;",
        )
        .unwrap();
}

fn neckline(args: &[&str], typed: &[u8]) -> Vec<u8> {
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    let folder = MILLION.to_str().unwrap();
    let mut words = vec!["neckline"];
    words.extend(args);
    words.extend(["--data-dir", folder]);
    let mut streams = Streams::captured(typed, &mut stdout, &mut stderr);
    assert_eq!(run(words.into_iter().map(Into::into), &mut streams), 0);
    drop(streams);
    stdout
}

/// `neckline progress` over a million answers.
#[divan::bench(sample_count = 10)]
fn progress_over_a_million_answers(bencher: Bencher) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| neckline(&["progress", "--json"], b""));
}

/// `neckline drill` with that history, until the first question.
#[divan::bench(sample_count = 10)]
fn start_of_drill_with_a_million_answers(bencher: Bencher) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| neckline(&["drill"], b""));
}
