//! The screen as it looks. Drawing changes nothing.

use std::time::Duration;

use fretlib::practice::{Kind, Question, Task, Verdict};
use fretlib::text::{NeckMark, NoteMark};
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::lettering::large;
use super::state::{Overlay, Phase, QuestionView, State};
use crate::session::Count;

/// A streak is worth a word from here on.
const STREAK: u32 = 5;

/// Draws everything.
pub fn render(state: &State, frame: &mut Frame) {
    let area = frame.area();
    let buffer = frame.buffer_mut();
    let smallest = state.smallest();
    if area.width < smallest.0 || area.height < smallest.1 {
        too_small(state, area, buffer);
        return;
    }
    head(state, area, buffer);
    match (state.phase == Phase::Over, state.overlay) {
        (true, _) => over(state, area, buffer),
        (_, Overlay::Pause) => pause(state, area, buffer),
        (_, Overlay::Help) => help(state, area, buffer),
        (_, Overlay::None) => question(state, area, buffer),
    }
    keys(state, area, buffer);
}

/// Writes text that is cut at the right edge.
fn put(buffer: &mut Buffer, column: u16, row: u16, text: &str, style: Style) {
    let area = buffer.area;
    if row < area.bottom() && column < area.right() {
        buffer.set_stringn(column, row, text, usize::from(area.right() - column), style);
    }
}

fn too_small(state: &State, area: Rect, buffer: &mut Buffer) {
    let (columns, rows) = state.smallest();
    let message = format!(
        "needs {columns} x {rows}, this is {} x {}",
        area.width, area.height
    );
    put(buffer, 1, area.height / 2, &message, state.look.strong());
    put(
        buffer,
        1,
        area.height / 2 + 1,
        "make the window larger, or leave with q",
        state.look.plain(),
    );
}

fn clock(time: Duration) -> String {
    let seconds = time.as_secs();
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// Tune and phrase at the left, how the session goes at the right.
fn head(state: &State, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let tune = state.view.as_ref().map_or("", |view| view.tune.as_str());
    put(buffer, 2, 0, tune, look.strong());
    let number = state.view.as_ref().map_or(0, |view| view.number);
    let of = state
        .most
        .map_or(String::new(), |most| format!(" of {most}"));
    let mut right = String::new();
    if state.tally.streak >= STREAK {
        right.push_str(&format!("{} in a row   ", state.tally.streak));
    }
    let Count {
        asked,
        right: rights,
    } = state.tally.all;
    right.push_str(&format!(
        "{rights}/{asked} right   no. {number}{of}   {}",
        clock(state.in_session)
    ));
    let column = area.width.saturating_sub(right.chars().count() as u16 + 2);
    put(buffer, column, 0, &right, look.faint());
}

fn question(state: &State, area: Rect, buffer: &mut Buffer) {
    let Some(view) = &state.view else {
        return;
    };
    let look = state.look;
    put(buffer, 2, 1, &view.wording.whereabouts, look.faint());
    let spent = clock(state.on_question);
    put(
        buffer,
        area.width.saturating_sub(spent.len() as u16 + 2),
        1,
        &spent,
        look.faint(),
    );
    headline(state, view, area, buffer);
    put(buffer, 2, 8, &view.wording.question, look.strong());
    let Some(neck) = state.neck() else {
        return;
    };
    let is_asking = state.phase == Phase::Asking;
    let marks = if is_asking {
        shown_marks(view)
    } else {
        answer_marks(state, view)
    };
    let cursor = (is_asking && state.answers_with_a_place()).then_some(state.cursor);
    neck.draw(buffer, &look, &view.instrument, &marks, cursor);
    answer(state, view, area, buffer);
}

/// The subject in large type and, at the right, the position in large type where the question has one.
fn headline(state: &State, view: &QuestionView, area: Rect, buffer: &mut Buffer) {
    let style = state.look.strong();
    let rows = large(&view.headline, state.look.ink());
    let width = rows[0].chars().count() as u16;
    for (row, text) in (2..).zip(&rows) {
        put(buffer, 2, row, text, style);
    }
    let Some(position) = view.question.spot.map(|spot| spot.position.to_string()) else {
        return;
    };
    let rows = large(&position, state.look.ink());
    let column = area
        .width
        .saturating_sub(rows[0].chars().count() as u16 + 2);
    if column > width + 6 {
        for (row, text) in (2..).zip(&rows) {
            put(buffer, column, row, text, state.look.wood());
        }
    }
}

/// What is shown with the question: the place it speaks of.
fn shown_marks(view: &QuestionView) -> Vec<(NeckMark, bool)> {
    let Some(place) = view.question.shown_place() else {
        return Vec::new();
    };
    let label = match view.question.kind() {
        Kind::Name => " ? ".to_string(),
        _ => match &view.question.task {
            Task::Next { pitch, .. } => pitch.class().to_string(),
            Task::Octave { pitch, .. } => pitch.class().to_string(),
            _ => String::new(),
        },
    };
    let mark = NeckMark {
        place,
        label,
        mark: NoteMark::default(),
    };
    vec![(mark, true)]
}

/// What is shown with the answer: the phrase around it, and the place the player took for it.
fn answer_marks(state: &State, view: &QuestionView) -> Vec<(NeckMark, bool)> {
    let mut marks = view.phrase_marks.clone();
    if let (Phase::Answered { verdict, .. }, Some(place)) = (&state.phase, state.given)
        && matches!(verdict, Some(Verdict::Wrong(_)))
    {
        let mark = NeckMark {
            place,
            label: "x".into(),
            mark: NoteMark::default(),
        };
        marks.insert(0, (mark, false));
        marks.retain(|(mark, is_answer)| *is_answer || mark.place != place || mark.label == "x");
    }
    marks
}

/// The line that is typed, or how the answer was; then a remark.
fn answer(state: &State, view: &QuestionView, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let row = area.height - State::BELOW_NECK;
    match &state.phase {
        Phase::Asking => {
            put(
                buffer,
                2,
                row,
                &format!("answer  {}_", state.typed),
                look.strong(),
            );
            let below = match (&state.notice, &state.unclear) {
                (_, Some(unclear)) => unclear.clone(),
                (Some(notice), None) => notice.clone(),
                (None, None) => view.wording.form.to_string(),
            };
            put(buffer, 2, row + 1, &below, look.faint());
        }
        Phase::Answered { verdict, remark } => {
            let right = view.question.answer_in_words();
            let (text, style) = match verdict {
                Some(Verdict::Right) => (format!("right: {right}"), look.right()),
                Some(Verdict::Respelled) => (format!("right: {right}"), look.right()),
                Some(Verdict::Wrong(_)) => (format!("wrong: it is {right}"), look.wrong()),
                None => (format!("it is {right}"), look.strong()),
            };
            put(buffer, 2, row, &text, style);
            put(
                buffer,
                2,
                row + 1,
                remark.as_deref().unwrap_or_default(),
                look.plain(),
            );
        }
        Phase::Over => {}
    }
}

fn keys(state: &State, area: Rect, buffer: &mut Buffer) {
    let keys = match (&state.phase, state.overlay) {
        (Phase::Over, _) => "any key leaves",
        (_, Overlay::Pause) => "any key goes on   q leaves",
        (_, Overlay::Help) => "any key goes back",
        (Phase::Asking, _) => {
            "Enter answers  ? shows it  Backspace takes back  Tab pauses  F1 keys  q leaves"
        }
        (Phase::Answered { .. }, _) => {
            "any key goes on   Backspace takes the answer back   F1 keys   q leaves"
        }
    };
    put(buffer, 2, area.height - 1, keys, state.look.faint());
}

fn pause(state: &State, area: Rect, buffer: &mut Buffer) {
    let middle = area.height / 2;
    put(
        buffer,
        2,
        middle,
        "Pause. The clock stands still.",
        state.look.strong(),
    );
    put(
        buffer,
        2,
        middle + 1,
        "Rest the hand; stop for the day when it hurts.",
        state.look.plain(),
    );
}

fn help(state: &State, _: Rect, buffer: &mut Buffer) {
    const LINES: [(&str, &str); 11] = [
        ("a place", "type string and fret, such as 3 5, then Enter"),
        ("", "or move with the arrow keys, then Enter"),
        ("", "or click on the neck"),
        ("a note", "Eb, e flat; with its degree: Eb b3; then Enter"),
        ("a degree", "b3, #4, 5: no Enter needed"),
        ("an interval", "m3, P5 down, major second; then Enter"),
        (
            "in the scale",
            "y, or n and the degree: n #4; no Enter needed",
        ),
        ("?", "shows the answer; it counts as wrong"),
        ("Backspace", "on an empty line takes the last answer back"),
        ("Tab", "pauses"),
        ("q, Esc, Ctrl-C", "leave; every answer is kept already"),
    ];
    for (row, (key, text)) in (2..).zip(LINES) {
        put(buffer, 2, row, key, state.look.strong());
        put(buffer, 18, row, text, state.look.plain());
    }
}

fn over(state: &State, area: Rect, buffer: &mut Buffer) {
    let Count { asked, right } = state.tally.all;
    let look = state.look;
    put(
        buffer,
        2,
        2,
        &format!("{right} of {asked} right in {}", clock(state.in_session)),
        look.strong(),
    );
    let kinds = state
        .tally
        .kinds
        .iter()
        .map(|(kind, count)| (kind.to_string(), *count));
    let positions = state
        .tally
        .positions
        .iter()
        .map(|(position, count)| (position.to_string(), *count));
    let counted = kinds.chain(positions).filter(|(_, count)| count.asked > 0);
    for (row, (name, count)) in (4..area.height - 2).zip(counted) {
        put(
            buffer,
            2,
            row,
            &format!("{name:<10} {:>3} of {:>3}", count.right, count.asked),
            look.plain(),
        );
    }
}

/// The subject of a question in the letters of large type.
pub fn headline_of(question: &Question) -> String {
    match &question.task {
        Task::Place { pitch, .. } => pitch.to_string(),
        Task::Name { place, .. } => format!("{place} ?"),
        Task::Degree { pitch, .. } | Task::Scale { pitch, .. } => format!("{} ?", pitch.class()),
        Task::Interval { from, .. } => format!("{from} > ?"),
        Task::Next { pitch, .. } => format!("{} > ?", pitch.class()),
        Task::Octave { pitch, shown, .. } => {
            let is_lower = question.spot.is_some_and(|spot| spot.octave < shown.octave);
            let octave = pitch.octave() + if is_lower { 1 } else { -1 };
            format!("{}{octave} > {pitch}", pitch.class())
        }
    }
}

#[cfg(test)]
mod tests {
    use fretlib::text::Role;

    use super::*;

    #[test]
    fn nothing_is_said_by_colour_alone() {
        let sign = |role| {
            let mark = NoteMark {
                role,
                stretch: false,
            };
            mark.sign("1")
        };
        let signs = [Role::Plain, Role::Tonic, Role::Outside, Role::Raised].map(sign);
        for (index, sign) in signs.iter().enumerate() {
            assert!(!signs[..index].contains(sign), "{sign}");
        }
    }
}
