//! Playing with a line for each bar, without the full screen.

use std::io::Write;
use std::thread::sleep;
use std::time::Duration;

use fretlib::arranging::PluckedNote;
use fretlib::sound::PlayThrough;

use super::PlayRequest;
use super::control::{PlayControl, PlayedTune};
use super::live::Live;
use crate::failure::Failure;
use crate::history::JudgedBy;
use crate::report::heading::title_or_untitled;
use crate::terminal::Streams;

/// How often the place in the music is polled.
const LOOK: Duration = Duration::from_millis(20);

/// Plays to the end, until the ladder is climbed or the player ends it.
pub fn run(
    control: &mut PlayControl,
    request: &PlayRequest,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let mut live = Live::open(request)?;
    writeln!(
        streams.stdout,
        "{}, {:.0} {} a minute",
        title_or_untitled(&control.tune.title),
        control.beats_a_minute(),
        control.beats_in_words()
    )?;
    streams.stdout.flush()?;
    if control.ladder().is_none() {
        live.begin(control)?;
        return follow(&mut live, control, true, streams);
    }
    // One pass at a time, since the next one depends on its verdict.
    loop {
        let Some(pass) = control.next_pass()? else {
            return Ok(());
        };
        live.stage().play(&pass, control.passes(), 0.0);
        follow(&mut live, control, false, streams)?;
        if !judged(control, streams)? {
            return Ok(());
        }
    }
}

/// Prints each bar when it is heard, until the end.
fn follow(
    live: &mut Live,
    control: &mut PlayControl,
    supplies: bool,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let mut last = None;
    while !live.is_over() {
        if let Some(reason) = live.status().fault {
            return Err(Failure::could_not(
                format!("the sound has stopped: {reason}"),
                "start it again when the device is back, or write a file with `-o take.wav`",
            ));
        }
        if supplies {
            live.supply(control)?;
        }
        // On a ladder the previous pass may still be heard when the next one has started.
        let is_due = |number| supplies || number == control.passes();
        if let Some(heard) = live.heard().filter(|heard| is_due(heard.number)) {
            let bar = heard
                .pass
                .bars
                .iter()
                .rposition(|bar| bar.start <= heard.seconds);
            let now = bar.map(|bar| (heard.number, bar));
            if let Some(bar) = bar
                && now != last
            {
                writeln!(
                    streams.stdout,
                    "{}",
                    bar_line(&control.tune, &heard.pass, bar)
                )?;
                streams.stdout.flush()?;
                last = now;
            }
        }
        sleep(LOOK);
    }
    let status = live.status();
    if status.underruns > 0 {
        writeln!(
            streams.stderr,
            "note: the sound broke off {} times; a larger `--latency` helps",
            status.underruns
        )?;
    }
    Ok(())
}

/// A bar in words: its number, its chords, its notes with string and fret.
fn bar_line(tune: &PlayedTune, pass: &PlayThrough, bar: usize) -> String {
    let played = pass.bars[bar];
    let written = tune.melody.bars()[played.index];
    let chords = tune.melody.chords();
    let begun = chords.within(written.onset, written.end);
    let names: Vec<String> = begun
        .iter()
        .map(|(_, chord)| chord.map_or("N.C.".into(), |chord| chord.to_string()))
        .collect();
    let notes = pass
        .performance
        .plucks_between(played.start - 1e-9, played.end - 1e-9);
    let notes: Vec<String> = notes
        .filter_map(|pluck| {
            let note = pluck.note?;
            let pitch = tune.melody.notes()[note].pitch;
            let place = tune.places[note].map_or("off the neck".into(), |place| place.to_string());
            Some(format!("{pitch} {place}"))
        })
        .collect();
    let mut notes = notes.join("  ");
    let all = tune.under.iter().flat_map(|under| &under.notes);
    let under: Vec<&PluckedNote> = all
        .filter(|it| (written.onset..written.end).contains(&it.note.onset))
        .collect();
    let voicings = under.chunk_by(|one, other| one.note.onset == other.note.onset);
    for voicing in voicings {
        let places = voicing.iter().map(|it| it.at.place.to_string());
        let beat = tune.melody.beat_at(voicing[0].note.onset);
        notes.push_str(&format!(
            "  beat {beat} over {}",
            places.collect::<Vec<_>>().join(" ")
        ));
    }
    let line = format!(
        "bar {:<4} {:<16} {}",
        written.to_string(),
        names.join(" "),
        notes
    );
    line.trim_end().to_owned()
}

/// Asks for the verdict on the pass; `false` ends the playing.
fn judged(control: &mut PlayControl, streams: &mut Streams) -> Result<bool, Failure> {
    loop {
        write!(streams.stdout, "right? y, n, or q to end: ")?;
        streams.stdout.flush()?;
        let mut line = String::new();
        if streams.stdin.read_line(&mut line)? == 0 {
            writeln!(streams.stdout)?;
            return Ok(false);
        }
        let right = match line.trim() {
            "y" | "yes" => true,
            "n" | "no" => false,
            "q" | "quit" => return Ok(false),
            _ => continue,
        };
        writeln!(streams.stdout, "{}", control.judge(right, JudgedBy::Player))?;
        return Ok(!control.is_climbed());
    }
}
