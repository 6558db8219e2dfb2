//! Long text in several lines.

use unicode_width::UnicodeWidthStr;

/// Words in lines of at most `width` columns; a word that is wider has a line of its own.
pub fn wrap(words: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split(' ') {
        match lines.last_mut() {
            Some(last) if last.width() + 1 + word.width() <= width => {
                last.push(' ');
                last.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_filled_and_not_overfilled() {
        assert_eq!(wrap("oars in three", 8), ["oars in", "three"]);
        assert_eq!(wrap("oars in three", 7), ["oars in", "three"]);
        assert_eq!(wrap("oars in three", 2), ["oars", "in", "three"]);
    }
}
