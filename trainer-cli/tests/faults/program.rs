//! The program as a separate process.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Output, Stdio};
use std::time::{Duration, Instant};

use trainer_cli::history::History;

/// A command of the program over the history in a folder.
pub fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_neckline"));
    command.args(args).arg("--data-dir").arg(folder);
    command
}

/// Runs it to its end.
pub fn run(folder: &Path, args: &[&str]) -> Output {
    command(folder, args).output().unwrap()
}

/// A drill that is answered line by line.
pub struct Drill {
    pub process: Child,
    answers: Option<ChildStdin>,
    questions: BufReader<ChildStdout>,
}

impl Drill {
    /// Starts a drill of these questions and waits for the first one.
    pub fn start(folder: &Path, args: &[&str]) -> Drill {
        Drill::of(command(folder, &[&["drill", "--plain"], args].concat()))
    }

    /// Starts a command that drills, and waits for its first question.
    pub fn of(mut command: Command) -> Drill {
        let command = command.stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut process = command.stderr(Stdio::piped()).spawn().unwrap();
        let answers = process.stdin.take();
        let questions = BufReader::new(process.stdout.take().unwrap());
        let mut drill = Drill {
            process,
            answers,
            questions,
        };
        drill.until("1. ");
        drill
    }

    /// Types a line.
    pub fn type_line(&mut self, line: &str) {
        let answers = self.answers.as_mut().unwrap();
        answers.write_all(format!("{line}\n").as_bytes()).unwrap();
        answers.flush().unwrap();
    }

    /// Gives an answer up and waits until it is acknowledged.
    pub fn answer(&mut self) {
        self.type_line("?");
        self.until("finger");
    }

    /// Takes the last answer back and waits until that is acknowledged.
    pub fn take_back(&mut self) {
        self.type_line("u");
        self.until("   taken back");
    }

    /// Reads lines until one begins so.
    pub fn until(&mut self, beginning: &str) {
        let mut line = String::new();
        while !line.starts_with(beginning) {
            line.clear();
            let read = self.questions.read_line(&mut line).unwrap();
            assert!(read > 0, "the drill ended before `{beginning}`");
        }
    }

    /// Ends the session and returns its last output.
    pub fn end(mut self) -> Output {
        drop(self.answers.take());
        // The rest is read, so that a full pipe does not block the program.
        let mut rest = String::new();
        std::io::Read::read_to_string(&mut self.questions, &mut rest).unwrap();
        let mut output = self.process.wait_with_output().unwrap();
        output.stdout = rest.into_bytes();
        output
    }
}

/// Starts a command, kills it after a while, and returns what it wrote until then.
pub fn killed_after(mut command: Command, typed: &'static [u8], wait: Duration) -> Vec<String> {
    let command = command.stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut process = command.stderr(Stdio::null()).spawn().unwrap();
    let mut answers = process.stdin.take().unwrap();
    let questions = BufReader::new(process.stdout.take().unwrap());
    let typing = std::thread::spawn(
        move || {
            while !typed.is_empty() && answers.write_all(typed).is_ok() {}
        },
    );
    // What was written before the kill is read to its end: it has been acknowledged.
    let reading = std::thread::spawn(move || questions.lines().map_while(Result::ok).collect());
    std::thread::sleep(wait);
    // On Unix this is SIGKILL, which no program can put off.
    process.kill().unwrap();
    process.wait().unwrap();
    typing.join().unwrap();
    reading.join().unwrap()
}

/// How many answers the history holds; opening it checks that the file is sound.
pub fn count(folder: &Path) -> u64 {
    History::open(folder).unwrap().count().unwrap()
}

/// The history can be used by every command that reads it.
pub fn assert_usable(folder: &Path, backup: &Path) {
    for args in [
        &["progress"][..],
        &["progress", "--csv"],
        &["history", "backup", "--replace", backup.to_str().unwrap()],
    ] {
        let output = run(folder, args);
        let said = String::from_utf8_lossy(&output.stderr);
        // A history without any contents cannot be copied, and the command reports that.
        let is_none_yet = said.contains("there is no history in");
        assert!(output.status.success() || is_none_yet, "{args:?}: {said}");
    }
}

/// The time that something takes on this machine in this build, to place kills within it.
pub fn time_of(work: impl FnOnce()) -> Duration {
    let begun = Instant::now();
    work();
    begun.elapsed()
}

/// A random moment within a time.
pub fn at_random(within: Duration) -> Duration {
    let micros = u64::try_from(within.as_micros()).unwrap_or(u64::MAX).max(1);
    Duration::from_micros(rand::random::<u64>() % micros)
}

/// A history with some answers in it, as a backup file.
pub fn backup_with(answers: u32, folder: &Path, name: &str, args: &[&str]) -> PathBuf {
    let made = folder.join(format!("{name}-folder"));
    let mut drill = Drill::start(&made, args);
    for _ in 0..answers {
        drill.answer();
    }
    assert!(drill.end().status.success());
    let backup = folder.join(name);
    let output = run(&made, &["history", "backup", backup.to_str().unwrap()]);
    assert!(output.status.success());
    backup
}
