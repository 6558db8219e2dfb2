//! Drawing the screen. Drawing changes nothing.

use std::time::Duration;

use fretlib::practice::{ArrangedTask, Kind, Question, Task, Verdict};
use fretlib::text::{NeckMark, NoteMark, StyledText};
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::edge_lines::put;
use super::lettering::large;
use super::neck_view::NeckView;
use super::state::{LessonView, Overlay, Phase, QuestionView, State};
use crate::commands::drill::by_playing::how_to_play;
use crate::report::wrap::wrap;
use crate::session::Count;

/// A streak is mentioned from here on.
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
    match (&state.phase, state.overlay) {
        (Phase::Over, _) => over(state, area, buffer),
        (_, Overlay::Pause) => pause(state, area, buffer),
        (_, Overlay::Help) => help(state, area, buffer),
        (Phase::Learning(stage), Overlay::None) => lesson(state, *stage, area, buffer),
        (Phase::Asking | Phase::Answered { .. }, Overlay::None) => question(state, area, buffer),
    }
    keys(state, area, buffer);
}

/// Writes lines of text, at most `most`.
fn put_text(state: &State, buffer: &mut Buffer, row: u16, most: u16, text: &StyledText) {
    for (row, line) in (row..row + most).zip(text.lines()) {
        let mut column = 2;
        for span in line.spans() {
            put(buffer, column, row, &span.text, state.look.role(span.role));
            column += span.text.chars().count() as u16;
        }
    }
}

/// Writes words in as many lines as needed, at most `most`.
fn put_wrapped(buffer: &mut Buffer, row: u16, most: u16, words: &str, style: Style) {
    let width = usize::from(buffer.area.width.saturating_sub(4));
    for (row, line) in (row..row + most).zip(wrap(words, width)) {
        put(buffer, 2, row, &line, style);
    }
}

fn too_small(state: &State, area: Rect, buffer: &mut Buffer) {
    let (columns, rows) = state.smallest();
    let lines = [
        format!(
            "needs {columns} x {rows}, this is {} x {}",
            area.width, area.height
        ),
        "make the window larger, or leave with q:".into(),
        "with --plain the drill goes line by line".into(),
    ];
    for (row, line) in (area.height.saturating_sub(2) / 2..).zip(lines) {
        put(buffer, 1, row, &line, state.look.strong());
    }
}

fn clock(time: Duration) -> String {
    let seconds = time.as_secs();
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// The tune at the left, how the session goes at the right.
fn head(state: &State, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let tune = state.view.as_ref().map_or("", |view| view.tune.as_str());
    let mut right = String::new();
    if state.tally.streak >= STREAK {
        right.push_str(&format!("{} in a row   ", state.tally.streak));
    }
    let all = state.tally.all;
    if all.asked > 0 {
        right.push_str(&format!("{} of {} right   ", all.right, all.asked));
    }
    right.push_str(&format!("time {}", clock(state.in_session)));
    let column = area.width.saturating_sub(right.chars().count() as u16 + 2);
    let room = usize::from(column.saturating_sub(4));
    let title: String = match tune.chars().count() > room {
        true => tune
            .chars()
            .take(room.saturating_sub(1))
            .chain(['…'])
            .collect(),
        false => tune.to_string(),
    };
    put(buffer, 2, 0, &title, look.strong());
    put(buffer, column, 0, &right, look.plain());
}

fn question(state: &State, area: Rect, buffer: &mut Buffer) {
    let Some(view) = &state.view else {
        return;
    };
    let look = state.look;
    let whereabouts = match look.ascii {
        true => view.wording.whereabouts.replace('·', "-"),
        false => view.wording.whereabouts.clone(),
    };
    put(buffer, 2, 1, &whereabouts, look.plain());
    let is_asking = state.phase == Phase::Asking;
    let strip = match &view.answer_strip {
        Some(strip) if !is_asking => strip,
        _ => &view.strip,
    };
    let strip = strip.draw(usize::from(area.width - 4), look.ascii);
    put_text(state, buffer, 2, 2, &strip);
    if state.has_large_type() {
        headline(state, view, area, buffer);
    }
    let row = state.above_neck() - 2;
    put_wrapped(buffer, row, 2, &view.wording.question, look.strong());
    let (Some(neck), Some(neck_area)) = (state.neck(), state.neck_area()) else {
        return;
    };
    if is_asking && !view.choices.is_empty() {
        choices(view, neck_area, look.plain(), buffer);
        return answer(state, view, area, buffer);
    }
    let marks = if is_asking {
        shown_marks(view)
    } else {
        answer_marks(state, view)
    };
    let cursor = (is_asking && state.has_cursor()).then_some(state.cursor);
    let framed = view.question.placement.map(|it| it.position);
    neck.draw(buffer, &look, &view.instrument, framed, &marks, cursor);
    answer(state, view, area, buffer);
}

/// What there is to choose from, where the neck will be.
fn choices(view: &QuestionView, room: Rect, style: Style, buffer: &mut Buffer) {
    let width = usize::from(room.width);
    for (row, choice) in (room.y..room.bottom()).zip(&view.choices) {
        let choice: String = match choice.chars().count() > width {
            true => choice
                .chars()
                .take(width - 3)
                .chain("...".chars())
                .collect(),
            false => choice.clone(),
        };
        put(buffer, room.x, row, &choice, style);
    }
}

/// A phrase to be learned: the strip, the tablature and the neck. Where they do not all fit, the tablature, which has the note
/// names too, stands without the strip; or without the neck.
fn lesson(state: &State, stage: usize, area: Rect, buffer: &mut Buffer) {
    /// Rows of the title and the heading, and of the strip with them.
    const TITLES: u16 = 2;
    const STRIP: u16 = 5;
    let Some((lesson, stage)) = state
        .lesson
        .as_ref()
        .and_then(|lesson| Some((lesson, lesson.stages.get(stage)?)))
    else {
        return;
    };
    let look = state.look;
    put(buffer, 2, 1, &lesson.heading, look.strong());
    let last = area.height - State::BELOW_NECK;
    let is_first = matches!(state.phase, Phase::Learning(0));
    let tablature = lesson.tablature.as_ref().filter(|_| is_first);
    let height = tablature.map_or(0, |it| it.lines().len() as u16);
    let neck = smallest_neck(lesson);
    let strip_fits = STRIP + height + neck <= last;
    let is_without_strip = !strip_fits && height > 0 && TITLES + height + neck <= last;
    let mut row = TITLES;
    if !is_without_strip {
        let strip = stage.strip.draw(usize::from(area.width - 4), look.ascii);
        put_text(state, buffer, row, 2, &strip);
        row = STRIP;
    }
    if let Some(tablature) = tablature
        && row + height <= last
    {
        put_text(state, buffer, row, height, tablature);
        row += height;
    }
    lesson_neck(
        state,
        lesson,
        &stage.marks,
        Rect::new(2, row, area.width - 4, last - row),
        buffer,
    );
    put_wrapped(buffer, last, 2, stage.instruction, look.strong());
}

/// The rows of a neck without wood between the strings.
fn smallest_neck(lesson: &LessonView) -> u16 {
    lesson.instrument.strings().len() as u16 + 2
}

fn lesson_neck(
    state: &State,
    lesson: &LessonView,
    marks: &[NeckMark],
    room: Rect,
    buffer: &mut Buffer,
) {
    let height = NeckView::height(&lesson.instrument, room.height).min(room.height);
    if height < smallest_neck(lesson) {
        return;
    }
    let neck = NeckView::new(
        Rect { height, ..room },
        &lesson.instrument,
        lesson.position,
        state.look.left_handed,
    );
    let marks: Vec<(NeckMark, bool)> = marks.iter().map(|mark| (mark.clone(), false)).collect();
    neck.draw(
        buffer,
        &state.look,
        &lesson.instrument,
        lesson.position,
        &marks,
        None,
    );
}

/// The subject in large type and, at the right, the position in large type if the question has one.
fn headline(state: &State, view: &QuestionView, area: Rect, buffer: &mut Buffer) {
    let style = state.look.strong();
    let rows = large(&view.headline, state.look.ink());
    let width = rows[0].chars().count() as u16;
    for (row, text) in (4..).zip(&rows) {
        put(buffer, 2, row, text, style);
    }
    let Some(position) = view.question.placement.map(|it| it.position.to_string()) else {
        return;
    };
    let rows = large(&position, state.look.ink());
    let column = area
        .width
        .saturating_sub(rows[0].chars().count() as u16 + 2);
    if column > width + 6 {
        for (row, text) in (4..).zip(&rows) {
            put(buffer, column, row, text, state.look.plain());
        }
    }
}

/// The marks shown with the question: its place.
fn shown_marks(view: &QuestionView) -> Vec<(NeckMark, bool)> {
    let Some(place) = view.question.shown_place() else {
        return Vec::new();
    };
    let label = match view.question.kind() {
        Kind::Name => " ? ".to_string(),
        _ => match &view.question.task {
            Task::Next { pitch, .. } => pitch.class().to_string(),
            Task::Octave { pitch, .. } => pitch.class().to_string(),
            Task::Arranged(ArrangedTask::Line { pitch, .. }) => pitch.class().to_string(),
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

/// The marks shown with the answer: the phrase around it, and the player's place.
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

/// The typed line, or the verdict; then a remark.
fn answer(state: &State, view: &QuestionView, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let row = area.height - State::BELOW_NECK;
    match &state.phase {
        Phase::Asking => {
            // An answer can be typed while one is listened for, but nobody is asked to.
            let line = match state.listens && state.typed.is_empty() {
                true => how_to_play(&view.question).to_string(),
                false => format!("answer  {}_", state.typed),
            };
            put(buffer, 2, row, &line, look.strong());
            let below = match (&state.notice, &state.unclear) {
                (_, Some(unclear)) => unclear.clone(),
                (Some(notice), None) => notice.clone(),
                (None, None) if state.listens && state.typed.is_empty() => String::new(),
                (None, None) => view.wording.form.to_string(),
            };
            put(buffer, 2, row + 1, &below, look.faint());
        }
        Phase::Answered { verdict, remark } => {
            let style = match verdict {
                Some(Verdict::Right | Verdict::Respelled(_)) => look.right(),
                Some(Verdict::Wrong(_)) => look.wrong(),
                None => look.strong(),
            };
            let told = view.question.verdict_in_words(*verdict);
            let mut lines = wrap(&told, usize::from(area.width - 4));
            lines.extend(remark.clone());
            for (row, line) in (row..row + 2).zip(lines) {
                put(buffer, 2, row, &line, style);
            }
        }
        Phase::Learning(_) | Phase::Over => {}
    }
}

fn keys(state: &State, area: Rect, buffer: &mut Buffer) {
    let is_narrow = area.width < 80;
    let keys = match (&state.phase, state.overlay) {
        (Phase::Over, _) => "any key leaves",
        (_, Overlay::Pause) => "any key goes on   q leaves",
        (_, Overlay::Help) => "any key goes back",
        (Phase::Learning(_), _) => "any key goes on   s skips to the question   q leaves",
        (Phase::Asking, _) if state.listens && state.look.ascii => {
            "(*) microphone open: play the answer  ? shows it  q leaves"
        }
        (Phase::Asking, _) if state.listens => {
            "● microphone open: play the answer  ? shows it  q leaves"
        }
        (Phase::Answered { .. }, _) if state.listens && state.look.ascii => {
            "(*) microphone open  any key goes on  q leaves"
        }
        (Phase::Answered { .. }, _) if state.listens => {
            "● microphone open  any key goes on  q leaves"
        }
        (Phase::Asking, _) if state.is_heard() && is_narrow => {
            "Enter answers  r plays it again  ? shows it  q leaves"
        }
        (Phase::Asking, _) if state.is_heard() => {
            "Enter answers  r plays it again  ? shows it  Tab pauses  F1 keys  q leaves"
        }
        (Phase::Answered { .. }, _) if state.is_heard() && is_narrow => {
            "any key goes on  r plays it again  q leaves"
        }
        (Phase::Answered { .. }, _) if state.is_heard() => {
            "any key goes on   r plays it again   Backspace takes it back   q leaves"
        }
        (Phase::Asking, _) if is_narrow || !state.has_answer => {
            "Enter answers  ? shows it  Tab pauses  F1 keys  q leaves"
        }
        (Phase::Asking, _) => {
            "Enter answers  ? shows it  Backspace takes back  Tab pauses  F1 keys  q leaves"
        }
        (Phase::Answered { .. }, _) if is_narrow => {
            "any key goes on  Backspace takes back  q leaves"
        }
        (Phase::Answered { .. }, _) => {
            "any key goes on   Backspace takes the answer back   F1 keys   q leaves"
        }
    };
    put(buffer, 2, area.height - 1, keys, state.look.plain());
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
    const LINES: [(&str, &str); 13] = [
        ("a place", "string and fret, such as 3 5, or G 5; Enter"),
        ("", "or move with the arrow keys, then Enter"),
        ("", "or click on the neck"),
        ("a note", "Eb, e flat; with its degree: Eb b3; Enter"),
        ("a degree", "b3, #4, flat seven; Enter"),
        ("an interval", "m3, P5 down, major second; Enter"),
        ("in the scale", "yes, or no and the degree: no #4; Enter"),
        ("r", "plays a question by ear or its answer again"),
        ("?", "shows the answer; it counts as wrong"),
        ("Backspace", "on an empty line takes the last answer back"),
        ("Tab", "pauses"),
        ("s", "skips what is left of a lesson"),
        ("q, Esc, Ctrl-C", "leave; every answer is kept already"),
    ];
    for (row, (key, text)) in (2..).zip(LINES) {
        put(buffer, 2, row, key, state.look.strong());
        put(buffer, 17, row, text, state.look.plain());
    }
}

fn over(state: &State, area: Rect, buffer: &mut Buffer) {
    let look = state.look;
    let Count { asked, .. } = state.tally.all;
    if asked == 0 {
        let words = state.notice.as_deref();
        let words = words.unwrap_or("nothing to play again today");
        put(buffer, 2, 2, words, look.strong());
        return;
    }
    let width = usize::from(area.width - 4);
    // What ended the session early is said with what it came to.
    let lines = { state.summary.lines.iter() }.chain(&state.notice);
    let lines = lines.flat_map(|line| wrap(line, width));
    for (row, line) in (2..area.height - 2).zip(lines) {
        put(buffer, 2, row, &line, look.strong());
    }
}

/// The subject of a question in the letters of large type.
pub fn headline_of(question: &Question) -> String {
    match &question.task {
        _ if question.is_heard() => "?".into(),
        Task::Phrase { .. } => "?".into(),
        Task::Arranged(ArrangedTask::Line { pitch, .. }) => format!("{} > ?", pitch.class()),
        Task::Arranged(
            ArrangedTask::Under(it) | ArrangedTask::Stays(it) | ArrangedTask::LeftOut(it),
        ) => format!("{} / ?", it.melody.0.class()),
        Task::Place { pitch, .. } => format!("{} ?", pitch.class()),
        Task::Name { place, .. } => format!("{place} ?"),
        Task::Degree { pitch, .. } | Task::Scale { pitch, .. } => format!("{} ?", pitch.class()),
        Task::Interval { from, .. } => format!("{} > ?", from.class()),
        Task::Next { pitch, .. } => format!("{} > ?", pitch.class()),
        Task::Octave { pitch, shown, .. } => {
            let is_lower = question
                .placement
                .is_some_and(|it| it.octave < shown.octave);
            format!("{} {}", pitch.class(), if is_lower { "-8" } else { "+8" })
        }
    }
}

#[cfg(test)]
mod tests {
    use fretlib::text::Role;

    use super::*;

    #[test]
    fn no_meaning_depends_on_colour_alone() {
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
