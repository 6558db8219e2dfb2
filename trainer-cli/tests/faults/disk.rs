//! Full disks and folders that cannot be written.

use std::path::Path;

use crate::program::{Drill, count};
#[cfg(unix)]
use crate::program::{command, run};

#[cfg(unix)]
#[test]
fn a_full_disk_is_reported_and_nothing_is_lost_silently() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let mut drill = Drill::start(&data, &["--seed", "1"]);
    drill.answer();
    assert!(drill.end().status.success());
    // No file may grow past 200 blocks of 1 KiB; the signal that would end the program is ignored, as on a full disk.
    let mut limited = std::process::Command::new("sh");
    limited
        .arg("-c")
        .arg("trap '' XFSZ; ulimit -f 200; exec \"$0\" \"$@\"")
        .arg(env!("CARGO_BIN_EXE_neckline"))
        .args(["drill", "--plain", "--seed", "2", "--data-dir"])
        .arg(&data);
    let mut drill = Drill::of(limited);
    const ANSWERS: u64 = 60;
    for _ in 0..ANSWERS {
        drill.answer();
    }
    let output = drill.end();
    let said = String::from_utf8_lossy(&output.stderr);
    let kept = count(&data) - 1;
    assert!(kept < ANSWERS, "the limit was never met");
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("not kept yet"), "{said}");
    let lost = ANSWERS - kept;
    assert!(
        said.contains(&format!("error: {lost} answers could not be kept")),
        "{lost} lost: {said}"
    );
}

/// Makes a folder read-only for a user who is not root.
#[cfg(unix)]
fn close(folder: &Path, is_closed: bool) {
    use std::os::unix::fs::PermissionsExt;
    let (files, own) = if is_closed {
        (0o444, 0o555)
    } else {
        (0o644, 0o755)
    };
    for entry in std::fs::read_dir(folder).unwrap() {
        let mode = std::fs::Permissions::from_mode(files);
        std::fs::set_permissions(entry.unwrap().path(), mode).unwrap();
    }
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(own)).unwrap();
}

/// The command as a user without special rights.
#[cfg(unix)]
fn as_anybody(folder: &Path, args: &[&str]) -> std::process::Output {
    use std::os::unix::fs::MetadataExt;
    use std::os::unix::process::CommandExt;
    let mut command = command(folder, args);
    if std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0) {
        command.uid(65_534).gid(65_534);
    }
    command.env("HOME", "/nonexistent").output().unwrap()
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_can_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    std::fs::set_permissions(folder.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
    let data = folder.path().join("data");
    let mut drill = Drill::start(&data, &["oars-in-three", "--seed", "1"]);
    drill.answer();
    drill.answer();
    let place = folder.path().join("free");
    std::fs::create_dir(&place).unwrap();
    std::fs::set_permissions(&place, std::fs::Permissions::from_mode(0o777)).unwrap();
    let backup = place.join("backup");
    let check = || {
        close(&data, true);
        for args in [
            &["progress"][..],
            &["progress", "--json"],
            &["today", "--list"],
            &["history", "backup", "--replace", backup.to_str().unwrap()],
        ] {
            let output = as_anybody(&data, args);
            let said = String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{args:?}: {said}");
        }
        // A failure to record is reported, and the hint is not to restore.
        let output = as_anybody(&data, &["history", "restore", backup.to_str().unwrap()]);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1));
        assert!(said.contains("cannot be written"), "{said}");
        close(&data, false);
    };
    // While a drill has the file open with its log beside it, and after a clean end.
    check();
    assert!(drill.end().status.success());
    check();
    let restored = run(
        &folder.path().join("back"),
        &["history", "restore", backup.to_str().unwrap()],
    );
    assert!(restored.status.success());
    assert_eq!(count(&folder.path().join("back")), 2);
}

#[cfg(unix)]
#[test]
fn the_history_and_its_copies_are_for_the_player_alone() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let mut drill = Drill::start(&data, &["--seed", "1"]);
    drill.answer();
    let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&data), 0o700);
    for entry in std::fs::read_dir(&data).unwrap() {
        let path = entry.unwrap().path();
        assert_eq!(mode(&path), 0o600, "{}", path.display());
    }
    assert!(drill.end().status.success());
    let backup = folder.path().join("backup");
    let made = run(&data, &["history", "backup", backup.to_str().unwrap()]);
    assert!(made.status.success());
    assert_eq!(mode(&backup), 0o600);
}
