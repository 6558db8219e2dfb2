//! Commands to be typed again.

/// Words as they are typed to a shell: those with anything but letters, figures and plain signs in single quotes.
pub fn shell_words(words: &[String]) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_=+./,:".contains(c);
    let quoted = words.iter().map(|word| {
        if !word.is_empty() && word.chars().all(is_plain) {
            word.clone()
        } else {
            format!("'{}'", word.replace('\'', r"'\''"))
        }
    });
    quoted.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted_for_a_shell() {
        let words = ["drill", "my tune.ron", "it's", "--key=E minor", "-x"].map(String::from);
        assert_eq!(
            shell_words(&words),
            r"drill 'my tune.ron' 'it'\''s' '--key=E minor' -x"
        );
    }
}
