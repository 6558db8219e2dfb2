//! The screen for pinning as it looks. Drawing changes nothing.

use fretlib::text::{NeckMark, NoteMark};
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::pin_state::{PinMode, PinState};
use crate::report::count::count;
use crate::screen::choosing::choose_drawing::{BarsView, bars};
use crate::screen::edge_lines::{self, Head, WAY_OUT, drawing_area, fitting, keys_in_words, put};
use crate::screen::neck_view::NeckView;

/// Columns of the list beside the neck.
const LIST: u16 = 38;
/// The fewest columns of a neck that has the list beside it.
const NARROWEST_NECK: u16 = 37;

/// Draws everything.
pub fn draw(state: &PinState, frame: &mut Frame) {
    let Some((area, buffer)) = drawing_area(frame, PinState::SMALLEST, WAY_OUT, state.look) else {
        return;
    };
    head(state, area, buffer);
    if state.mode == PinMode::Help {
        help(state, buffer);
    } else {
        let tune = BarsView {
            look: state.look,
            instrument: &state.head.instrument,
            stops: &state.fingering.stops,
            stop: state.note,
        };
        let below = bars(&tune, area, buffer);
        places(state, below, buffer);
    }
    foot(state, area, buffer);
}

fn head(state: &PinState, area: Rect, buffer: &mut Buffer) {
    let fingering = &state.fingering;
    let shifts = count(fingering.shifts, "shift");
    let home = match fingering.homes.is_empty() {
        true => String::new(),
        false => format!(", home {}", fingering.homes),
    };
    let stop = fingering.stops.get(state.note);
    let head = Head {
        title: &state.head.title,
        facts: &format!("{}{home}", state.head.facts),
        decided: &format!("{shifts}, {} pinned", fingering.pinned),
        kept: (fingering.is_changed, state.can_save),
        here: stop
            .filter(|_| state.mode != PinMode::Help)
            .map(|stop| (stop.words.as_str(), state.caution)),
    };
    head.draw(area, state.look, buffer);
}

/// The list of places, and all of them on the neck.
fn places(state: &PinState, area: Rect, buffer: &mut Buffer) {
    let strings = state.head.instrument.strings().len() as u16;
    let neck = strings + 2;
    if area.width >= NARROWEST_NECK + LIST && area.height >= neck {
        let left = Rect {
            width: area.width - LIST - 1,
            ..area
        };
        draw_neck(state, left, buffer);
        let right = Rect {
            x: area.x + area.width - LIST,
            width: LIST,
            ..area
        };
        list(state, right, buffer);
        return;
    }
    let lines = (state.places.len() as u16 + 1).min(area.height);
    let above = Rect {
        height: lines,
        ..area
    };
    list(state, above, buffer);
    if area.height >= lines + neck {
        let below = Rect {
            y: area.y + lines,
            height: area.height - lines,
            ..area
        };
        draw_neck(state, below, buffer);
    }
}

fn draw_neck(state: &PinState, area: Rect, buffer: &mut Buffer) {
    let looked_at = state.places.get(state.place);
    let instrument = &state.head.instrument;
    let position = looked_at.map(|it| it.note.position);
    let view = NeckView::new(area, instrument, position, state.look.left_handed);
    let marks: Vec<(NeckMark, bool)> = (state.places.iter().enumerate())
        .map(|(index, it)| {
            let finger = (it.note.finger).map_or("o".into(), |finger| finger.to_string());
            let mark = NeckMark {
                place: it.note.place,
                label: if it.is_present {
                    format!("[{finger}]")
                } else {
                    finger
                },
                mark: NoteMark::default(),
            };
            (mark, index == state.place)
        })
        .collect();
    view.draw(buffer, &state.look, instrument, position, &marks, None);
}

fn list(state: &PinState, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let heading = count(state.places.len(), "place");
    put(buffer, area.x, area.y, &heading, look.strong());
    let rows = usize::from(area.height.saturating_sub(1)).max(1);
    let first = (state.place.saturating_sub(rows / 2)).min(state.places.len().saturating_sub(rows));
    let shown = state.places.iter().enumerate().skip(first).take(rows);
    for (row, (index, it)) in (1..).zip(shown) {
        let is_here = index == state.place;
        let finger = it
            .note
            .finger
            .map_or("open".into(), |finger| format!("finger {finger}"));
        let shifts = it
            .shifts
            .map_or(String::new(), |shifts| count(shifts, "shift"));
        let text = format!(
            "{}{:<6}{finger:<9}{:<6}{}",
            if is_here { "> " } else { "  " },
            it.note.place.to_string(),
            it.note.position.to_string(),
            if it.is_present {
                format!("now, {shifts}")
            } else {
                shifts
            }
        );
        let style = match is_here {
            true => look.strong().add_modifier(Modifier::REVERSED),
            false => look.plain(),
        };
        put(
            buffer,
            area.x,
            area.y + row,
            &fitting(&text, area.width),
            style,
        );
    }
}

fn foot(state: &PinState, area: Rect, buffer: &mut Buffer) {
    let text = match (&state.notice, state.mode) {
        (_, PinMode::Leaving) if state.can_save => "This fingering is not saved. Leave?",
        (_, PinMode::Leaving) => "This fingering is lost: the tune lies in no file. Leave?",
        (Some(notice), _) => notice,
        (None, _) => "",
    };
    let keys = match state.mode {
        PinMode::Help => "any key goes back",
        PinMode::Leaving if state.can_save => {
            "s saves and leaves   d leaves without   any other key stays"
        }
        PinMode::Leaving => "d leaves without   any other key stays",
        PinMode::Pinning => "up, down  p pins  h home here  u undo  s saves  ? keys",
    };
    edge_lines::foot(text, keys, area, state.look, buffer);
}

fn help(state: &PinState, buffer: &mut Buffer) {
    const LINES: [(&str, &str); 14] = [
        ("left, right", "one note back, one note on"),
        (
            "[ and ]",
            "one bar back, one bar on; also Page Up, Page Down",
        ),
        (
            "up, down",
            "through the places of the note, from the nut up",
        ),
        ("p, Enter", "pins the note there; pressed again lets it go"),
        ("h", "the hand is at home here from this bar on"),
        ("", "pressed again takes that back"),
        ("u and r", "undo and redo"),
        ("s", "saves the fingering beside the tune"),
        ("q, Esc, Ctrl-C", "leave"),
        ("VII", "over the strings: the position the hand comes to"),
        (
            "1 to 4, o",
            "under the strings: the finger, the open string",
        ),
        ("p", "under the finger: pinned"),
        ("[2]", "on the neck: where it is played now"),
        ("", "Stop at the first pain; rest ten minutes an hour."),
    ];
    keys_in_words(&LINES, state.look, buffer);
}
