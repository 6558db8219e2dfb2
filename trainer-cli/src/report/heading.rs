//! What a tune is called.

/// The title of a tune, or a word for one that has none.
pub fn title_or_untitled(title: &str) -> &str {
    if title.is_empty() { "Untitled" } else { title }
}
