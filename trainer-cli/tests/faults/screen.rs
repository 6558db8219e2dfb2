//! The full screen on a terminal of its own, which `script` makes.

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// A drill on a terminal of this size.
struct OnTerminal {
    script: Child,
    shown: Receiver<Vec<u8>>,
    // Output that has not been searched yet.
    seen: Vec<u8>,
}

impl OnTerminal {
    fn start(folder: &Path, columns: u32, rows: u32) -> OnTerminal {
        let command = format!(
            "stty cols {columns} rows {rows}; echo $$ >{0}/process; exec {1} drill --seed 1 --data-dir {0}",
            folder.display(),
            env!("CARGO_BIN_EXE_neckline"),
        );
        let mut script = Command::new("script")
            .args(["-qfc", &command, "/dev/null"])
            .env("TERM", "xterm-256color")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut output = script.stdout.take().unwrap();
        let (shows, shown) = channel();
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(count) = output.read(&mut bytes)
                && count > 0
                && shows.send(bytes[..count].to_vec()).is_ok()
            {}
        });
        OnTerminal {
            script,
            shown,
            seen: Vec::new(),
        }
    }

    /// Reads on until this is shown.
    fn until(&mut self, wanted: &[u8]) {
        self.until_with(wanted, || ());
    }

    /// Reads on until this is shown, and does something meanwhile.
    fn until_with(&mut self, wanted: &[u8], mut meanwhile: impl FnMut()) {
        for _ in 0..100 {
            let mut parts = self.seen.windows(wanted.len());
            if let Some(at) = parts.position(|part| part == wanted) {
                self.seen.drain(..at + wanted.len());
                return;
            }
            meanwhile();
            // It stops when its child does, now or later.
            signal(&self.script.id().to_string(), "CONT");
            if let Ok(bytes) = self.shown.recv_timeout(Duration::from_millis(200)) {
                self.seen.extend(bytes);
            }
        }
        let (wanted, seen) = (wanted.escape_ascii(), self.seen.escape_ascii());
        panic!("{wanted} is not in {seen}");
    }

    fn key(&mut self, key: u8) {
        let input = self.script.stdin.as_mut().unwrap();
        input.write_all(&[key]).unwrap();
        input.flush().unwrap();
    }
}

impl Drop for OnTerminal {
    fn drop(&mut self) {
        // Only if a check has failed; otherwise it has already ended.
        let _ = self.script.kill();
    }
}

const ENTERED: &[u8] = b"\x1b[?1049h";
const LEFT: &[u8] = b"\x1b[?1049l";
const NO_MOUSE: &[u8] = b"\x1b[?1000l";

fn process_of(folder: &Path) -> String {
    let number = std::fs::read_to_string(folder.join("process")).unwrap();
    number.trim().to_owned()
}

fn signal(process: &str, name: &str) {
    let status = Command::new("kill")
        .args([&format!("-{name}"), process])
        .status();
    assert!(status.unwrap().success());
}

fn is_stopped(process: &str) -> bool {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    stat.rsplit(") ").next().unwrap().starts_with('T')
}

#[test]
fn a_drill_that_is_stopped_gives_the_terminal_back_and_takes_it_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut drill = OnTerminal::start(folder.path(), 90, 30);
    drill.until(ENTERED);
    drill.until(b"answer");
    let process = process_of(folder.path());
    for stop in ["TSTP", "key"] {
        match stop {
            // Ctrl-Z.
            "key" => drill.key(0x1a),
            _ => signal(&process, stop),
        }
        for _ in 0..1000 {
            if is_stopped(&process) {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        assert!(is_stopped(&process));
        drill.until_with(NO_MOUSE, || signal(&process, "CONT"));
        drill.until(LEFT);
        drill.until(ENTERED);
        drill.until(b"answer");
    }
    // It goes on as before, and gives the terminal back when it is asked to end. `script` hands on no key after one that
    // stopped what it runs, so it is not a key that asks.
    signal(&process, "TERM");
    drill.until(LEFT);
    assert!(drill.script.wait().unwrap().success());
}

#[test]
fn a_terminal_that_claims_to_be_endless_is_drawn_on_in_part() {
    let folder = tempfile::tempdir().unwrap();
    let mut drill = OnTerminal::start(folder.path(), 65_535, 65_535);
    drill.until(ENTERED);
    drill.until(b"answer");
    drill.key(b'q');
    drill.until(LEFT);
    assert!(drill.script.wait().unwrap().success());
}
