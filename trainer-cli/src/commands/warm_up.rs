//! `neckline warm-up`: five to ten minutes made of a tune.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use fretlib::fingering::Player;
use fretlib::melody::Tempo;
use fretlib::practice::{CAUTIONS, Exercise, warm_up};
use fretlib::text::{NoteMark, StyledText, TabNote, Tablature};
use ratatui::crossterm::event::{self as input, Event, KeyCode, KeyEventKind, KeyModifiers};
use ratatui::crossterm::terminal::{disable_raw_mode, enable_raw_mode};

use crate::failure::Failure;
use crate::practice_sets::{PracticeSets, ShortName};
use crate::report::heading::title_or_untitled;
use crate::request::{HandRequest, HistoryFolder, PartRequest, TuneOnInstrument};
use crate::session::PracticeTune;
use crate::terminal::{Streams, colour};

/// What to warm up on.
#[derive(Debug)]
pub struct WarmUpRequest {
    /// The tune.
    pub tune: TuneOnInstrument,
    /// The set whose first tune is taken instead.
    pub set: Option<ShortName>,
    /// The player's hand.
    pub hand: HandRequest,
    /// How long.
    pub minutes: u32,
    /// Only print the exercises.
    pub print: bool,
    /// Where the sets are.
    pub folder: HistoryFolder,
}

/// Shows the exercises one after another, each for its time; or prints them all.
pub fn run(request: &WarmUpRequest, streams: &mut Streams) -> Result<(), Failure> {
    let hand = request.hand.open(streams)?;
    let of_set = match &request.set {
        Some(name) => {
            let sets = PracticeSets::open(&request.folder.path()?)?;
            let first = sets.expect(name)?.tunes.first();
            let first = first.ok_or_else(|| {
                Failure::could_not(
                    format!("there is no tune in the set `{name}`"),
                    format!("add one with `neckline set {name} TUNE`"),
                )
            })?;
            Some(first.request.clone())
        }
        None => None,
    };
    let opens = of_set.as_ref().unwrap_or(&request.tune);
    let tune = PracticeTune::open(opens, &PartRequest::default(), streams)?;
    let player = Player {
        instrument: tune.material.instrument(),
        hand,
    };
    let exercises = warm_up(&tune.material, player, 60 * request.minutes);
    if exercises.is_empty() {
        return Err(Failure::could_not(
            "nothing of this tune lies within comfortable reach in one position",
            "try another tune, or give your hand with `--hand`",
        ));
    }
    let title = title_or_untitled(&tune.entry.title);
    writeln!(
        streams.stdout,
        "Warm-up for {title}, about {} minutes\n",
        request.minutes
    )?;
    for caution in CAUTIONS {
        writeln!(streams.stdout, "  {caution}")?;
    }
    let waits = !request.print && streams.stdin_is_terminal && streams.stdout_is_terminal;
    for (number, exercise) in (1..).zip(&exercises) {
        writeln!(streams.stdout)?;
        show(number, exercise, &tune, streams)?;
        streams.stdout.flush()?;
        if waits && !wait(Duration::from_secs(exercise.seconds.into()), streams)? {
            return Ok(());
        }
    }
    Ok(())
}

fn show(
    number: usize,
    exercise: &Exercise,
    tune: &PracticeTune,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if exercise.rest_before {
        writeln!(
            streams.stdout,
            "Let the hand hang for ten seconds first: the same fingers work again.\n"
        )?;
    }
    let tempo = tune.material.melody().tempos().first().copied();
    writeln!(streams.stdout, "{number}. {}", exercise.title)?;
    writeln!(streams.stdout, "   {}", exercise_in_words(exercise, tempo))?;
    colour::write(streams, &tablature(exercise, tune, streams))?;
    Ok(())
}

/// How to practise an exercise: the tempo to begin at, when to go faster, how long.
pub fn exercise_in_words(exercise: &Exercise, tempo: Option<Tempo>) -> String {
    let percent = exercise.percent;
    let tempo = match tempo {
        Some(tempo) => {
            let slow = tempo.count().to_f64() * f64::from(percent) / 100.0;
            let unit = tempo.unit_in_words();
            format!("{percent} % of the tempo, {slow:.0} {unit} a minute")
        }
        None => format!("{percent} % of your tempo"),
    };
    format!(
        "{tempo}; 5 % more after two right passes; {}",
        time_in_words(exercise.seconds)
    )
}

fn time_in_words(seconds: u32) -> String {
    match seconds {
        0..90 => format!("about {} seconds", seconds / 10 * 10),
        _ => format!("about {} minutes", (seconds + 30) / 60),
    }
}

fn tablature(exercise: &Exercise, tune: &PracticeTune, streams: &Streams) -> StyledText {
    let notes = exercise.notes.iter().map(|note| TabNote {
        place: Some(note.place),
        finger: note.finger,
        position: None,
        label: note.pitch.class().to_string(),
        chord_tone: None,
        mark: NoteMark::default(),
    });
    let tablature = Tablature {
        melody: &exercise.melody,
        notes: &notes.collect::<Vec<_>>(),
        instrument: tune.material.instrument(),
        ascii: streams.ascii,
        width: streams.width,
    };
    tablature.draw()
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

/// Waits until the time is over or the player goes on, a bar showing what is left; false when the player leaves.
fn wait(time: Duration, streams: &mut Streams) -> io::Result<bool> {
    const TICK: Duration = Duration::from_millis(250);
    const BAR: usize = 24;
    let (full, empty) = if streams.ascii {
        ("#", ".")
    } else {
        ("█", "░")
    };
    let raw = RawMode::enter()?;
    let begun = Instant::now();
    let goes_on = loop {
        let left = time.saturating_sub(begun.elapsed());
        let filled =
            (left.as_secs_f64() / time.as_secs_f64().max(1.0) * BAR as f64).ceil() as usize;
        let bar = full.repeat(filled) + &empty.repeat(BAR - filled.min(BAR));
        let seconds = left.as_secs();
        write!(
            streams.stderr,
            "\r   {bar} {}:{:02} left   Enter goes on, q ends ",
            seconds / 60,
            seconds % 60
        )?;
        streams.stderr.flush()?;
        if left.is_zero() {
            break true;
        }
        if !input::poll(TICK)? {
            continue;
        }
        let Event::Key(key) = input::read()? else {
            continue;
        };
        let is_interrupt =
            key.code == KeyCode::Char('c') && key.modifiers.contains(KeyModifiers::CONTROL);
        match key.code {
            _ if key.kind == KeyEventKind::Release => {}
            _ if is_interrupt => break false,
            KeyCode::Char('q') | KeyCode::Esc => break false,
            KeyCode::Enter | KeyCode::Char(' ') => break true,
            _ => {}
        }
    };
    drop(raw);
    write!(streams.stderr, "\r{:70}\r", "")?;
    streams.stderr.flush()?;
    Ok(goes_on)
}
