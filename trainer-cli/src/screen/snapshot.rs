//! Screens as text, compared with files.

use std::path::Path;

use ratatui::backend::TestBackend;
use ratatui::{Frame, Terminal};

/// What is drawn on a terminal of this size (columns, rows), without trailing spaces.
pub fn drawn((columns, rows): (u16, u16), draw: impl FnOnce(&mut Frame)) -> String {
    let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
    terminal.draw(draw).unwrap();
    let buffer = terminal.backend().buffer();
    let rows = (0..rows).map(|row| {
        let line: String = (0..columns)
            .map(|column| buffer[(column, row)].symbol())
            .collect();
        line.trim_end().to_string()
    });
    rows.collect::<Vec<_>>().join("\n") + "\n"
}

/// Compares with a file in `snapshots/`; with `UPDATE_EXPECT` set it is rewritten. Read the diff.
pub fn check_drawn(drawn: &str, name: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("src/screen/snapshots")
        .join(name);
    expect_test::expect_file![path].assert_eq(drawn);
}
