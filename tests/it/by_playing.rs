//! Questions answered on the instrument: what is played comes from a list of samples instead of a microphone.

use std::cell::RefCell;
use std::io::Write;
use std::rc::Rc;
use std::time::Duration;

use fretlib::hearing::RecordingRate;
use fretlib::melody::{Draft, Melody, Quarters};
use fretlib::neck::Instrument;
use fretlib::sound::{Layer, Manner, Renderer, SampleRate, play_through};
use fretlib::theory::Octave;
use tests::{Folder, Run, neckline};
use trainer_cli::{SoundInput, Streams};

const RATE: u32 = 48_000;

/// Every note of it is in the open position, and no two questions about a place have the same answer.
const SLIP: &str = "X:1\nT:Slip\nM:4/4\nL:1/4\nK:G\nG A B c|d4|\n";

/// The tune is whole in the first position as written and an octave lower.
const NAMES: [[&str; 5]; 2] = [
    ["G4", "A4", "B4", "C5", "D5"],
    ["G3", "A3", "B3", "C4", "D4"],
];

/// What is printed, for the player to read.
#[derive(Clone, Default)]
struct Page(Rc<RefCell<Vec<u8>>>);

impl Write for Page {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.borrow_mut().write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl Page {
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.0.borrow()).into_owned()
    }

    /// The octave and the note asked for last.
    fn asked(&self) -> (usize, usize) {
        let text = self.text();
        let heading = text
            .lines()
            .rfind(|line| line.contains("position I"))
            .unwrap();
        let octave = usize::from(heading.contains("an octave lower"));
        let question = text
            .lines()
            .rfind(|line| line.contains("Where is"))
            .unwrap();
        let is_asked = |name: &&str| question.contains(&format!("is {}?", &name[..1]));
        let note = NAMES[octave].iter().position(is_asked);
        (octave, note.unwrap())
    }
}

/// A player who answers each question after a moment, the second one in the wrong octave.
struct Player {
    page: Page,
    answers: usize,
    samples: Vec<f32>,
    open: Rc<RefCell<bool>>,
}

impl SoundInput for Player {
    fn open(&mut self) -> Result<RecordingRate, String> {
        *self.open.borrow_mut() = true;
        Ok(RecordingRate::new(RATE).unwrap())
    }

    fn next(&mut self, _: Duration) -> Result<Option<Vec<f32>>, String> {
        if self.samples.is_empty() {
            let (octave, note) = self.page.asked();
            self.answers += 1;
            let octave = if self.answers == 2 {
                1 - octave
            } else {
                octave
            };
            self.samples = vec![0.0; RATE as usize / 2];
            self.samples.extend(sound_of(NAMES[octave][note]));
        }
        let rest = self.samples.split_off(self.samples.len().min(480));
        Ok(Some(std::mem::replace(&mut self.samples, rest)))
    }

    fn close(&mut self) {
        *self.open.borrow_mut() = false;
    }
}

/// A plucked note of two thirds of a second.
fn sound_of(note: &str) -> Vec<f32> {
    let mut draft = Draft::default();
    draft.note(note.parse().unwrap(), Quarters::ONE).unwrap();
    let melody = Melody::new(draft).unwrap();
    let guitar = Instrument::default();
    let manner = Manner {
        speed: 0.75,
        ..Manner::default()
    };
    let played = play_through(&melody, &[None], Octave::WRITTEN, &guitar, &manner).unwrap();
    let rate = SampleRate::new(RATE).unwrap();
    let mut renderer = Renderer::new(rate);
    renderer.silence(Layer::Click);
    renderer.silence(Layer::Chords);
    renderer.then(played.performance);
    let mut samples = vec![0.0; 2 * RATE as usize / 3];
    renderer.render(&mut samples);
    samples
}

/// Runs the program with the player; also says whether the microphone is open at the end.
fn with_player(args: &[&str]) -> (Run, bool) {
    let (page, mut stderr) = (Page::default(), Vec::new());
    let open = Rc::new(RefCell::new(false));
    let mut streams = Streams::captured(&b""[..], page.clone(), &mut stderr);
    streams.microphone = Box::new(Player {
        page: page.clone(),
        answers: 0,
        samples: Vec::new(),
        open: open.clone(),
    });
    let args = std::iter::once("neckline").chain(args.iter().copied());
    let code = trainer_cli::run(args.map(Into::into), &mut streams);
    drop(streams);
    let run = Run {
        code,
        stdout: page.text(),
        stderr: String::from_utf8_lossy(&stderr).into_owned(),
    };
    let is_open = *open.borrow();
    (run, is_open)
}

#[test]
fn a_place_is_answered_by_its_pitch() {
    let folder = Folder::new();
    let tune = folder.write("slip.abc", SLIP);
    let args = ["drill", &tune, "--by", "playing", "--kinds", "place"];
    let rest = ["--positions", "I", "--questions", "3", "--seed", "4"];
    let data = ["--data-dir", folder.text()];
    let (run, is_open) = with_player(&[&args[..], &rest, &data].concat());
    assert_eq!((run.code, run.stderr.as_str()), (0, ""), "{}", run.stdout);
    for words in [
        "the place itself cannot be heard",
        "(play it)\n   played ",
        "   that is the note in another octave\n",
        "\n2 of 3 right\n",
    ] {
        assert!(run.stdout.contains(words), "{words}: {}", run.stdout);
    }
    assert!(!is_open, "the microphone is closed at the end");
    let progress = neckline(&["progress", "--json", "--data-dir", folder.text()], b"");
    assert!(
        progress.stdout.contains("\"kind\":\"place\""),
        "{}",
        progress.stdout
    );
}

#[test]
fn what_fades_is_answered_by_playing_today() {
    let folder = Folder::new();
    let tune = folder.write("slip.abc", SLIP);
    let data = ["--data-dir", folder.text()];
    let args = ["drill", &tune, "--by", "playing", "--kinds", "place"];
    let rest = ["--positions", "I", "--questions", "4", "--seed", "4"];
    let now = ["--now", "2026-11-20T18:00"];
    let (run, _) = with_player(&[&args[..], &rest, &now, &data].concat());
    assert_eq!((run.code, run.stderr.as_str()), (0, ""), "{}", run.stdout);
    let today = ["today", "--kinds", "place", "--now", "2026-12-20T18:00"];
    let by = ["--by", "playing", "--questions", "2"];
    let (run, is_open) = with_player(&[&today[..], &by, &data].concat());
    assert_eq!((run.code, run.stderr.as_str()), (0, ""), "{}", run.stdout);
    for words in [
        "to play again",
        "the place itself cannot be heard",
        "(play it)\n   played ",
        "\n1 of 2 right; ",
    ] {
        assert!(run.stdout.contains(words), "{words}: {}", run.stdout);
    }
    assert!(!is_open, "the microphone is closed at the end");
    // The plan alone listens to nothing.
    let run = neckline(
        &[&today[..], &["--by", "playing", "--list"], &data].concat(),
        b"",
    );
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    // Without a microphone nothing is asked.
    let run = neckline(&[&today[..], &by, &data].concat(), b"");
    assert_eq!((run.code, run.stdout.as_str()), (1, ""));
    assert!(
        run.stderr.contains("there is no microphone"),
        "{}",
        run.stderr
    );
}

#[test]
fn kinds_that_cannot_be_played_are_refused_and_the_microphone_stays_closed() {
    let folder = Folder::new();
    let tune = folder.write("slip.abc", SLIP);
    let args = [
        "drill",
        &tune,
        "--by",
        "playing",
        "--kinds",
        "degree",
        "--no-history",
        "--positions",
        "I",
    ];
    let (run, is_open) = with_player(&args);
    assert_eq!(run.code, 2);
    assert_eq!(
        run.stderr,
        "error: none of these kinds can be answered by playing\n\nhint: ask for place, next, octave, line, or those by ear\n"
    );
    assert!(!is_open);
    let run = neckline(&["drill", &tune, "--by", "playing", "--no-history"], b"");
    assert_eq!(run.code, 1, "{}", run.stderr);
    assert!(
        run.stderr.contains("there is no microphone"),
        "{}",
        run.stderr
    );
}
