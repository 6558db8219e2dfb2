//! The time of an exercise: a bar of what is left, the ladder of tempos, and the keys.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use fretlib::melody::Tempo;
use fretlib::practice::{Exercise, Ladder};
use fretlib::text::StyledText;
use ratatui::crossterm::event::{self as input, Event, KeyCode, KeyEventKind, KeyModifiers};
use ratatui::crossterm::terminal::{disable_raw_mode, enable_raw_mode};

use super::click_track::ClickTrack;
use super::show;
use crate::failure::Failure;
use crate::terminal::Streams;

/// How an exercise ended.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Course {
    /// The next one follows.
    GoesOn,
    /// The player has ended the warm-up.
    Ended,
}

/// Right passes to a rung, as `play` has it.
const PASSES: u8 = 2;

/// An exercise while it is practised.
pub struct ExerciseClock<'a> {
    exercise: &'a Exercise,
    pages: &'a [StyledText],
    // The page that is shown, counted from 0.
    page: usize,
    ladder: Ladder,
    // The tune's own tempo.
    quarters_per_minute: f64,
    clicks: bool,
}

/// What a key asks for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Wish {
    End,
    GoOn,
    Turn(Leaf),
    Judge(bool),
    Click,
}

/// Which page to turn to.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Leaf {
    Next,
    Before,
}

impl<'a> ExerciseClock<'a> {
    /// A clock that has not begun, on the lowest rung; the first page is shown.
    pub fn new(
        exercise: &'a Exercise,
        tempo: Tempo,
        pages: &'a [StyledText],
    ) -> Result<ExerciseClock<'a>, Failure> {
        let range = format!("{}-100%", exercise.percent);
        let range = range.parse();
        let unreadable =
            |error: fretlib::ParseError| Failure::could_not(error.to_string(), "see `--minutes`");
        let ladder = Ladder::new(range.map_err(unreadable)?, PASSES);
        let out_of_range =
            |error: fretlib::OutOfRange| Failure::could_not(error.to_string(), "see `--minutes`");
        Ok(ExerciseClock {
            exercise,
            pages,
            page: 0,
            ladder: ladder.map_err(out_of_range)?,
            quarters_per_minute: tempo.quarters_per_minute().to_f64(),
            clicks: true,
        })
    }

    /// Runs until the time is over or a key ends it.
    pub fn run(
        &mut self,
        mut click: Option<&mut ClickTrack>,
        streams: &mut Streams,
    ) -> io::Result<Course> {
        const TICK: Duration = Duration::from_millis(200);
        let time = Duration::from_secs(self.exercise.seconds.into());
        let mut raw = RawMode::enter()?;
        let begun = Instant::now();
        self.sound(click.as_deref_mut());
        let course = loop {
            let left = time.saturating_sub(begun.elapsed());
            let line = self.line(left, click.is_some(), streams);
            over_the_line(&line, streams)?;
            if left.is_zero() {
                break Course::GoesOn;
            }
            if let Some(click) = &click {
                click.supply();
            }
            if !input::poll(TICK)? {
                continue;
            }
            match wish(&input::read()?) {
                None => {}
                Some(Wish::End) => break Course::Ended,
                Some(Wish::GoOn) => break Course::GoesOn,
                Some(Wish::Turn(leaf)) => {
                    let count = self.pages.len();
                    let step = match leaf {
                        Leaf::Next => 1,
                        Leaf::Before => count - 1,
                    };
                    self.page = (self.page + step) % count;
                    // In raw mode a line would not begin at the left.
                    drop(raw);
                    blank_the_line(streams)?;
                    show(&self.pages[self.page], streams)?;
                    raw = RawMode::enter()?;
                }
                Some(Wish::Judge(is_right)) => {
                    let before = self.ladder.percent();
                    self.ladder.judge(is_right);
                    if self.ladder.percent() != before {
                        self.sound(click.as_deref_mut());
                    }
                }
                Some(Wish::Click) => {
                    self.clicks = !self.clicks;
                    self.sound(click.as_deref_mut());
                }
            }
        };
        if let Some(click) = click {
            click.stop();
        }
        drop(raw);
        blank_the_line(streams)?;
        Ok(course)
    }

    /// Lets the click go on at the tempo of the ladder, or fall silent.
    fn sound(&self, click: Option<&mut ClickTrack>) {
        let Some(click) = click else { return };
        match self.clicks {
            true => {
                let tempo = self.quarters_per_minute * f64::from(self.ladder.percent()) / 100.0;
                click.click(&self.exercise.melody, tempo);
            }
            false => click.stop(),
        }
    }

    /// What is left, the tempo, and the keys; one column less than there are, so that nothing scrolls.
    fn line(&self, left: Duration, has_click: bool, streams: &Streams) -> String {
        let time = f64::from(self.exercise.seconds.max(1));
        let (full, empty) = if streams.ascii {
            ("#", ".")
        } else {
            ("█", "░")
        };
        let seconds = left.as_secs();
        let percent = self.ladder.percent();
        let click = if has_click { "  c click" } else { "" };
        let down = if streams.ascii { "down" } else { "↓" };
        let page = match self.pages.len() {
            1 => String::new(),
            count => format!("{down} {}/{count}  ", self.page + 1),
        };
        let words = format!(
            " {}:{:02}  {percent}%  {page}y n right?  Enter on  q ends{click}",
            seconds / 60,
            seconds % 60
        );
        let room = streams.width.saturating_sub(words.chars().count() + 1);
        let length = room.clamp(4, 24);
        let filled = (left.as_secs_f64() / time * length as f64).ceil() as usize;
        let filled = filled.min(length);
        let bar = full.repeat(filled) + &empty.repeat(length - filled);
        let line: String = bar.chars().chain(words.chars()).collect();
        let width = streams.width.saturating_sub(1);
        format!("{:width$}", line.chars().take(width).collect::<String>())
    }
}

fn blank_the_line(streams: &mut Streams) -> io::Result<()> {
    let blank = " ".repeat(streams.width.saturating_sub(1));
    over_the_line(&blank, streams)?;
    over_the_line("", streams)
}

/// Writes over the line the cursor is in. Text streams let no carriage return through, so that these are bytes.
fn over_the_line(line: &str, streams: &mut Streams) -> io::Result<()> {
    streams.stderr.bytes(format!("\r{line}").as_bytes())?;
    streams.stderr.flush()
}

fn wish(event: &Event) -> Option<Wish> {
    let Event::Key(key) = event else { return None };
    if key.kind == KeyEventKind::Release {
        return None;
    }
    if key.modifiers.contains(KeyModifiers::CONTROL) {
        return (key.code == KeyCode::Char('c')).then_some(Wish::End);
    }
    match key.code {
        KeyCode::Char('q') | KeyCode::Esc => Some(Wish::End),
        KeyCode::Enter | KeyCode::Char(' ') => Some(Wish::GoOn),
        KeyCode::Down | KeyCode::Right | KeyCode::PageDown => Some(Wish::Turn(Leaf::Next)),
        KeyCode::Up | KeyCode::Left | KeyCode::PageUp => Some(Wish::Turn(Leaf::Before)),
        KeyCode::Char('y') => Some(Wish::Judge(true)),
        KeyCode::Char('n') => Some(Wish::Judge(false)),
        KeyCode::Char('c') => Some(Wish::Click),
        _ => None,
    }
}

/// Keys are read one by one while this lives.
struct RawMode;

impl RawMode {
    fn enter() -> io::Result<RawMode> {
        enable_raw_mode()?;
        Ok(RawMode)
    }
}

impl Drop for RawMode {
    fn drop(&mut self) {
        // Nothing can be done about a terminal that does not take this.
        let _ = disable_raw_mode();
    }
}
