//! Several sessions at once.

use std::time::Duration;

use rusqlite::Connection;

use crate::program::{Drill, count};
use crate::runs;

/// Both ask the same first question of the same tune, since their seeds are the same.
#[test]
fn taking_an_answer_back_leaves_the_answer_of_another_session() {
    let folder = tempfile::tempdir().unwrap();
    let mut one = Drill::start(folder.path(), &["--seed", "5"]);
    let mut other = Drill::start(folder.path(), &["--seed", "5"]);
    one.answer();
    other.answer();
    assert_eq!(count(folder.path()), 2);
    one.take_back();
    assert_eq!(count(folder.path()), 1);
    assert!(one.end().status.success());
    assert!(other.end().status.success());
    let history = Connection::open(folder.path().join("history.sqlite")).unwrap();
    let items: u64 = history
        .query_row("SELECT count(*) FROM item", [], |row| row.get(0))
        .unwrap();
    assert_eq!(items, 1);
}

#[test]
fn counts_match_after_many_sessions_at_once() {
    for drills in [2, 4] {
        let folder = tempfile::tempdir().unwrap();
        let rounds = runs(6).min(100);
        std::thread::scope(|scope| {
            for _ in 0..drills {
                scope.spawn(|| {
                    let mut drill = Drill::start(folder.path(), &["--seed", "5"]);
                    for _ in 0..rounds {
                        drill.answer();
                        drill.answer();
                        drill.take_back();
                    }
                    assert!(drill.end().status.success());
                });
            }
        });
        assert_eq!(count(folder.path()), drills * rounds);
        println!("{drills} drills at once, {rounds} answers kept of each");
    }
}

/// The first answer meets a lock of another program; what waited is written when it is gone.
#[test]
fn an_answer_that_meets_a_lock_is_written_later() {
    let folder = tempfile::tempdir().unwrap();
    let mut drill = Drill::start(folder.path(), &["--seed", "5"]);
    let other = Connection::open(folder.path().join("history.sqlite")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    drill.answer();
    drill.answer();
    other.execute_batch("ROLLBACK").unwrap();
    drill.answer();
    assert_eq!(count(folder.path()), 3);
    let output = drill.end();
    assert!(output.status.success());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(said.contains("not kept yet"), "{said}");
    assert!(said.contains("kept now"), "{said}");
}

#[test]
fn answers_that_could_never_be_written_are_counted_at_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let mut drill = Drill::start(folder.path(), &["--seed", "5"]);
    drill.answer();
    let other = Connection::open(folder.path().join("history.sqlite")).unwrap();
    other.busy_timeout(Duration::from_secs(5)).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    drill.answer();
    drill.answer();
    let output = drill.end();
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("error: 2 answers could not be kept"),
        "{said}"
    );
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(count(folder.path()), 1);
}
