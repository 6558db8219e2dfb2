//! Commands to be typed again.

use unicode_width::UnicodeWidthStr;

/// Words for a shell: in single quotes unless they have only letters, digits and plain signs.
pub fn shell_words(words: &[String]) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_=+./,:%".contains(c);
    let quoted = words.iter().map(|word| {
        if !word.is_empty() && word.chars().all(is_plain) {
            word.clone()
        } else {
            format!("'{}'", word.replace('\'', r"'\''"))
        }
    });
    quoted.collect::<Vec<_>>().join(" ")
}

/// A command of these words that can be copied: lines of at most `width` columns after an indent, joined by backslashes.
///
/// A word that is wider has a line of its own.
pub fn shell_lines(words: &[String], width: usize, indent: usize) -> Vec<String> {
    let indent = " ".repeat(indent);
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        let word = shell_words(std::slice::from_ref(word));
        match lines.last_mut() {
            Some(last) if last.width() + 3 + word.width() <= width => {
                last.push(' ');
                last.push_str(&word);
            }
            _ => lines.push(format!("{indent}{word}")),
        }
    }
    let last = lines.len().saturating_sub(1);
    for line in &mut lines[..last] {
        line.push_str(" \\");
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_command_is_broken_where_a_shell_joins_it() {
        let words = ["neckline", "drill", "my tune.abc", "--bars=1-4"].map(String::from);
        assert_eq!(
            shell_lines(&words, 32, 2),
            ["  neckline drill 'my tune.abc' \\", "  --bars=1-4"]
        );
        assert_eq!(shell_lines(&words, 80, 0).len(), 1);
    }

    #[test]
    fn words_are_quoted_for_a_shell() {
        let words = ["drill", "my tune.ron", "it's", "--key=E minor", "-x"].map(String::from);
        assert_eq!(
            shell_words(&words),
            r"drill 'my tune.ron' 'it'\''s' '--key=E minor' -x"
        );
        let ladder = ["play", "--ladder=60-100%"].map(String::from);
        assert_eq!(shell_words(&ladder), "play --ladder=60-100%");
    }
}
