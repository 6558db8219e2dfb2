//! Kills at any moment.

use std::path::Path;
use std::time::Duration;

use crate::program::{
    Drill, assert_usable, at_random, backup_with, command, count, killed_after, run, time_of,
};
use crate::runs;

fn answers_in(lines: &[String]) -> u64 {
    lines
        .iter()
        .filter(|line| line.starts_with("finger"))
        .count() as u64
}

/// The time until the first question of a first drill.
fn start_of_a_drill() -> Duration {
    let folder = tempfile::tempdir().unwrap();
    let mut drill = None;
    let time = time_of(|| drill = Some(Drill::start(folder.path(), &["--seed", "1"])));
    assert!(drill.unwrap().end().status.success());
    time
}

#[test]
fn the_first_drill_leaves_a_history_that_can_be_used() {
    let runs = runs(20);
    let (mut acknowledged, mut kept) = (0, 0);
    let start = start_of_a_drill();
    for _ in 0..runs {
        let folder = tempfile::tempdir().unwrap();
        let data = folder.path().join("data");
        let drill = command(&data, &["drill", "--plain", "--seed", "1"]);
        let lines = killed_after(drill, b"?\n", at_random(start * 2));
        let answered = answers_in(&lines);
        assert_usable(&data, &folder.path().join("backup"));
        let counted = count(&data);
        assert!(
            (answered..=answered + 1).contains(&counted),
            "{counted} kept of {answered}"
        );
        acknowledged += answered;
        kept += counted;
    }
    println!("first drill: {runs} kills, {acknowledged} answers acknowledged, {kept} kept");
}

#[test]
fn no_acknowledged_answer_is_lost() {
    let runs = runs(8);
    let start = start_of_a_drill();
    let folder = tempfile::tempdir().unwrap();
    let (mut acknowledged, mut kept) = (0, 0);
    for _ in 0..runs {
        let drill = command(folder.path(), &["drill", "--plain", "--seed", "1"]);
        acknowledged += answers_in(&killed_after(drill, b"?\n", at_random(start * 3)));
        kept = count(folder.path());
        assert!(kept >= acknowledged, "{kept} kept of {acknowledged}");
    }
    // Each run may have recorded one answer that it had no time to acknowledge.
    assert!(kept <= acknowledged + runs, "{kept} kept of {acknowledged}");
    println!("mid-answer: {runs} kills, {acknowledged} answers acknowledged, {kept} kept");
}

#[test]
fn an_answer_taken_back_is_gone_or_there() {
    let runs = runs(8);
    let start = start_of_a_drill();
    let folder = tempfile::tempdir().unwrap();
    let mut kept = 0;
    for _ in 0..runs {
        let drill = command(folder.path(), &["drill", "--plain", "--seed", "1"]);
        // Two answers, of which one is taken back: every round leaves one more.
        let lines = killed_after(drill, b"?\n?\nu\n", at_random(start * 3));
        let answered = answers_in(&lines);
        let taken_back = lines
            .iter()
            .filter(|line| line.starts_with("   taken back"))
            .count() as u64;
        let before = kept;
        kept = count(folder.path());
        let acknowledged = before + answered - taken_back;
        // One answer or one that is taken back may not have been acknowledged.
        assert!(
            kept + 1 >= acknowledged && kept <= acknowledged + 1,
            "{kept} kept of {acknowledged}"
        );
    }
    assert_usable(folder.path(), &folder.path().join("backup"));
    println!("undo: {runs} kills, {kept} answers kept");
}

#[test]
fn a_restore_leaves_the_old_history_or_the_new_one() {
    let runs = runs(10);
    let folder = tempfile::tempdir().unwrap();
    let small = backup_with(2, folder.path(), "small", &["--seed", "1"]);
    let large = backup_with(9, folder.path(), "large", &["oars-in-three", "--seed", "2"]);
    let data = folder.path().join("data");
    let mut restore = Duration::ZERO;
    for backup in [&small, &large] {
        restore = time_of(|| {
            let output = run(&data, &["history", "restore", backup.to_str().unwrap()]);
            assert!(output.status.success());
        });
    }
    let mut now = 9;
    for number in 0..runs {
        let (backup, after) = match now {
            9 => (&small, 2),
            _ => (&large, 9),
        };
        let restoring = command(&data, &["history", "restore", backup.to_str().unwrap()]);
        killed_after(restoring, b"", at_random(restore * 5 / 4));
        if number % 4 == 0 {
            assert_usable(&data, &folder.path().join("copy"));
        }
        let found = count(&data);
        assert!(found == now || found == after, "{found} answers");
        now = found;
    }
    println!("restore: {runs} kills");
}

#[test]
fn a_restore_over_a_damaged_history_never_leaves_an_empty_one() {
    let runs = runs(10);
    let folder = tempfile::tempdir().unwrap();
    let backup = backup_with(3, folder.path(), "backup", &["--seed", "1"]);
    let mut restore = Duration::from_millis(60);
    for _ in 0..runs {
        let data = folder.path().join("data");
        let _ = std::fs::remove_dir_all(&data);
        std::fs::create_dir(&data).unwrap();
        let damaged = b"lake water".repeat(1000);
        std::fs::write(data.join("history.sqlite"), &damaged).unwrap();
        let restoring = command(&data, &["history", "restore", backup.to_str().unwrap()]);
        killed_after(restoring, b"", at_random(restore * 5 / 4));
        let there = std::fs::read(data.join("history.sqlite")).unwrap();
        assert!(there == damaged || count(&data) == 3);
        if there != damaged {
            let kept = data.join("history.sqlite.before-1");
            assert_eq!(std::fs::read(kept).unwrap(), damaged);
        }
        // A second try does it.
        restore = time_of(|| {
            let output = run(&data, &["history", "restore", backup.to_str().unwrap()]);
            assert!(output.status.success());
        });
        assert_eq!(count(&data), 3);
    }
    println!("restore over a damaged history: {runs} kills");
}

#[test]
fn a_backup_is_the_old_one_or_the_new_one() {
    let runs = runs(10);
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let mut drill = Drill::start(&data, &["--seed", "1"]);
    drill.answer();
    let backup = folder.path().join("backup");
    let backup_text = backup.to_str().unwrap();
    let args = ["history", "backup", "--replace", backup_text];
    let copying = time_of(|| assert!(run(&data, &args).status.success()));
    let mut copied = 1;
    for all in 2..runs + 2 {
        drill.answer();
        killed_after(command(&data, &args), b"", at_random(copying * 5 / 4));
        let found = answers_of_backup(folder.path(), &backup);
        assert!((copied..=all).contains(&found), "{found} of {all}");
        copied = found;
    }
    assert!(drill.end().status.success());
    // The next backup removes the leftovers of the kills.
    assert!(run(&data, &args).status.success());
    let left: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .filter(|name| name.to_string_lossy().contains(".part"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    println!("backup: {runs} kills");
}

fn answers_of_backup(folder: &Path, backup: &Path) -> u64 {
    let restored = folder.join("restored");
    let _ = std::fs::remove_dir_all(&restored);
    let output = run(&restored, &["history", "restore", backup.to_str().unwrap()]);
    assert!(output.status.success());
    count(&restored)
}
