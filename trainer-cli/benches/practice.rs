//! Waiting times of a player with a long history. Run with `cargo bench -p trainer-cli --bench practice`, which also prints how
//! many times as long as its floor `progress` takes, and answers that are counted as answers that are not.

#[path = "../../fretlib/benches/ratio.rs"]
mod ratio;

use std::path::{Path, PathBuf};

use divan::{Bencher, black_box};
use fretlib::format::abc;
use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::Melody;
use fretlib::neck::{Instrument, InstrumentSpec, Position};
use fretlib::practice::{
    Grade, Item, Kind, Memory, MemoryModel, Moment, PlacementKey, PracticeMaterial, Schedule,
    SessionAim, TuneId,
};
use once_cell::sync::Lazy;
use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};
use ratio::ratio;
use trainer_cli::history::History;
use trainer_cli::{Streams, run};

fn main() {
    divan::main();
    for (form, table) in [
        (&["progress"][..], "item"),
        (&["progress", "--json"], "item"),
        (&["progress", "--csv"], "review"),
    ] {
        ratio(
            &format!("{} to SQLite's own walk", form.join(" ")),
            || drop(neckline(form, b"")),
            || {
                black_box(walk_of_sqlite(table));
            },
        );
    }
    let [counted, bare] = ["counted", "bare"].map(small_history);
    let connection = rusqlite::Connection::open(bare.join(History::FILE)).unwrap();
    let without = "DROP TRIGGER answer_added; DROP TRIGGER item_added";
    connection.execute_batch(without).unwrap();
    ratio(
        "twenty answers kept and counted to twenty only kept",
        || twenty_answers(&counted),
        || twenty_answers(&bare),
    );
    for folder in [counted, bare] {
        std::fs::remove_dir_all(folder).unwrap();
    }
}

/// An empty history in the folder for temporary files.
fn small_history(name: &str) -> PathBuf {
    let name = format!("neckline-bench-{name}-{}", std::process::id());
    let folder = std::env::temp_dir().join(name);
    drop(History::open(&folder).unwrap());
    folder
}

/// A short drill, in which each answer waits for the disk.
fn twenty_answers(folder: &Path) {
    let drill = [
        "drill",
        "lamps-along-the-jetty",
        "--plain",
        "--ask-at-once",
        "--kinds=degree",
        "--questions=20",
    ];
    neckline_in(folder, &drill, "1\n".repeat(20).as_bytes());
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

/// Choosing among 200,000 items and recording the answer.
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

/// A history of a million answers to 200,000 items of the 240 reference tunes, made once and left in the folder for
/// temporary files.
static MILLION: Lazy<PathBuf> = Lazy::new(|| {
    let folder = std::env::temp_dir().join("neckline-bench-million-5");
    if History::open_to_read(&folder).ok().flatten().is_some() {
        return folder;
    }
    let _ = std::fs::remove_dir_all(&folder);
    drop(History::open(&folder).unwrap());
    fill(&folder.join(History::FILE)).unwrap();
    folder
});

/// What a player could have been asked of a tune: every phrase in every way wherever the tune lies whole.
fn items_of(melody: &Melody, instrument: &Instrument) -> Vec<Item> {
    let map = NeckMap::new(melody, instrument, OpenStrings::default());
    let placements = map.ranked().into_iter().filter(|it| it.is_whole());
    let placements = placements.map(|it| PlacementKey {
        position: it.position,
        octave: it.octave,
    });
    let key = melody.keys().first().copied().expect("they declare a key");
    let (phrases, instrument) = (melody.phrases(), instrument.clone());
    let material = PracticeMaterial::new(
        melody.clone(),
        key,
        &phrases,
        instrument,
        placements.collect(),
    );
    Item::all(&material, TuneId::of(melody), &Kind::ASKED)
}

/// Writes the answers straight into the tables: a million commits would take an hour.
fn fill(path: &Path) -> rusqlite::Result<()> {
    let connection = rusqlite::Connection::open(path)?;
    connection.execute_batch("PRAGMA synchronous = OFF; PRAGMA cache_size = -400000; BEGIN")?;
    let abc = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/abc");
    let mut files: Vec<PathBuf> = std::fs::read_dir(abc)
        .expect("the reference tunes are there")
        .map(|entry| entry.expect("the folder can be listed").path())
        .collect();
    files.sort();
    // Capos make as many instruments as it takes.
    let mut items = 0u32;
    for capo in 0..8 {
        let guitar = Instrument::default().build().clone();
        let instrument = Instrument::new(InstrumentSpec { capo, ..guitar }).expect("a capo there");
        let strings: Vec<String> = instrument
            .strings()
            .iter()
            .map(ToString::to_string)
            .collect();
        connection.execute(
            "INSERT INTO instrument (name, strings, frets, capo) VALUES ('guitar', ?1, ?2, ?3)",
            (strings.join(" "), instrument.frets(), capo),
        )?;
        let instrument_number = connection.last_insert_rowid();
        for file in &files {
            let bytes = std::fs::read(file).expect("the tune can be read");
            let read = abc::read(&bytes, &abc::AbcOptions::default());
            let melody = read.expect("the reference tunes are readable").melody;
            let request = serde_json::json!({
                "tune": { "source": file.canonicalize().expect("it is there") },
                "instrument": { "capo": capo },
            });
            connection.execute(
                "INSERT INTO tune (content, title) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
                (TuneId::of(&melody).to_bytes(), melody.title()),
            )?;
            connection.execute(
                "INSERT INTO tune_on_instrument (tune, instrument, request)
                 SELECT id, ?2, ?3 FROM tune WHERE content = ?1 ON CONFLICT DO NOTHING",
                (
                    TuneId::of(&melody).to_bytes(),
                    instrument_number,
                    request.to_string(),
                ),
            )?;
            if connection.changes() == 0 {
                continue;
            }
            let known_as = connection.last_insert_rowid();
            let mut insert = connection.prepare_cached(
                "INSERT INTO item (tune_on_instrument, phrase, kind, position, octave, stability, difficulty, last_at, last_day)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, 5.0, ?7, ?8)",
            )?;
            for item in items_of(&melody, &instrument) {
                if items == 200_000 {
                    break;
                }
                items += 1;
                let days = i64::from(items % 90);
                insert.execute((
                    known_as,
                    item.phrase,
                    item.kind.name(),
                    item.placement.map_or(0, |it| it.position.get()),
                    item.placement.map_or(0, |it| it.octave.get()),
                    1 + items % 50,
                    NOW.seconds - days * 86_400,
                    i64::from(NOW.day) - days,
                ))?;
            }
        }
    }
    assert_eq!(items, 200_000, "more instruments are needed");
    connection.execute_batch(
        "WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 999999)
         INSERT INTO review (item, at, day, note, question, answer, is_right, grade, milliseconds, degree, interval, string)
         SELECT 1 + i * 7919 % 200000, 1728000000 - (1000000 - i) * 60, 20000 - (1000000 - i) / 1440, i % 100,
                'Where is Eb5?', '3 8', i % 5 > 0, CASE WHEN i % 5 > 0 THEN 3 ELSE 1 END, 1000 + i * 31 % 9000,
                'b3', '+m3', 1 + i % 6 FROM n;
         INSERT INTO fit (at, reviews, parameters) VALUES (1728000000, 1000000, '');
         COMMIT;",
    )
}

fn neckline(args: &[&str], typed: &[u8]) -> Vec<u8> {
    neckline_in(&MILLION, args, typed)
}

fn neckline_in(folder: &Path, args: &[&str], typed: &[u8]) -> Vec<u8> {
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    let folder = folder.to_str().unwrap();
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
    bencher.bench_local(|| neckline(&["progress"], b""));
}

#[divan::bench(sample_count = 10)]
fn progress_as_json_over_a_million_answers(bencher: Bencher) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| neckline(&["progress", "--json"], b""));
}

#[divan::bench(sample_count = 5)]
fn progress_as_csv_over_a_million_answers(bencher: Bencher) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| neckline(&["progress", "--csv"], b""));
}

/// The floors of `progress`: SQLite's own walks over the tables that it reads.
#[divan::bench(sample_count = 10, args = ["item", "review"])]
fn progress_floor_walk_of_sqlite(bencher: Bencher, table: &str) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| walk_of_sqlite(table));
}

fn walk_of_sqlite(table: &str) -> f64 {
    let columns = match table {
        "item" => {
            "tune_on_instrument + phrase + position + octave + stability + difficulty + last_at + last_day + last_right \
                   + asked + answered_right + median_milliseconds + length(kind)"
        }
        _ => "at + item + note + length(question) + length(answer) + is_right + milliseconds",
    };
    let path = MILLION.join(History::FILE);
    let connection = rusqlite::Connection::open(path).unwrap();
    let sql = format!("SELECT sum({columns}) FROM {table} NOT INDEXED");
    connection.query_row(&sql, [], |row| row.get(0)).unwrap()
}

/// `neckline today --minutes 20` with that history, until the first question.
#[divan::bench(sample_count = 10)]
fn first_question_of_today_with_a_million_answers(bencher: Bencher) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| neckline(&["today", "--minutes", "20"], b""));
}

/// `neckline drill` with that history, until the first question.
#[divan::bench(sample_count = 10)]
fn start_of_drill_with_a_million_answers(bencher: Bencher) {
    Lazy::force(&MILLION);
    bencher.bench_local(|| neckline(&["drill"], b""));
}

/// A folder of a thousand tunes of 32 bars, each a little different, made once.
static SHELF: Lazy<PathBuf> = Lazy::new(|| {
    let folder = std::env::temp_dir().join("neckline-bench-shelf");
    std::fs::create_dir_all(&folder).unwrap();
    for number in 0..1000usize {
        let mut tune = format!("X:1\nT:Tune {number}\nM:4/4\nL:1/8\nQ:1/4=96\nK:G\n");
        for bar in 0..32 {
            for beat in 0..8 {
                let at = (number * 31 + bar * 17 + beat * (5 + number % 3)) % 11;
                tune.push_str(["G", "A", "B", "c", "d", "e", "f", "g", "^c", "D", "E"][at]);
            }
            tune.push_str(if bar % 4 == 3 { " |\n" } else { " | " });
        }
        std::fs::write(folder.join(format!("tune-{number:04}.abc")), tune).unwrap();
    }
    folder
});

/// `neckline shelf` over a thousand tunes.
#[divan::bench(sample_count = 5)]
fn shelf_of_a_thousand_tunes(bencher: Bencher) {
    let folder = SHELF.to_str().unwrap();
    bencher.bench_local(|| {
        let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
        let mut streams = Streams::captured(&b""[..], &mut stdout, &mut stderr);
        let words = ["neckline", "shelf", folder].map(Into::into);
        assert_eq!(run(words.into_iter(), &mut streams), 0);
    });
}
