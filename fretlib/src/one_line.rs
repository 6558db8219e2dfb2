//! Names out of files, made safe to show.

/// Text from a file as one line that is safe on a terminal: no control characters, nothing that turns the direction of
/// writing, single spaces.
pub(crate) fn one_line(text: &str) -> String {
    let is_unsafe = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    let mut words = String::with_capacity(text.len());
    for word in text.split(char::is_whitespace) {
        let word = word.chars().filter(|c| !is_unsafe(*c));
        let before = words.len();
        if before > 0 {
            words.push(' ');
        }
        let space_end = words.len();
        words.extend(word);
        if words.len() == space_end {
            words.truncate(before);
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_stripped_of_control_characters() {
        let cases = [
            ("Harbour \u{1b}[31mLights\n", "Harbour [31mLights"),
            ("  two   spaces ", "two spaces"),
            ("\u{202e}turned", "turned"),
            ("\u{7}", ""),
        ];
        for (given, kept) in cases {
            assert_eq!(one_line(given), kept);
        }
    }
}
