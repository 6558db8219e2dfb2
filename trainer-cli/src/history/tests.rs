use std::path::PathBuf;

use fretlib::neck::{Instrument, Position};
use fretlib::practice::{Grade, Item, Kind, MemoryModel, Moment, PlacementKey, TuneId};

use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};

use super::file::open_read_only;
use super::*;
use crate::output::Existing;
use crate::request::{InstrumentRequest, SessionRequest, TuneRequest};

/// A temporary folder for a test, removed when the test ends.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let folder = std::env::temp_dir().join(format!("neckline-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        Folder(folder)
    }

    fn file(&self) -> PathBuf {
        self.0.join(History::FILE)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn on(day: i32) -> Moment {
    Moment {
        seconds: i64::from(day) * 86_400 + 43_200,
        day,
    }
}

fn entry() -> TuneEntry {
    TuneEntry {
        id: TuneId::from_bytes([7; 16]),
        title: "Boat House".into(),
        request: Some(TuneOnInstrument {
            tune: TuneRequest {
                source: Some("boat-house".into()),
                ..TuneRequest::default()
            },
            instrument: InstrumentRequest {
                capo: Some(2),
                ..InstrumentRequest::default()
            },
        }),
    }
}

fn session() -> SessionEntry {
    SessionEntry {
        key: 7,
        at: on(10),
        request: SessionRequest {
            kinds: vec![Kind::Place],
            questions: None,
            is_random: false,
            seed: None,
            mix: fretlib::practice::Interleaving::default(),
            untouched: 12,
            everywhere: false,
            ask_at_once: false,
            plain: true,
            no_history: false,
            now: None,
        },
    }
}

fn review(phrase: u32, position: u8, is_right: bool, day: i32) -> Review {
    Review {
        item: Item {
            tune: entry().id,
            phrase,
            kind: Kind::Place,
            placement: Some(PlacementKey {
                position: Position::new(position).unwrap(),
                octave: fretlib::theory::Octave::WRITTEN,
            }),
        },
        note: 3,
        question: "Where is Eb5?".into(),
        answer: "3 8".into(),
        is_right,
        grade: if is_right { Grade::Right } else { Grade::Wrong },
        seconds: 2.5,
        at: on(day),
        degree: "b3".into(),
        interval: Some("-m2".into()),
        string: Some(3),
    }
}

fn keep(history: &mut History, review: &Review) -> Recorded {
    let practised = Practised {
        tune: &entry(),
        instrument: &Instrument::default(),
        session: &session(),
    };
    history
        .record(practised, review, &MemoryModel::default())
        .unwrap()
}

#[test]
fn an_answer_is_there_when_the_file_is_opened_again() {
    let folder = Folder::new("again");
    let first = review(0, 5, true, 10);
    let kept = keep(&mut History::open(&folder.0).unwrap(), &first);
    let mut history = History::open(&folder.0).unwrap();
    let known_as = history
        .tune_on_instrument(&entry(), &Instrument::default())
        .unwrap();
    let memories = history.memories(known_as, entry().id).unwrap();
    assert_eq!(memories, [(first.item, kept.memory)]);
    assert_eq!(history.count().unwrap(), 1);
    assert_eq!(history.tunes().unwrap(), [(known_as, entry())]);
}

#[test]
fn an_answer_taken_back_leaves_no_trace() {
    let folder = Folder::new("back");
    let mut history = History::open(&folder.0).unwrap();
    let first = keep(&mut history, &review(0, 5, true, 10));
    let slip = keep(&mut history, &review(0, 5, false, 14));
    assert!(slip.memory.stability < first.memory.stability);
    history.take_back(&slip, &MemoryModel::default()).unwrap();
    let known_as = history
        .tune_on_instrument(&entry(), &Instrument::default())
        .unwrap();
    assert_eq!(
        history.memories(known_as, entry().id).unwrap()[0].1,
        first.memory
    );
    history.take_back(&first, &MemoryModel::default()).unwrap();
    assert!(history.memories(known_as, entry().id).unwrap().is_empty());
    assert_eq!(history.count().unwrap(), 0);
}

#[test]
fn another_instrument_is_another_neck() {
    let folder = Folder::new("neck");
    let mut history = History::open(&folder.0).unwrap();
    keep(&mut history, &review(0, 5, true, 10));
    let ukulele = Instrument::built_in("ukulele").unwrap();
    let known_as = history.tune_on_instrument(&entry(), ukulele).unwrap();
    assert!(history.memories(known_as, entry().id).unwrap().is_empty());
}

#[test]
fn one_walk_over_all_items_finds_what_is_remembered_of_each_tune() {
    let folder = Folder::new("walk");
    let mut history = History::open(&folder.0).unwrap();
    let ukulele = Instrument::built_in("ukulele").unwrap();
    let mut record = |instrument: &Instrument, phrase, day| {
        let practised = Practised {
            tune: &entry(),
            instrument,
            session: &session(),
        };
        let review = review(phrase, 5, true, day);
        let model = MemoryModel::default();
        history.record(practised, &review, &model).unwrap();
    };
    record(&Instrument::default(), 0, 10);
    record(ukulele, 1, 12);
    record(&Instrument::default(), 2, 11);
    let remembered = history.remembered_tunes().unwrap();
    let tunes: Vec<_> = remembered
        .iter()
        .map(|it| (it.known_as, it.entry.clone()))
        .collect();
    // The ukulele was played last.
    assert_eq!(tunes, history.tunes().unwrap());
    for tune in &remembered {
        let alone = history.memories(tune.known_as, tune.entry.id).unwrap();
        assert_eq!(tune.memories, alone);
    }
    let counts: Vec<usize> = remembered.iter().map(|it| it.memories.len()).collect();
    assert_eq!(counts, [1, 2]);
}

#[test]
fn two_programs_write_at_once() {
    let folder = Folder::new("two");
    std::thread::scope(|scope| {
        for position in 1..=4 {
            let folder = &folder.0;
            scope.spawn(move || {
                let mut history = History::open(folder).unwrap();
                for day in 0..25 {
                    keep(&mut history, &review(0, position, day % 3 > 0, day));
                }
            });
        }
    });
    assert_eq!(History::open(&folder.0).unwrap().count().unwrap(), 100);
}

#[test]
fn a_file_that_is_not_a_sound_history_is_left_as_it_is() {
    let folder = Folder::new("left");
    let foreign = {
        let connection = Connection::open(folder.file()).unwrap();
        connection
            .execute_batch("CREATE TABLE poem (line TEXT)")
            .unwrap();
        drop(connection);
        std::fs::read(folder.file()).unwrap()
    };
    std::fs::remove_file(folder.file()).unwrap();
    let sound = {
        let mut history = History::open(&folder.0).unwrap();
        for day in 0..60 {
            keep(&mut history, &review(day as u32, 5, true, day));
        }
        let backup = folder.0.join("sound");
        history.back_up(&backup, Existing::Keep).unwrap();
        std::fs::read(backup).unwrap()
    };
    let mut newer = sound.clone();
    newer[60..64].copy_from_slice(&99u32.to_be_bytes()); // the user version in the file header
    let mut damaged = sound.clone();
    for byte in &mut damaged[9000..14000] {
        *byte = 0x5a;
    }
    let cases = [
        (foreign, "not a practice history"),
        (newer, "newer than this program"),
        (damaged, "damaged"),
        (sound[..5000].to_vec(), "damaged"),
        (b"three tunes for Sunday".repeat(200), "damaged"),
    ];
    for (bytes, message) in cases {
        for ending in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(folder.0.join(format!("{}{ending}", History::FILE)));
        }
        std::fs::write(folder.file(), &bytes).unwrap();
        let error = History::open(&folder.0).unwrap_err().to_string();
        assert!(error.contains(message), "{error}");
        assert!(History::open_to_read(&folder.0).is_err());
        assert_eq!(std::fs::read(folder.file()).unwrap(), bytes, "{message}");
    }
}

#[test]
fn a_backup_is_whole_and_can_be_put_back() {
    let folder = Folder::new("backup");
    let backup = folder.0.join("copy.sqlite");
    let mut history = History::open(&folder.0).unwrap();
    for day in 0..5 {
        keep(&mut history, &review(0, 5, true, day));
    }
    history.back_up(&backup, Existing::Keep).unwrap();
    assert!(matches!(
        history.back_up(&backup, Existing::Keep),
        Err(HistoryError::Exists(_))
    ));
    history.back_up(&backup, Existing::Replace).unwrap();
    keep(&mut history, &review(1, 5, true, 6));

    // Another program has the file open all along.
    let kept = History::restore(&folder.0, &backup).unwrap().unwrap();
    assert_eq!(history.count().unwrap(), 5);
    let kept = open_read_only(&kept).unwrap();
    let count: u64 = kept
        .query_row("SELECT count(*) FROM review", [], |row| row.get(0))
        .unwrap();
    assert_eq!(count, 6);

    // Over a damaged history, which is moved aside.
    drop(history);
    std::fs::write(folder.file(), b"lake water").unwrap();
    let kept = History::restore(&folder.0, &backup).unwrap().unwrap();
    assert_eq!(std::fs::read(kept).unwrap(), b"lake water");
    assert_eq!(History::open(&folder.0).unwrap().count().unwrap(), 5);

    // A file that is not a backup changes nothing.
    std::fs::write(&backup, b"lake water").unwrap();
    assert!(History::restore(&folder.0, &backup).is_err());
    assert_eq!(History::open(&folder.0).unwrap().count().unwrap(), 5);
}

#[test]
fn a_wiped_tune_leaves_no_pass_and_a_backup_brings_all_back() {
    let folder = Folder::new("passes");
    let backup = folder.0.join("copy.sqlite");
    let mut history = History::open(&folder.0).unwrap();
    let jetty = entry();
    let pier = TuneEntry {
        id: TuneId::from_bytes([8; 16]),
        title: "Pier".into(),
        ..entry()
    };
    for (tune, percent) in [(&jetty, 60), (&pier, 70), (&jetty, 65)] {
        let pass = PlayedPass {
            phrases: vec![0, 1],
            percent,
            is_right: true,
            judged_by: JudgedBy::Player,
            at: on(10),
        };
        let guitar = Instrument::default();
        history.record_pass(tune, &guitar, &pass).unwrap();
    }
    keep(&mut history, &review(0, 5, true, 10));
    history.back_up(&backup, Existing::Keep).unwrap();
    let passes = |history: &History| -> Vec<(String, u32, u16)> {
        let lines = history.passes().unwrap().into_iter();
        lines
            .map(|line| (line.tune, line.phrase, line.percent))
            .collect()
    };
    let all = passes(&history);
    assert_eq!(all.len(), 6);

    assert_eq!(history.wipe(jetty.id).unwrap(), 1);
    let pier = |phrase| ("Pier".to_string(), phrase, 70);
    assert_eq!(passes(&history), [pier(0), pier(1)]);
    // What another tune takes up later is not counted for the wiped one.
    let orphans: u64 = open_read_only(&folder.file())
        .unwrap()
        .query_row(
            "SELECT count(*) FROM pass WHERE tune_on_instrument NOT IN (SELECT id FROM tune_on_instrument)",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(orphans, 0);

    History::restore(&folder.0, &backup).unwrap();
    let restored = History::open(&folder.0).unwrap();
    assert_eq!(passes(&restored), all);
    assert_eq!(restored.count().unwrap(), 1);
}

#[test]
fn progress_counts_what_was_answered() {
    let folder = Folder::new("progress");
    let mut history = History::open(&folder.0).unwrap();
    for (position, rights) in [(5, 4), (7, 1)] {
        for day in 0..4 {
            keep(&mut history, &review(0, position, day < rights, day));
        }
    }
    let progress = history
        .progress(&MemoryModel::default(), on(9), None)
        .unwrap();
    assert_eq!(progress.reviews, 8);
    let cells = &progress.tunes[0].cells;
    let counts: Vec<_> = cells.iter().map(|cell| (cell.asked, cell.right)).collect();
    assert_eq!(counts, [(4, 4), (4, 1)]);
    assert_eq!(cells[0].median_seconds, 2.5);
    assert!(cells[0].recall > cells[1].recall);
    let days: Vec<_> = progress
        .days
        .iter()
        .map(|day| (day.day, day.asked, day.right))
        .collect();
    assert_eq!(days, [(0, 2, 2), (1, 2, 1), (2, 2, 1), (3, 2, 1)]);
    // A place was asked: the slip counts for the string, not for the note's degree or interval.
    assert_eq!(progress.slips.len(), 1);
    assert_eq!(progress.slips[0].by, SlipBy::String);
    assert_eq!((progress.slips[0].asked, progress.slips[0].wrong), (8, 3));
    let grid = progress.tunes[0].grid(&Default::default());
    let weakest = grid
        .iter()
        .min_by(|(_, one), (_, other)| one.total_cmp(other));
    let ((_, placement), _) = weakest.unwrap();
    assert_eq!(placement.unwrap().position.get(), 7);
}

/// What is counted of the answers, worked out from all of them.
#[derive(Debug, Default, Eq, PartialEq)]
struct Counts {
    /// How often each item was asked and answered right, and the median time in milliseconds.
    items: BTreeMap<i64, (usize, usize, i64)>,
    /// How often was asked and answered right on each day.
    days: BTreeMap<i32, (u32, u32)>,
}

impl Counts {
    fn of_all_answers(connection: &Connection) -> Counts {
        let sql = "SELECT item, day, is_right, milliseconds FROM review";
        let mut statement = connection.prepare(sql).unwrap();
        let mut rows = statement.query([]).unwrap();
        let mut counts = Counts::default();
        let mut answers: BTreeMap<i64, Vec<(i64, bool)>> = BTreeMap::new();
        while let Some(row) = rows.next().unwrap() {
            let is_right: bool = row.get(2).unwrap();
            let answer = (row.get(3).unwrap(), is_right);
            answers.entry(row.get(0).unwrap()).or_default().push(answer);
            let (asked, right) = counts.days.entry(row.get(1).unwrap()).or_default();
            *asked += 1;
            *right += u32::from(is_right);
        }
        for (item, mut answers) in answers {
            answers.sort_unstable();
            let right = answers.iter().filter(|(_, is_right)| *is_right).count();
            let (median, _) = answers[answers.len() / 2];
            counts.items.insert(item, (answers.len(), right, median));
        }
        counts
    }

    fn stored(connection: &Connection) -> Counts {
        let sql = "SELECT id, asked, answered_right, median_milliseconds FROM item";
        let mut statement = connection.prepare(sql).unwrap();
        let items = statement.query_map([], |row| {
            Ok((row.get(0)?, (row.get(1)?, row.get(2)?, row.get(3)?)))
        });
        let sql = "SELECT day, asked, answered_right FROM day";
        let mut statement = connection.prepare(sql).unwrap();
        let days = statement.query_map([], |row| Ok((row.get(0)?, (row.get(1)?, row.get(2)?))));
        Counts {
            items: items.unwrap().map(Result::unwrap).collect(),
            days: days.unwrap().map(Result::unwrap).collect(),
        }
    }
}

#[test]
fn what_is_counted_follows_every_change_of_the_answers() {
    let folder = Folder::new("counts");
    let backup = folder.0.join("copy.sqlite");
    let mut history = History::open(&folder.0).unwrap();
    // Another tool does not know the program's ways.
    let tool = Connection::open(folder.file()).unwrap();
    tool.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    let model = MemoryModel::default();
    let mut random = ChaCha8Rng::seed_from_u64(18);
    let mut below = |end: u32| random.next_u32() % end;
    for step in 0..400 {
        match below(12) {
            0 => {
                let recorded = keep(&mut history, &review(below(4), 5, false, step / 9));
                history.take_back(&recorded, &model).unwrap();
            }
            1 if step % 10 == 7 => drop(history.wipe(entry().id).unwrap()),
            2 if step % 9 == 0 => history.back_up(&backup, Existing::Replace).unwrap(),
            3 if backup.exists() && step % 7 == 0 => {
                History::restore(&folder.0, &backup).unwrap();
            }
            4 => drop(history.refit(on(step)).unwrap()),
            way @ 5..=9 if step % 3 == 0 => {
                let sql = match way {
                    5 => {
                        "UPDATE review SET milliseconds = milliseconds + 900, is_right = 1 - is_right WHERE id % 5 = ?1"
                    }
                    6 => {
                        "UPDATE review SET day = day + 1, item = (SELECT min(id) FROM item) WHERE id % 7 = ?1"
                    }
                    7 => "DELETE FROM review WHERE id % 11 = ?1",
                    8 => {
                        "UPDATE OR REPLACE review SET question = 'Where?', day = day - 1 WHERE id % 3 = ?1"
                    }
                    _ => {
                        "REPLACE INTO item (id, tune_on_instrument, phrase, kind, position, octave,
                             stability, difficulty, last_at, last_day)
                          SELECT id, tune_on_instrument, phrase, kind, position, octave,
                             stability, difficulty, last_at, last_day FROM item WHERE id % 3 = ?1"
                    }
                };
                tool.execute(sql, [below(3)]).unwrap();
            }
            _ => {
                let (phrase, position) = (below(4), 5 + below(3) as u8);
                let mut review = review(phrase, position, below(3) > 0, step / 9);
                review.seconds = f64::from(below(9000)) / 1000.0;
                keep(&mut history, &review);
            }
        }
        let (stored, mut counted) = (Counts::stored(&tool), Counts::of_all_answers(&tool));
        for item in stored.items.keys() {
            // One whose answers another tool removed.
            counted.items.entry(*item).or_default();
        }
        assert_eq!(stored, counted, "step {step}");
    }
    assert!(history.count().unwrap() > 50);
}

#[test]
fn progress_counts_anew_what_was_changed_without_a_trigger() {
    let folder = Folder::new("anew");
    let mut history = History::open(&folder.0).unwrap();
    for day in 0..6 {
        keep(&mut history, &review(day as u32 % 2, 5, day < 4, day));
    }
    let progress = |history: &History| {
        let model = MemoryModel::default();
        history.progress(&model, on(9), None).unwrap()
    };
    // A replaced row is not deleted in the eyes of a trigger.
    let replace = "REPLACE INTO review (id, item, at, day, note, question, answer, is_right, grade, milliseconds, degree)
                   SELECT id, item, at, day + 20, note, question, answer, 1, 3, 700, degree FROM review WHERE id = 6";
    let only_read = {
        let folder = Folder::new("anew-read");
        history.back_up(&folder.file(), Existing::Keep).unwrap();
        let tool = Connection::open(folder.file()).unwrap();
        tool.execute(replace, []).unwrap();
        drop(tool);
        let history = History {
            connection: open_read_only(&folder.file()).unwrap(),
            path: folder.file(),
            identity: history.identity,
        };
        let seen = progress(&history);
        assert_ne!(
            Counts::stored(&history.connection),
            Counts::of_all_answers(&history.connection)
        );
        seen
    };
    let tool = Connection::open(folder.file()).unwrap();
    tool.execute(replace, []).unwrap();
    let seen = progress(&history);
    assert_eq!(seen, only_read);
    assert_eq!(Counts::stored(&tool), Counts::of_all_answers(&tool));
    assert_eq!(seen.reviews, 6);
    let days: Vec<_> = seen.days.iter().map(|day| (day.day, day.right)).collect();
    assert_eq!(days, [(0, 1), (1, 1), (2, 1), (3, 1), (4, 0), (25, 1)]);

    let without = "DROP TRIGGER item_counted; DROP TRIGGER answer_added; DROP TRIGGER item_added";
    tool.execute_batch(without).unwrap();
    keep(&mut history, &review(2, 7, true, 8));
    assert_eq!(progress(&history).reviews, 7);
    keep(&mut history, &review(3, 7, true, 8));
    assert_eq!(Counts::stored(&tool), Counts::of_all_answers(&tool));
}

#[test]
fn an_older_history_is_counted_when_it_is_opened() {
    let folder = Folder::new("older");
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/history/version-1.sqlite");
    std::fs::copy(data, folder.file()).unwrap();
    let answers = |connection: &Connection| -> u64 {
        let sql = "SELECT count(*) FROM review";
        connection.query_row(sql, [], |row| row.get(0)).unwrap()
    };
    let before = answers(&open_read_only(&folder.file()).unwrap());
    let history = History::open(&folder.0).unwrap();
    assert_eq!(answers(&history.connection), before);
    let stored = Counts::stored(&history.connection);
    assert_eq!(stored, Counts::of_all_answers(&history.connection));
    assert!(stored.items.len() > 10);
}

#[test]
fn the_model_is_fitted_once_there_are_enough_answers() {
    let folder = Folder::new("fit");
    let mut history = History::open(&folder.0).unwrap();
    for day in 0..8 {
        for phrase in 0..52 {
            let is_right = (day * 7 + phrase as i32) % 3 > 0;
            keep(&mut history, &review(phrase, 5, is_right, day * 3));
        }
    }
    assert!(history.model().unwrap().parameters().is_empty());
    assert!(history.is_fit_due().unwrap());
    assert_eq!(history.refit(on(40)).unwrap(), Some(416));
    assert!(!history.is_fit_due().unwrap());
    assert_eq!(history.model().unwrap().parameters().len(), 21);
}

#[test]
fn a_folder_that_cannot_be_written_is_an_error_not_a_panic() {
    let folder = Folder::new("unwritable");
    let file = folder.0.join("file");
    std::fs::write(&file, b"").unwrap();
    assert!(matches!(
        History::open(&file),
        Err(HistoryError::File { .. })
    ));
}
