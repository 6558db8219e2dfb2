//! Drawing the screen while a melody is played. Drawing changes nothing.

use fretlib::arranging::PluckedNote;
use fretlib::neck::Position;
use fretlib::sound::{Layer, PlayedBar};
use fretlib::text::{NeckMark, NoteMark};
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::bar_strip::{BarStrip, StripNote, rows_of_bars};
use super::play_state::PlayState;
use crate::audio::Heard;
use crate::commands::play::PlayedTune;
use crate::report::heading::title_or_untitled;
use crate::screen::edge_lines::{EDGE, drawing_area, is_apart, put, put_right};
use crate::screen::look::Look;
use crate::screen::neck_view::NeckView;

/// Rows of a row of bars besides its strings: numbers, chords, names, the moving mark.
const AROUND_STRINGS: u16 = 4;
/// Rows above the bars and below the neck: title, tempo and loop, a space; current note, a notice, keys.
const ABOVE: u16 = 3;
const BELOW: u16 = 3;

/// Draws everything.
pub fn draw(state: &PlayState, frame: &mut Frame) {
    let way_out = "make the window larger, leave with q, or play with --plain";
    let Some((area, buffer)) = drawing_area(frame, PlayState::SMALLEST, way_out, state.look) else {
        return;
    };
    head(state, area, buffer);
    if state.help {
        help(state, buffer);
    } else {
        music(state, area, buffer);
    }
    foot(state, area, buffer);
}

fn head(state: &PlayState, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let playing = &state.playing;
    let room = usize::from(area.width).saturating_sub(24);
    let title: String = title_or_untitled(&state.tune.title)
        .chars()
        .take(room)
        .collect();
    put(buffer, EDGE, 0, &title, look.strong());
    let seconds = state.sounded.as_secs();
    let pass = state
        .heard
        .as_ref()
        .map_or(String::new(), |heard| format!("pass {}   ", heard.number));
    put_right(
        buffer,
        0,
        &format!("{pass}{}:{:02}", seconds / 60, seconds % 60),
        look.plain(),
    );
    let mut line = format!("{:.0} a minute, {:.0}%", playing.tempo, playing.percent);
    if let Some((from, to)) = &playing.stretch {
        line.push_str(&if from == to {
            format!("   loop {from}")
        } else {
            format!("   loop {from} to {to}")
        });
    }
    if let Some(ladder) = &playing.ladder {
        line.push_str(&format!("   {ladder}"));
    }
    put(buffer, EDGE, 1, &line, look.plain());
    let layers = [
        ("melody", Layer::Melody),
        (
            match state.tune.under {
                Some(_) => "what lies under it",
                None => "chords",
            },
            Layer::Chords,
        ),
        ("click", Layer::Click),
    ];
    let sounding: Vec<&str> = layers
        .iter()
        .filter(|(_, layer)| state.layers[*layer as usize])
        .map(|(name, _)| *name)
        .collect();
    let sounding = if sounding.is_empty() {
        "silent".into()
    } else {
        sounding.join(" + ")
    };
    // On a narrow screen what sounds stands below the tempo and the ladder.
    let row = if is_apart(&line, &sounding, area) {
        1
    } else {
        2
    };
    put_right(buffer, row, &sounding, look.plain());
}

fn music(state: &PlayState, area: Rect, buffer: &mut Buffer) {
    let Some(heard) = &state.heard else {
        return;
    };
    let strings = state.tune.instrument.strings().len() as u16;
    let row_height = strings + AROUND_STRINGS;
    let room = area.height.saturating_sub(ABOVE + BELOW);
    // A second row of bars if the neck still fits below it.
    let rows: u16 = if room >= 2 * row_height + strings + 2 {
        2
    } else {
        1
    };
    let present = present_bar(heard);
    let margin = margin(&state.tune);
    let width = area.width.saturating_sub(margin + EDGE);
    let shown = rows_of_bars(&state.tune, &heard.pass, present, width, usize::from(rows));
    let mut top = ABOVE;
    for row in &shown {
        draw_row(state, heard, row, margin, top, buffer);
        top += row_height;
    }
    let top = ABOVE + rows * row_height;
    let left = area.height.saturating_sub(top + BELOW);
    if left > strings {
        neck(
            state,
            heard,
            &shown,
            Rect::new(EDGE, top, area.width - 2 * EDGE, left),
            buffer,
        );
    }
}

/// The current bar of the pass; the first one in the count-in.
fn present_bar(heard: &Heard) -> usize {
    let bars = &heard.pass.bars;
    bars.iter()
        .rposition(|bar| bar.start <= heard.seconds)
        .unwrap_or(0)
}

/// Columns left of the first bar.
pub fn margin(tune: &PlayedTune) -> u16 {
    let names = tune.instrument.strings().iter();
    let widest = names.map(|open| open.class().to_string().len()).max();
    EDGE + widest.unwrap_or(1) as u16 + 1
}

/// Bars without their notes: numbers, chords, strings with their names.
pub fn empty_bars(
    tune: &PlayedTune,
    look: Look,
    row: &[BarStrip],
    margin: u16,
    top: u16,
    buffer: &mut Buffer,
) {
    let (bar_line, wire) = if look.ascii {
        ("|", "-")
    } else {
        ("│", "─")
    };
    let strings = tune.instrument.strings();
    let first_string = top + 2;
    for (string, open) in (first_string..).zip(strings) {
        put(
            buffer,
            EDGE,
            string,
            &open.class().to_string(),
            look.plain(),
        );
    }
    let mut left = margin;
    for bar in row {
        put(buffer, left, top, &bar.heading, look.plain());
        for (column, symbol) in &bar.chords {
            put(buffer, left + column, top + 1, symbol, look.strong());
        }
        for string in first_string..first_string + strings.len() as u16 {
            put(buffer, left, string, bar_line, look.faint());
            for column in left + 1..left + bar.width {
                put(buffer, column, string, wire, look.faint());
            }
        }
        left += bar.width;
    }
    for string in first_string..first_string + strings.len() as u16 {
        put(buffer, left, string, bar_line, look.faint());
    }
}

fn draw_row(
    state: &PlayState,
    heard: &Heard,
    row: &[BarStrip],
    margin: u16,
    top: u16,
    buffer: &mut Buffer,
) {
    let look = state.look;
    empty_bars(&state.tune, look, row, margin, top, buffer);
    let first_string = top + 2;
    let strings = state.tune.instrument.strings().len() as u16;
    let mut left = margin;
    for bar in row {
        for note in &bar.notes {
            draw_note(state, heard, note, left, first_string, buffer);
        }
        if present_bar(heard) == bar.index && !state.ended {
            put(
                buffer,
                left + bar.column_at(heard.seconds),
                first_string + strings + 1,
                moving_mark(look),
                look.strong(),
            );
        }
        left += bar.width;
    }
}

/// The mark under the place in the music.
pub fn moving_mark(look: Look) -> &'static str {
    if look.ascii { "^" } else { "▲" }
}

/// The figure on its string and the name of a melody note below; both stand out while the note sounds.
///
/// Over an arrangement the melody's figures are bold. What sounds under it is underlined, the melody note reversed.
fn draw_note(
    state: &PlayState,
    heard: &Heard,
    note: &StripNote,
    left: u16,
    first_string: u16,
    buffer: &mut Buffer,
) {
    let sounds = is_sounding(note, heard);
    let is_melody = note.layer == Layer::Melody;
    let style = match (sounds, is_melody) {
        (true, true) => state.look.cursor(),
        (true, false) => state.look.plain().add_modifier(Modifier::UNDERLINED),
        (false, true) if state.tune.under.is_some() => state.look.strong(),
        (false, _) => state.look.plain(),
    };
    figure(note, left, first_string, style, buffer);
    if is_melody {
        let below = first_string + state.tune.instrument.strings().len() as u16;
        put(buffer, left + note.column, below, &note.name, style);
    }
}

/// The fret of a note on its string.
pub fn figure(note: &StripNote, left: u16, first_string: u16, style: Style, buffer: &mut Buffer) {
    if let Some(place) = note.place {
        let row = first_string + place.string.index() as u16;
        let fret = place.fret.to_string();
        put(buffer, left + note.column, row, &fret, style);
    }
}

fn is_sounding(note: &StripNote, heard: &Heard) -> bool {
    (note.start..note.end).contains(&heard.seconds)
}

fn neck(
    state: &PlayState,
    heard: &Heard,
    shown: &[Vec<BarStrip>],
    area: Rect,
    buffer: &mut Buffer,
) {
    let notes = || shown.iter().flatten().flat_map(|bar| &bar.notes);
    let frets = notes()
        .filter_map(|note| note.place)
        .map(|place| place.fret.get());
    // The hand is assumed at the lowest stopped note in view.
    let lowest = frets.filter(|fret| *fret > 0).min().unwrap_or(1);
    let around = Position::new(lowest).ok();
    let view = NeckView::new(area, &state.tune.instrument, around, state.look.left_handed);
    let of_melody = |note: &&StripNote| note.layer == Layer::Melody;
    let next = notes().find(|note| of_melody(note) && note.start > heard.seconds);
    let now = notes().find(|note| of_melody(note) && is_sounding(note, heard));
    let under = notes().filter(|note| !of_melody(note) && is_sounding(note, heard));
    let mark = |note: &StripNote, sounds: bool| {
        let label = note.name.clone();
        let mark = NoteMark::default();
        note.place
            .map(|place| (NeckMark { place, label, mark }, sounds))
    };
    // The next note first, so that the one that sounds lies over it; over an arrangement what the hand holds is enough.
    let next = next.filter(|_| state.tune.under.is_none());
    let mut marks: Vec<(NeckMark, bool)> = Vec::new();
    marks.extend(next.and_then(|note| mark(note, false)));
    marks.extend(under.filter_map(|note| mark(note, false)));
    marks.extend(now.and_then(|note| mark(note, true)));
    view.draw(
        buffer,
        &state.look,
        &state.tune.instrument,
        None,
        &marks,
        None,
    );
}

fn foot(state: &PlayState, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let row = area.height - BELOW;
    put(buffer, EDGE, row, &whereabouts(state), look.strong());
    let mut sound = format!("{} ms behind", state.playing.latency.as_millis());
    if state.playing.underruns > 0 {
        sound = format!(
            "broke off {} times, see --latency   {sound}",
            state.playing.underruns
        );
    }
    put_right(buffer, row, &sound, look.faint());
    if let Some(notice) = &state.notice {
        put(buffer, EDGE, row + 1, notice, look.strong());
    }
    let keys = match (state.help, state.ended, state.paused) {
        (true, ..) => "any key goes back   q leaves",
        (_, true, _) => "space plays it again   q leaves",
        (_, _, true) => "space goes on from this bar   q leaves",
        _ if state.playing.ladder.is_some() => "y right  n not yet  space pauses  ? keys  q leaves",
        _ => "space pauses  [ ] loop  + - tempo  c m h  ? keys  q leaves",
    };
    put(buffer, EDGE, area.height - 1, keys, look.faint());
}

/// How many seconds before a bar a tied note may begin and still be named in it.
const LONGEST_TIE: f64 = 60.0;

/// Bar and note, in words.
fn whereabouts(state: &PlayState) -> String {
    let Some(heard) = &state.heard else {
        return String::new();
    };
    if heard.seconds < heard.pass.lead_in {
        return "count-in".into();
    }
    let bar = heard.pass.bars[present_bar(heard)];
    let written = state.tune.melody.bars()[bar.index];
    let state_of_it = match (state.paused, state.ended) {
        (_, true) => "the end, ",
        (true, _) => "paused, ",
        _ => "",
    };
    let mut words = format!("{state_of_it}bar {written}");
    let plucks = heard
        .pass
        .performance
        .plucks_between(bar.start - LONGEST_TIE, heard.seconds + 1e-9);
    let now = plucks
        .filter(|pluck| pluck.note.is_some() && heard.seconds < pluck.end)
        .last();
    if let Some(note) = now.and_then(|pluck| pluck.note) {
        let name = state.tune.melody.notes()[note].pitch.class();
        words.push_str(&format!(", {name}"));
        if let Some(place) = state.tune.places[note] {
            words.push_str(&format!(" on string {}, fret {}", place.string, place.fret));
        }
    }
    let lower = sounding_under(&state.tune, heard, bar);
    if !lower.is_empty() {
        words.push_str(&format!(" over {}", lower.join(" ")));
    }
    words
}

/// The names of what sounds under the melody, as far as it begins in this bar, the lowest first.
fn sounding_under(tune: &PlayedTune, heard: &Heard, bar: PlayedBar) -> Vec<String> {
    let written = tune.melody.bars()[bar.index];
    let moment = heard.pass.tempo_map.quarters(heard.seconds) - bar.onset.to_f64();
    let sounds = |it: &&PluckedNote| {
        let from = (it.note.onset - written.onset).to_f64();
        from <= moment && moment < from + it.note.duration.to_f64()
    };
    let all = tune.under.iter().flat_map(|under| &under.notes);
    let mut notes: Vec<&PluckedNote> = all.filter(sounds).collect();
    notes.sort_by_key(|it| it.note.pitch.midi().get());
    notes
        .iter()
        .map(|it| it.note.pitch.class().to_string())
        .collect()
}

fn help(state: &PlayState, buffer: &mut Buffer) {
    const LINES: [(&str, &str); 11] = [
        ("space", "pauses, and goes on from the start of the bar"),
        ("left, right", "one bar back, one bar on"),
        ("[ and ]", "loop from this bar, loop to this bar"),
        ("Backspace", "plays all of it again"),
        ("+ and -", "faster and slower by 5%"),
        ("c", "click"),
        ("m", "melody"),
        ("h", "chords, or what is arranged under the melody"),
        (
            "y and n",
            "on a ladder: the last pass was right, or not yet",
        ),
        ("q, Esc, Ctrl-C", "leave"),
        ("", "Stop at the first pain; rest ten minutes an hour."),
    ];
    for (row, (key, text)) in (3..).zip(LINES) {
        put(buffer, EDGE, row, key, state.look.strong());
        put(buffer, 18, row, text, state.look.plain());
    }
}
