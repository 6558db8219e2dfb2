//! A bar while many tunes are worked on.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressStyle};

/// Drawn on a terminal only, and gone when the work is done.
pub fn progress_bar(length: usize, ascii: bool) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length as u64);
    match ProgressStyle::with_template("{wide_bar} {pos} of {len} tunes ") {
        Ok(style) => bar.with_style(style.progress_chars(if ascii { "#-" } else { "█░" })),
        Err(_) => bar,
    }
}
