//! The screen for choosing as it looks. Drawing changes nothing.

use fretlib::neck::{Instrument, Position};
use fretlib::text::{NeckMark, NoteMark};
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::choose_state::{CandidateView, ChooseMode, ChooseState, StopView};
use super::voiced_strip::{VoicedStrip, page_of_bars};
use crate::commands::arrange::hand_sign;
use crate::report::count::count;
use crate::screen::edge_lines::{
    self, BELOW, EDGE, Head, WAY_OUT, drawing_area, fitting, keys_in_words, put,
};
use crate::screen::look::Look;
use crate::screen::neck_view::NeckView;

/// Rows above the bars: title, facts, where the player is, what to mind.
const ABOVE: u16 = 4;
/// Rows of a row of bars beside its strings: numbers, chords, names, marks.
const AROUND_STRINGS: u16 = 4;
/// Columns of the list beside the neck.
const LIST: u16 = 38;
/// The fewest columns of a neck that has the list beside it.
const NARROWEST_NECK: u16 = 38;
/// The fewest rows of a list with a neck below it, its heading included.
const LIST_ABOVE_NECK: u16 = 5;

/// Draws everything.
pub fn draw(state: &ChooseState, frame: &mut Frame) {
    let Some((area, buffer)) = drawing_area(frame, ChooseState::SMALLEST, WAY_OUT, state.look)
    else {
        return;
    };
    head(state, area, buffer);
    if state.mode == ChooseMode::Help {
        help(state, buffer);
    } else {
        let tune = BarsView {
            look: state.look,
            instrument: &state.head.instrument,
            stops: &state.stops,
            stop: state.stop,
        };
        let below = bars(&tune, area, buffer);
        voicings(state, below, buffer);
    }
    foot(state, area, buffer);
}

fn head(state: &ChooseState, area: Rect, buffer: &mut Buffer) {
    let marked = |mark| (state.stops.iter().filter(|it| it.mark == Some(mark))).count();
    let stop = state.stops.get(state.stop);
    let head = Head {
        title: &state.head.title,
        facts: &state.head.facts,
        decided: &format!("{} pinned, {} bare", marked('p'), marked('b')),
        kept: (state.is_changed, state.can_save()),
        here: stop
            .filter(|_| state.mode != ChooseMode::Help)
            .map(|stop| (stop.words.as_str(), stop.caution.as_deref())),
    };
    head.draw(area, state.look, buffer);
}

/// The bars of a tune, stop by stop, and where the player is.
pub(in crate::screen) struct BarsView<'a> {
    pub look: Look,
    pub instrument: &'a Instrument,
    pub stops: &'a [StopView],
    pub stop: usize,
}

/// Draws the bars, and returns what is left below them.
pub(in crate::screen) fn bars(state: &BarsView, area: Rect, buffer: &mut Buffer) -> Rect {
    let strings = state.instrument.strings();
    let height = strings.len() as u16 + AROUND_STRINGS;
    let room = area.height.saturating_sub(ABOVE + BELOW);
    // A second row of bars where a neck and a list keep room below it.
    let rows = if room >= 2 * height + strings.len() as u16 + 3 {
        2
    } else {
        1
    };
    let names = strings.iter().map(|open| open.class().to_string());
    let names: Vec<String> = names.collect();
    let margin = EDGE + names.iter().map(String::len).max().unwrap_or(1) as u16 + 1;
    let width = area.width.saturating_sub(margin + EDGE + 1);
    let mut top = ABOVE;
    let page = page_of_bars(state.stops, state.stop, width, rows);
    for strip in &page {
        for (string, name) in (top + 2..).zip(&names) {
            put(buffer, EDGE, string, name, state.look.plain());
        }
        draw_strip(state, strip, margin, top, buffer);
        top += height;
    }
    let left = area.height.saturating_sub(top + BELOW);
    Rect::new(EDGE, top, area.width - 2 * EDGE, left)
}

fn draw_strip(state: &BarsView, strip: &VoicedStrip, left: u16, top: u16, buffer: &mut Buffer) {
    let look = state.look;
    let (bar_line, wire) = if look.ascii {
        ("|", "-")
    } else {
        ("│", "─")
    };
    let strings = state.instrument.strings().len() as u16;
    let first = top + 2;
    for string in first..first + strings {
        for column in left..left + strip.width {
            put(buffer, column, string, wire, look.faint());
        }
        for column in strip
            .bars
            .iter()
            .map(|(column, _)| *column)
            .chain([strip.width])
        {
            put(buffer, left + column, string, bar_line, look.faint());
        }
    }
    for (column, number) in &strip.bars {
        put(buffer, left + column, top, number, look.plain());
    }
    for (index, column) in &strip.stops {
        let stop = &state.stops[*index];
        let column = left + column;
        let is_here = *index == state.stop;
        let style = if is_here { look.cursor() } else { look.plain() };
        if let Some(chord) = &stop.chord {
            put(buffer, column, top + 1, chord, look.strong());
        }
        for (string, figure) in (first..).zip(&stop.figures) {
            if let Some(figure) = figure {
                put(buffer, column, string, figure, style);
            }
        }
        put(buffer, column, first + strings, &stop.name, style);
        let below = first + strings + 1;
        let arrow = match (is_here, look.ascii) {
            (false, _) => "",
            (true, true) => "^",
            (true, false) => "▲",
        };
        let mark = stop.mark.map(String::from).unwrap_or_default();
        put(
            buffer,
            column,
            below,
            &format!("{arrow}{mark}"),
            look.strong(),
        );
    }
}

/// The list of voicings, and the one that is looked at on the neck.
fn voicings(state: &ChooseState, area: Rect, buffer: &mut Buffer) {
    let strings = state.head.instrument.strings().len() as u16;
    let neck = strings + 2;
    if area.width >= NARROWEST_NECK + LIST && area.height >= neck {
        let (left, right) = (area.width - LIST, area.x + area.width - LIST);
        draw_neck(
            state,
            Rect {
                width: left - 1,
                ..area
            },
            buffer,
        );
        list(state, Rect::new(right, area.y, LIST, area.height), buffer);
    } else if area.height >= LIST_ABOVE_NECK + neck {
        let below = area.height - neck;
        list(
            state,
            Rect {
                height: below,
                ..area
            },
            buffer,
        );
        let area = Rect {
            y: area.y + below,
            height: neck,
            ..area
        };
        draw_neck(state, area, buffer);
    } else {
        list(state, area, buffer);
    }
}

fn draw_neck(state: &ChooseState, area: Rect, buffer: &mut Buffer) {
    let found = state.candidates.shown.get(state.candidate);
    let position = found
        .and_then(|found| found.voicing.position())
        .and_then(|position| Position::new(position).ok());
    let instrument = &state.head.instrument;
    let view = NeckView::new(area, instrument, position, state.look.left_handed);
    let marks = found.map(marks).unwrap_or_default();
    view.draw(buffer, &state.look, instrument, None, &marks, None);
}

/// Fingers on their places, `o` for an open string; the melody's stand out.
fn marks(found: &CandidateView) -> Vec<(NeckMark, bool)> {
    let mark = |at: fretlib::arranging::FingeredPlace| {
        let label = hand_sign(at);
        let mark = NeckMark {
            place: at.place,
            label,
            mark: NoteMark::default(),
        };
        (mark, at == found.voicing.melody)
    };
    found.voicing.places().map(mark).collect()
}

fn list(state: &ChooseState, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let candidates = &state.candidates;
    let line = |buffer: &mut Buffer, row: u16, text: &str, style: Style| {
        put(
            buffer,
            area.x,
            area.y + row,
            &fitting(text, area.width),
            style,
        );
    };
    if candidates.shown.is_empty() {
        line(buffer, 0, &candidates.why_none, look.strong());
        return;
    }
    let words: Vec<String> = state.filters.iter().map(ToString::to_string).collect();
    let mut heading = count(candidates.total, "voicing");
    if !words.is_empty() {
        heading = format!("{heading}: {}", words.join(", "));
    }
    line(buffer, 0, &heading, look.strong());
    let rows = usize::from(area.height.saturating_sub(1)).max(1);
    // The one that is looked at stays in the middle where it can.
    let first = state
        .candidate
        .saturating_sub(rows / 2)
        .min(candidates.shown.len().saturating_sub(rows));
    for (row, (index, it)) in (1..).zip(candidates.shown.iter().enumerate().skip(first).take(rows))
    {
        let is_here = index == state.candidate;
        let more = if it.is_present {
            "now".into()
        } else {
            format!("{:+.1}", it.more)
        };
        let text = format!(
            "{}{}{:<18}{more:>5}  {}",
            if is_here { ">" } else { " " },
            if it.is_wide { "~" } else { " " },
            it.shape,
            it.degrees
        );
        let style = if is_here {
            look.strong().add_modifier(Modifier::REVERSED)
        } else {
            look.plain()
        };
        line(buffer, row, &text, style);
    }
}

fn foot(state: &ChooseState, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let text = match (&state.notice, state.mode) {
        (_, ChooseMode::Leaving) if state.can_save() => {
            "What was chosen is not saved. Leave?".into()
        }
        (_, ChooseMode::Leaving) => {
            "What was chosen is lost: no file to save to (`--choices FILE`). Leave?".into()
        }
        (_, ChooseMode::Typing) => {
            let cursor = if look.ascii { "_" } else { "▏" };
            match &state.unreadable {
                Some(_) if !state.filter.is_empty() => {
                    format!(
                        "/{}{cursor}   like no root, top 2 strings, max 3 fingers",
                        state.filter
                    )
                }
                _ => format!("/{}{cursor}", state.filter),
            }
        }
        (Some(notice), _) => notice.clone(),
        (None, _) => match &state.unreadable {
            Some(why) => why.clone(),
            None => String::new(),
        },
    };
    let keys = match state.mode {
        ChooseMode::Help => "any key goes back",
        ChooseMode::Leaving if state.can_save() => {
            "s saves and leaves   d leaves without   any other key stays"
        }
        ChooseMode::Leaving => "d leaves without   any other key stays",
        ChooseMode::Typing => "Enter keeps it   Esc shows all again",
        ChooseMode::Choosing => "Enter picks  p pins  b bare  u undo  / filter  s saves  ? keys",
    };
    edge_lines::foot(&text, keys, area, look, buffer);
}

fn help(state: &ChooseState, buffer: &mut Buffer) {
    const LINES: [(&str, &str); 15] = [
        ("left, right", "one note back, one note on"),
        (
            "[ and ]",
            "one bar back, one bar on; also Page Up, Page Down",
        ),
        (
            "up, down",
            "through the voicings; the neck shows the one here",
        ),
        ("Enter", "picks it; the rest is searched again around it"),
        ("p", "pins what sounds now, or lets it go"),
        ("b", "leaves the note bare, or puts a voicing back"),
        ("u and r", "undo and redo"),
        (
            "/",
            "only voicings like: no root, top 2 strings, keep bass,",
        ),
        ("", "max 3 fingers, max 3 notes, max 60 mm, complete ..."),
        (
            "space and h",
            "hear this voicing; hear this bar and the next",
        ),
        ("s", "saves what was chosen beside the tune"),
        ("q, Esc, Ctrl-C", "leave"),
        ("p b !", "under a note: pinned, left bare, does not fit"),
        ("~ (8)", "past comfortable reach; goes on from before"),
        ("", "Stop at the first pain; rest ten minutes an hour."),
    ];
    keys_in_words(&LINES, state.look, buffer);
}
