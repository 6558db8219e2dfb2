//! Titles of tunes.

/// The title of a tune, or words for one without a title.
pub fn title_or_untitled(title: &str) -> &str {
    if title.is_empty() { "Untitled" } else { title }
}
