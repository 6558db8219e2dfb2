use std::path::PathBuf;

use fretlib::neck::{Instrument, Position};
use fretlib::practice::{Grade, Item, Kind, MemoryModel, Moment, PlacementKey, TuneId};

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
