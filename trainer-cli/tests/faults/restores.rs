//! A history that is replaced under a drill.

use crate::program::{Drill, backup_with, count, run};

/// The title of the tune that each answer belongs to, from the table.
fn titles(folder: &std::path::Path) -> Vec<String> {
    let output = run(folder, &["progress", "--csv"]);
    assert!(output.status.success());
    let table = String::from_utf8(output.stdout).unwrap();
    table
        .lines()
        .skip(1)
        .map(|line| line.split(',').nth(1).unwrap().to_owned())
        .collect()
}

#[test]
fn answers_after_a_restore_belong_to_the_tune_they_were_given_for() {
    let folder = tempfile::tempdir().unwrap();
    let backup = backup_with(
        1,
        folder.path(),
        "backup",
        &["oars-in-three", "--seed", "1"],
    );
    let data = folder.path().join("data");
    let mut drill = Drill::start(&data, &["pedalo-blues", "--seed", "1"]);
    drill.answer();
    let output = run(&data, &["history", "restore", backup.to_str().unwrap()]);
    assert!(output.status.success());
    drill.answer();
    drill.answer();
    drill.take_back();
    assert!(drill.end().status.success());
    assert_eq!(titles(&data), ["Oars in Three", "Pedalo Blues"]);
}

/// As when a player copies files.
#[test]
fn a_file_moved_into_place_by_hand_is_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let backup = backup_with(
        1,
        folder.path(),
        "backup",
        &["oars-in-three", "--seed", "1"],
    );
    let data = folder.path().join("data");
    let mut drill = Drill::start(&data, &["pedalo-blues", "--seed", "1"]);
    drill.answer();
    for ending in ["-wal", "-shm"] {
        let _ = std::fs::remove_file(data.join(format!("history.sqlite{ending}")));
    }
    std::fs::rename(&backup, data.join("history.sqlite")).unwrap();
    drill.answer();
    assert!(drill.end().status.success());
    assert_eq!(titles(&data), ["Oars in Three", "Pedalo Blues"]);
}

#[test]
fn a_history_that_is_deleted_under_a_drill_is_begun_anew() {
    let folder = tempfile::tempdir().unwrap();
    let mut drill = Drill::start(folder.path(), &["--seed", "1"]);
    drill.answer();
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.path().join(format!("history.sqlite{ending}")));
    }
    drill.answer();
    drill.answer();
    assert!(drill.end().status.success());
    assert_eq!(count(folder.path()), 2);
}
