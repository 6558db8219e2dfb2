//! Questions by ear through the whole program: what is played is kept, listened to, and answered.

use std::cell::RefCell;
use std::io::{BufReader, Read};
use std::rc::Rc;
use std::sync::Arc;

use fretlib::hearing::{Heard, RecordingRate};
use fretlib::sound::{Performance, SampleRate};
use tests::{Folder, Run, neckline};
use trainer_cli::{SoundOutput, Streams};

use crate::drill::JETTY;

type Played = Rc<RefCell<Vec<Arc<Performance>>>>;

/// A loudspeaker that keeps what it is given.
struct Kept(Played);

impl SoundOutput for Kept {
    fn open(&mut self) -> Result<(), String> {
        Ok(())
    }

    fn play(&mut self, performance: Arc<Performance>) {
        self.0.borrow_mut().push(performance);
    }

    fn stop(&mut self) {}
}

/// Someone at the keyboard who types what `answer` makes of the sound heard last.
struct Player<F> {
    played: Played,
    answer: F,
    typed: Vec<u8>,
}

impl<F: FnMut(&[u8]) -> String> Read for Player<F> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.typed.is_empty() {
            let played = self.played.borrow();
            let heard = played.last().map_or_else(Vec::new, |it| pitches(it));
            self.typed = format!("{}\n", (self.answer)(&heard)).into_bytes();
        }
        let length = self.typed.len().min(buffer.len());
        buffer[..length].copy_from_slice(&self.typed[..length]);
        self.typed.drain(..length);
        Ok(length)
    }
}

/// The MIDI numbers of the notes struck, as they are found in the samples.
fn pitches(performance: &Performance) -> Vec<u8> {
    let rate = SampleRate::CD;
    let samples = performance.samples(rate);
    let heard = Heard::whole(&samples, RecordingRate::new(rate.hertz()).unwrap());
    let notes = heard.struck_notes().into_iter();
    notes.map(|note| note.pitch.get()).collect()
}

/// Runs the program with ears and fingers; also says how much was played.
fn with_ears(args: &[&str], answer: impl FnMut(&[u8]) -> String) -> (Run, usize) {
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    let played = Played::default();
    let player = Player {
        played: played.clone(),
        answer,
        typed: Vec::new(),
    };
    let mut streams = Streams::captured(BufReader::new(player), &mut stdout, &mut stderr);
    streams.sound = Box::new(Kept(played.clone()));
    let args = std::iter::once("neckline").chain(args.iter().copied());
    let code = trainer_cli::run(args.map(Into::into), &mut streams);
    drop(streams);
    let run = Run {
        code,
        stdout: String::from_utf8_lossy(&stdout).into_owned(),
        stderr: String::from_utf8_lossy(&stderr).into_owned(),
    };
    let count = played.borrow().len();
    (run, count)
}

/// Names of intervals by their semitones. Common practice, no source.
const INTERVALS: [&str; 13] = [
    "P1", "m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7", "P8",
];

fn interval_of(heard: &[u8]) -> String {
    let &[from, to] = heard else {
        panic!("an interval has two notes, not {heard:?}");
    };
    let name = INTERVALS[usize::from(from.abs_diff(to))];
    match to.cmp(&from) {
        std::cmp::Ordering::Less => format!("{name} down"),
        std::cmp::Ordering::Equal => name.to_owned(),
        std::cmp::Ordering::Greater => format!("{name} up"),
    }
}

#[test]
fn whoever_names_the_interval_that_was_heard_is_right() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let args = [
        "drill",
        &tune,
        "--kinds",
        "interval-by-ear",
        "--seed",
        "1",
        "--questions",
        "12",
        "--positions",
        "V",
        "--data-dir",
        folder.text(),
    ];
    let (run, played) = with_ears(&args, interval_of);
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    assert!(run.stdout.contains("\n12 of 12 right"), "{}", run.stdout);
    // Each question, and its answer.
    assert_eq!(played, 24);
    let page = neckline(&["progress", "--data-dir", folder.text()], b"");
    assert!(page.stdout.contains("scale,by-ear"), "{}", page.stdout);
    let progress = neckline(&["progress", "--json", "--data-dir", folder.text()], b"");
    assert!(
        progress.stdout.contains("\"kind\":\"interval-by-ear\""),
        "{}",
        progress.stdout
    );
}

#[test]
fn a_question_is_played_again_when_it_is_asked_for() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let args = [
        "drill",
        &tune,
        "--kinds",
        "degree-by-ear",
        "--seed",
        "1",
        "--questions",
        "1",
        "--no-history",
    ];
    let mut typed = ["r", "r", "?"].into_iter();
    let (run, played) = with_ears(&args, |_| typed.next().unwrap().to_owned());
    assert_eq!(run.code, 0);
    assert!(
        run.stdout.contains("r plays a question again"),
        "{}",
        run.stdout
    );
    // The question, twice again, and the answer.
    assert_eq!(played, 4);
}

#[test]
fn without_sound_nothing_is_asked_by_ear() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let drill = |kinds: &[&str]| {
        let mut args = vec!["drill", &tune, "--positions", "V", "--no-history"];
        args.extend(["--questions", "3"]);
        args.extend(kinds);
        neckline(&args, b"?\n?\n?\n")
    };
    let run = drill(&["--kinds", "by-ear"]);
    assert_eq!(run.code, 1);
    assert_eq!(
        run.stderr,
        "error: nothing can be asked by ear: there is no loudspeaker\n\n\
         hint: ask for other kinds with `--kinds`\n"
    );
    let run = drill(&["--kinds", "place,by-ear"]);
    assert_eq!(run.code, 0);
    assert_eq!(
        run.stderr,
        "note: questions by ear are left out: there is no loudspeaker\n"
    );
    assert!(!run.stdout.contains("by ear"), "{}", run.stdout);
    // From a pipe nobody expects to hear something unless it was asked for.
    let run = drill(&[]);
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let run = drill(&["--kinds", "by-ear", "--no-sound"]);
    assert_eq!(run.code, 2);
}
