//! Drawing the screen while the program listens. Drawing changes nothing.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::listen_state::{LastStrike, ListenState, MicrophoneState};
use crate::commands::listen::{LEGEND, sign};
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;
use crate::screen::edge_lines::{
    EDGE, drawing_area, fitting, foot, is_apart, keys_in_words, put, put_right,
};
use crate::screen::lettering::{HEIGHT, large};
use crate::screen::playing::bar_strip::{BarStrip, rows_of_bars};
use crate::screen::playing::play_drawing::{empty_bars, figure, margin, moving_mark};

/// The first row of bars.
const BARS: u16 = 3;
/// Rows of a row of bars besides its strings: numbers, chords, names, verdicts and the moving mark.
const AROUND_STRINGS: u16 = 4;
/// Where the words beside the large name begin.
const WORDS: u16 = 20;
/// The most cents that the tuner shows on either side.
const MOST_CENTS: f32 = 50.0;

/// Draws everything.
pub fn draw(state: &ListenState, frame: &mut Frame) {
    let way_out = "make the window larger, leave with q, or listen with --plain";
    let Some((area, buffer)) = drawing_area(frame, ListenState::SMALLEST, way_out, state.look)
    else {
        return;
    };
    head(state, area, buffer);
    if state.help {
        keys_in_words(&KEYS, state.look, buffer);
    } else {
        let below = match state.listening.tuner {
            Some(_) => tuner(state, area, buffer),
            None => bars(state, area, buffer),
        };
        struck(state, below, buffer);
        if state.listening.tuner.is_none() {
            report(state, below, area, buffer);
        }
    }
    let keys = match (state.help, state.microphone) {
        (true, _) => "any key goes back   q leaves",
        (_, MicrophoneState::Open) if state.listening.tuner.is_some() => {
            "t goes on to the tune  space closes the microphone  ? keys  q leaves"
        }
        (_, MicrophoneState::Open) => "space closes the microphone  t tuner  ? keys  q leaves",
        (_, MicrophoneState::Closed) => "space opens the microphone  ? keys  q leaves",
        (_, MicrophoneState::Over) => "q leaves",
    };
    let notice = state.notice.as_deref().unwrap_or_default();
    foot(notice, keys, area, state.look, buffer);
}

const KEYS: [(&str, &str); 5] = [
    ("space", "closes the microphone, and opens it again"),
    ("t", "tuner, and back"),
    ("q, Esc, Ctrl-C", "leave"),
    ("", LEGEND),
    ("", "Stop at the first pain; rest ten minutes an hour."),
];

fn head(state: &ListenState, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let mark = match (state.is_listening(), look.ascii) {
        (true, false) => "● microphone open",
        (true, true) => "(*) microphone open",
        (false, _) => "microphone closed",
    };
    let taken = put_right(buffer, 0, mark, look.strong());
    let room = area.width.saturating_sub(EDGE + taken);
    let title = fitting(title_or_untitled(&state.tune.title), room);
    put(buffer, EDGE, 0, &title, look.strong());
    let (aim, hearing) = (&state.listening.aim, hearing_in_words(state));
    put(buffer, EDGE, 1, aim, look.plain());
    // On a narrow screen how the player is heard stands below the tempo and the ladder.
    let row = if is_apart(aim, &hearing, area) { 1 } else { 2 };
    put_right(buffer, row, &hearing, look.plain());
}

/// Below this level in dB there is nothing to be heard in a recording of 16 bits.
const SILENT: f32 = -96.0;

/// How loud the room is, and how far the strings stand above it.
fn hearing_in_words(state: &ListenState) -> String {
    let hearing = state.listening.hearing;
    let Some(noise) = hearing.noise_db.filter(|_| state.is_listening()) else {
        return String::new();
    };
    match hearing.strike_db {
        _ if hearing.clipped >= fretlib::hearing::Hearing::CLIPPED => "too loud: clipped".into(),
        Some(strike) if !hearing.can_judge() => {
            format!("room {noise:.0} dB, you only {:+.0}", strike - noise)
        }
        _ if noise < SILENT => "room silent".into(),
        Some(strike) => format!("room {noise:.0} dB, you {:+.0}", strike - noise),
        None => format!("room {noise:.0} dB"),
    }
}

/// The bars around the player's place, and the verdicts of the last pass; returns the first row below them.
fn bars(state: &ListenState, area: Rect, buffer: &mut Buffer) -> u16 {
    let music = &state.listening.music;
    let strings = state.tune.instrument.strings().len() as u16;
    let height = strings + AROUND_STRINGS;
    let room = area.height.saturating_sub(BARS + HEIGHT as u16 + 2);
    // A second row of bars if there is room.
    let rows = (room / height).clamp(1, 2);
    let place = state.listening.place;
    let present = place.map_or(0, |seconds| {
        let bar = music
            .bars
            .iter()
            .rposition(|bar| bar.start <= seconds + 1e-6);
        bar.unwrap_or(0)
    });
    let left = margin(&state.tune);
    let width = area.width.saturating_sub(left + EDGE);
    let shown = rows_of_bars(&state.tune, music, present, width, usize::from(rows));
    for (top, row) in (BARS..).step_by(usize::from(height)).zip(&shown) {
        empty_bars(&state.tune, state.look, row, left, top, buffer);
        let mut column = left;
        for bar in row {
            notes(state, bar, column, top, buffer);
            if let Some(seconds) = place.filter(|_| bar.index == present) {
                let below = top + 2 + strings + 1;
                let column = column + bar.column_at(seconds);
                put(
                    buffer,
                    column,
                    below,
                    moving_mark(state.look),
                    state.look.strong(),
                );
            }
            column += bar.width;
        }
    }
    BARS + rows * height
}

/// The figures and names of a bar, and under them the signs of the last verdicts.
fn notes(state: &ListenState, bar: &BarStrip, left: u16, top: u16, buffer: &mut Buffer) {
    let look = state.look;
    let names = top + 2 + state.tune.instrument.strings().len() as u16;
    for note in &bar.notes {
        let is_here = state
            .listening
            .place
            .is_some_and(|seconds| (seconds - note.start).abs() < 1e-3);
        let style = match is_here {
            true => look.cursor(),
            false => look.plain(),
        };
        figure(note, left, top + 2, style, buffer);
        put(buffer, left + note.column, names, &note.name, style);
        if let Some(judged) = note.note.and_then(|index| state.verdict(index)) {
            let style = match judged.is_sure_fault() {
                true => look.wrong(),
                false => look.plain(),
            };
            put(buffer, left + note.column, names + 1, sign(judged), style);
        }
    }
}

/// How far the strings are off; returns the first row below.
fn tuner(state: &ListenState, area: Rect, buffer: &mut Buffer) -> u16 {
    let look = state.look;
    let cents = match state.struck {
        LastStrike::Named(_, cents) => Some(cents),
        LastStrike::Nothing | LastStrike::Unnamed => None,
    };
    put(
        buffer,
        EDGE,
        BARS,
        "Play open strings, one after another.",
        look.plain(),
    );
    let half = (area.width.min(80) - 2 * EDGE - 1) / 2;
    let wire = if look.ascii { "-" } else { "─" };
    for column in EDGE..=EDGE + 2 * half {
        put(buffer, column, BARS + 3, wire, look.plain());
    }
    put(buffer, EDGE + half, BARS + 2, "in tune", look.plain());
    put(buffer, EDGE + half, BARS + 3, "|", look.strong());
    put(buffer, EDGE, BARS + 2, "flat", look.plain());
    put(buffer, EDGE + 2 * half - 4, BARS + 2, "sharp", look.plain());
    if let Some(cents) = cents {
        let share = (cents / MOST_CENTS).clamp(-1.0, 1.0);
        let column = f32::from(EDGE + half) + share * f32::from(half);
        let mark = moving_mark(look);
        put(buffer, column.round() as u16, BARS + 4, mark, look.strong());
        let words = format!("{:+.0} cents", cents);
        put(buffer, EDGE, BARS + 5, &words, look.strong());
    }
    if let Some(tuner) = &state.listening.tuner {
        let words = format!("The last strings: {}.", tuner.words);
        put(buffer, WORDS, BARS + 5, &words, look.plain());
    }
    BARS + 7
}

/// What was struck last, in large type.
fn struck(state: &ListenState, top: u16, buffer: &mut Buffer) {
    let look = state.look;
    let name = match state.struck {
        _ if state.listening.is_counting_in => "".into(),
        LastStrike::Nothing => String::new(),
        LastStrike::Unnamed => "?".into(),
        LastStrike::Named(pitch, _) => pitch.to_string(),
    };
    for (row, line) in (top..).zip(large(&name, look.ink())) {
        put(buffer, EDGE, row, &line, look.plain());
    }
}

/// The last pass in words.
fn report(state: &ListenState, top: u16, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let Some(report) = &state.report else {
        let words = match state.struck {
            _ if state.listening.is_counting_in => "Count-in.",
            LastStrike::Nothing => "Play: it begins with your first note, anywhere in the tune.",
            _ => "Listening. The verdicts come when the pass ends.",
        };
        let room = usize::from(area.width.saturating_sub(WORDS + EDGE));
        for (row, line) in (top..).zip(wrap(words, room)) {
            put(buffer, WORDS, row, &line, look.plain());
        }
        return;
    };
    let room = usize::from(area.width.saturating_sub(WORDS + EDGE)).min(90);
    let style = match report.is_right {
        Some(true) => look.right(),
        Some(false) => look.wrong(),
        None => look.strong(),
    };
    let heading = format!("Pass {}, {}.", report.number, report.heading);
    let mut lines: Vec<_> = wrap(&heading, room)
        .into_iter()
        .map(|line| (line, style))
        .collect();
    for sentence in &report.sentences {
        lines.extend(
            wrap(sentence, room)
                .into_iter()
                .map(|line| (line, look.plain())),
        );
    }
    let last = area.height.saturating_sub(2);
    for (row, (line, style)) in (top..last).zip(lines) {
        put(buffer, WORDS, row, &line, style);
    }
}
