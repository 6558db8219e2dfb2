//! Lines of text on a screen, and those at the edges of one about a tune.

use fretlib::is_visible;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::look::Look;
use crate::report::heading::title_or_untitled;

/// Columns left and right of everything.
pub const EDGE: u16 = 2;
/// Rows below all: a notice, keys.
pub const BELOW: u16 = 2;
/// Where the words about a key begin.
const KEY: u16 = 18;

/// Writes text, cut at the right edge and without invisible characters, as on a stream.
pub fn put(buffer: &mut Buffer, column: u16, row: u16, text: &str, style: Style) {
    let area = buffer.area;
    if row < area.bottom() && column < area.right() {
        let text: String = text.chars().filter(|c| is_visible(*c)).collect();
        buffer.set_stringn(column, row, text, usize::from(area.right() - column), style);
    }
}

/// At the right edge; returns the columns it takes with the space before it.
pub fn put_right(buffer: &mut Buffer, row: u16, text: &str, style: Style) -> u16 {
    let width = text.chars().count() as u16;
    let column = buffer.area.width.saturating_sub(width + EDGE);
    put(buffer, column, row, text, style);
    width + EDGE + 1
}

/// Whether a text at the left edge and one at the right have space between them.
pub fn is_apart(left: &str, right: &str, area: Rect) -> bool {
    let width = |text: &str| text.chars().count() as u16;
    2 * EDGE + width(left) + width(right) + 2 < area.width
}

/// As much of a text as there is room for.
pub fn fitting(text: &str, room: u16) -> String {
    let room = usize::from(room);
    if text.chars().count() <= room {
        return text.to_owned();
    }
    text.chars()
        .take(room.saturating_sub(1))
        .chain(['~'])
        .collect()
}

/// The area of the screen and the buffer it is drawn in; `None` if it is smaller than `smallest` columns and rows: then
/// it says so, and the way out.
pub fn drawing_area<'a>(
    frame: &'a mut Frame,
    smallest: (u16, u16),
    way_out: &str,
    look: Look,
) -> Option<(Rect, &'a mut Buffer)> {
    let area = frame.area();
    let buffer = frame.buffer_mut();
    let ((columns, rows), (width, height)) = (smallest, (area.width, area.height));
    if width < columns || height < rows {
        let message = format!("needs {columns} x {rows}, this is {width} x {height}");
        put(buffer, 1, height / 2, &message, look.strong());
        put(buffer, 1, height / 2 + 1, way_out, look.plain());
        return None;
    }
    Some((area, buffer))
}

/// The way out of an editor that is too small.
pub const WAY_OUT: &str = "make the window larger, or leave with q";

/// The rows at the head of a screen on which a player decides something about a tune.
pub struct Head<'a> {
    /// The title of the tune.
    pub title: &'a str,
    /// What the tune is: key, instrument and the like.
    pub facts: &'a str,
    /// What the player has decided so far.
    pub decided: &'a str,
    /// Whether something is not saved, and whether it can be.
    pub kept: (bool, bool),
    /// What is here, and what to mind about it; none where the screen shows something else.
    pub here: Option<(&'a str, Option<&'a str>)>,
}

impl Head<'_> {
    /// Draws the rows.
    pub fn draw(&self, area: Rect, look: Look, buffer: &mut Buffer) {
        let kept = match self.kept {
            (false, _) => "",
            (true, true) => "not saved",
            (true, false) => "no file to save to",
        };
        let left = |taken: u16| area.width.saturating_sub(EDGE + taken);
        let taken = put_right(buffer, 0, kept, look.strong());
        let title = fitting(title_or_untitled(self.title), left(taken));
        put(buffer, EDGE, 0, &title, look.strong());
        let taken = put_right(buffer, 1, self.decided, look.plain());
        let facts = fitting(self.facts, left(taken));
        put(buffer, EDGE, 1, &facts, look.plain());
        let Some((words, caution)) = self.here else {
            return;
        };
        put(buffer, EDGE, 2, &fitting(words, left(EDGE)), look.strong());
        if let Some(caution) = caution {
            let caution = fitting(&format!("! {caution}"), left(EDGE));
            put(buffer, EDGE, 3, &caution, look.plain());
        }
    }
}

/// The two rows at the foot: a notice, and the keys.
pub fn foot(notice: &str, keys: &str, area: Rect, look: Look, buffer: &mut Buffer) {
    let room = area.width.saturating_sub(2 * EDGE);
    let row = area.height.saturating_sub(BELOW);
    put(buffer, EDGE, row, &fitting(notice, room), look.strong());
    put(buffer, EDGE, row + 1, &fitting(keys, room), look.plain());
}

/// The keys of a screen, each with what it does.
pub fn keys_in_words(lines: &[(&str, &str)], look: Look, buffer: &mut Buffer) {
    for (row, (key, text)) in (3..).zip(lines) {
        put(buffer, EDGE, row, key, look.strong());
        put(buffer, KEY, row, text, look.plain());
    }
}
