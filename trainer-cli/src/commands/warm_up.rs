//! `neckline warm-up`: five to ten minutes made of a tune, or of all tunes of a set.

mod click_track;
mod exercise_clock;

use std::io::{self, BufRead, Write};

use fretlib::fingering::Player;
use fretlib::melody::Tempo;
use fretlib::practice::{CAUTIONS, Exercise, PracticeMaterial, warm_up_on_all};
use fretlib::text::{NoteMark, StyledLine, StyledText, TabNote, Tablature};

use self::click_track::ClickTrack;
use self::exercise_clock::{Course, ExerciseClock};
use crate::failure::Failure;
use crate::practice_sets::{PracticeSets, ShortName};
use crate::report::heading::title_or_untitled;
use crate::report::left_out::LeftOut;
use crate::report::wrap::wrap;
use crate::request::{HandRequest, HistoryFolder, PartRequest, TuneOnInstrument};
use crate::session::PracticeTune;
use crate::terminal::{Streams, colour};

/// What to warm up on.
#[derive(Debug)]
pub struct WarmUpRequest {
    /// The tune.
    pub tune: TuneOnInstrument,
    /// The set whose tunes are taken instead.
    pub set: Option<ShortName>,
    /// The player's hand.
    pub hand: HandRequest,
    /// How long.
    pub minutes: u32,
    /// Only print the exercises.
    pub print: bool,
    /// Let nothing sound.
    pub no_click: bool,
    /// Where the sets are.
    pub folder: HistoryFolder,
}

/// Shows the exercises one after another, each for its time; or prints them all.
pub fn run(request: &WarmUpRequest, streams: &mut Streams) -> Result<(), Failure> {
    let hand = request.hand.open(streams)?;
    let tunes = tunes(request, streams)?;
    let players: Vec<(&PracticeMaterial, Player)> = tunes
        .iter()
        .map(|tune| {
            let instrument = tune.material.instrument();
            (&tune.material, Player { instrument, hand })
        })
        .collect();
    let exercises = warm_up_on_all(&players, 60 * request.minutes);
    if exercises.is_empty() {
        return Err(Failure::could_not(
            "nothing of this lies within comfortable reach in one position",
            "try another tune, or give your hand with `--hand`",
        ));
    }
    let what = match &request.set {
        Some(name) => name.to_string(),
        None => title_or_untitled(&tunes[0].entry.title).to_string(),
    };
    writeln!(
        streams.stdout,
        "Warm-up for {what}, about {} minutes\n",
        request.minutes
    )?;
    for caution in CAUTIONS {
        for line in wrap(caution, streams.width.saturating_sub(2)) {
            writeln!(streams.stdout, "  {line}")?;
        }
    }
    let waits = !request.print && streams.stdin_is_terminal && streams.stdout_is_terminal;
    let mut click = None;
    if waits && !request.no_click {
        match ClickTrack::open() {
            Ok(track) => click = Some(track),
            // Everything else goes on without it.
            Err(failure) => writeln!(streams.stderr, "\nnote: no click: {failure}")?,
        }
    }
    if waits && !begins(streams)? {
        return Ok(());
    }
    for (number, exercise) in (1..).zip(&exercises) {
        let tune = &tunes[exercise.tune];
        let heading = heading(number, exercise, tune, tunes.len() > 1, streams.width);
        let tablature = tablature(exercise, tune, streams);
        let rows = waits.then(terminal_size::terminal_size).flatten();
        let rows = rows.map_or(usize::MAX, |(_, rows)| usize::from(rows.0));
        let pages = pages(&heading, tablature, rows);
        if exercise.rest_before {
            writeln!(
                streams.stdout,
                "\nLet the hand hang for ten seconds first: the same fingers work again."
            )?;
        }
        show(&pages[0], streams)?;
        if waits {
            let tempo = tune.material.melody().first_tempo();
            let mut clock = ExerciseClock::new(exercise, tempo, &pages)?;
            if clock.run(click.as_mut(), streams)? == Course::Ended {
                break;
            }
        }
    }
    Ok(())
}

/// Waits for the player to begin, so that the cautions are read before the first exercise moves them out of sight; false when
/// the player ends it there.
fn begins(streams: &mut Streams) -> io::Result<bool> {
    write!(streams.stdout, "\nEnter begins, q ends > ")?;
    streams.stdout.flush()?;
    let mut line = Vec::new();
    streams.stdin.read_until(b'\n', &mut line)?;
    Ok(!line.is_empty() && !matches!(line.trim_ascii(), b"q" | b"quit"))
}

/// The tune, or those of the set; one of a set that cannot be opened is left out and said.
fn tunes(request: &WarmUpRequest, streams: &mut Streams) -> Result<Vec<PracticeTune>, Failure> {
    let part = PartRequest::default();
    let Some(name) = &request.set else {
        return Ok(vec![PracticeTune::open(&request.tune, &part, streams)?]);
    };
    let sets = PracticeSets::open(&request.folder.path()?)?;
    let (mut tunes, mut left_out) = (Vec::new(), LeftOut::default());
    for tune in &sets.expect(name)?.tunes {
        match PracticeTune::open(&tune.request, &part, streams) {
            Ok(tune) => tunes.push(tune),
            Err(failure) => left_out.cannot_be_opened(&tune.title, &failure),
        }
    }
    left_out.say(streams)?;
    if tunes.is_empty() {
        return Err(Failure::could_not(
            format!("there is no tune to warm up on in the set `{name}`"),
            format!("add one with `neckline set {name} TUNE`"),
        ));
    }
    Ok(tunes)
}

/// What an exercise is and how it is practised, in lines.
fn heading(
    number: usize,
    exercise: &Exercise,
    tune: &PracticeTune,
    is_of_many: bool,
    width: usize,
) -> StyledText {
    let tempo = tune.material.melody().tempos().first().copied();
    let title = match is_of_many {
        true => format!(
            "{number}. {}: {}",
            title_or_untitled(&tune.entry.title),
            exercise.title
        ),
        false => format!("{number}. {}", exercise.title),
    };
    let mut heading = StyledText::default();
    for line in wrap(&title, width) {
        heading.push(line.as_str());
    }
    let how = exercise_in_words(exercise, tempo);
    for line in wrap(&how, width.saturating_sub(3)) {
        heading.push(format!("   {line}").as_str());
    }
    heading
}

/// The pages of an exercise on a terminal with this many rows: the heading stands on each, above as many systems of the
/// tablature as there is room for, at least one.
fn pages(heading: &StyledText, tablature: StyledText, rows: usize) -> Vec<StyledText> {
    // A blank line above, and the line of the clock below.
    let room = rows.saturating_sub(heading.lines().len() + 2);
    let lines = tablature.lines();
    let systems: Vec<&[StyledLine]> = lines.split(|line| line.length() == 0).collect();
    let mut pages: Vec<StyledText> = Vec::new();
    let mut used = usize::MAX;
    for system in systems {
        match pages.last_mut() {
            Some(page) if used + 1 + system.len() <= room => {
                page.push("");
                used += 1;
            }
            _ => {
                pages.push(heading.clone());
                used = 0;
            }
        }
        let page = pages.last_mut().into_iter();
        page.for_each(|page| system.iter().for_each(|line| page.push(line.clone())));
        used += system.len();
    }
    pages
}

fn show(page: &StyledText, streams: &mut Streams) -> io::Result<()> {
    writeln!(streams.stdout)?;
    colour::write(streams, page)?;
    streams.stdout.flush()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exercise_is_turned_over_where_it_does_not_fit() {
        let lines = |lines: &[&str]| {
            let mut text = StyledText::default();
            lines.iter().for_each(|line| text.push(*line));
            text
        };
        let heading = lines(&["1. scale", "   slowly"]);
        let tablature = || lines(&["a", "a", "", "b", "b", "", "c", "c"]);
        let check = |rows: usize, expected: &[&str]| {
            let pages = pages(&heading, tablature(), rows);
            let pages: Vec<String> = pages.iter().map(ToString::to_string).collect();
            let expected = expected.iter();
            let expected: Vec<String> = expected
                .map(|page| format!("1. scale\n   slowly\n{page}"))
                .collect();
            assert_eq!(pages, expected, "{rows}");
            // The heading stays in sight while there is room for one system at all.
            let longest = pages.iter().map(|page| page.lines().count() + 2).max();
            assert!(longest <= Some(rows.max(6)), "{rows}");
        };
        check(usize::MAX, &["a\na\n\nb\nb\n\nc\nc\n"]);
        check(12, &["a\na\n\nb\nb\n\nc\nc\n"]);
        check(11, &["a\na\n\nb\nb\n", "c\nc\n"]);
        check(8, &["a\na\n", "b\nb\n", "c\nc\n"]);
        check(3, &["a\na\n", "b\nb\n", "c\nc\n"]);
    }
}
