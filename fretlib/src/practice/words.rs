//! The pieces of a typed answer.

/// A run of letters, a run of figures, or a single other sign.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Word<'a> {
    Letters(&'a str),
    Number(u32),
    Sign(char),
}

/// Cuts a typed answer into words; white space only separates them.
///
/// Figures too long for a number are the largest number, which nothing on an instrument has.
pub(super) fn words(text: &str) -> Vec<Word<'_>> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let same = |c: char| {
            if first.is_ascii_digit() {
                c.is_ascii_digit()
            } else {
                first.is_ascii_alphabetic() && c.is_ascii_alphabetic()
            }
        };
        let end = rest
            .find(|c| !same(c))
            .filter(|end| *end > 0)
            .unwrap_or(if same(first) {
                rest.len()
            } else {
                first.len_utf8()
            });
        let (word, after) = rest.split_at(end);
        rest = after;
        if first.is_ascii_digit() {
            found.push(Word::Number(word.parse().unwrap_or(u32::MAX)));
        } else if first.is_ascii_alphabetic() {
            found.push(Word::Letters(word));
        } else if !first.is_whitespace() {
            found.push(Word::Sign(first));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::Word::{Letters, Number, Sign};
    use super::*;

    #[test]
    fn letters_figures_and_signs_part_by_themselves() {
        let cases: [(&str, &[Word]); 5] = [
            ("", &[]),
            (
                "s3 f12",
                &[Letters("s"), Number(3), Letters("f"), Number(12)],
            ),
            ("Eb ♭3", &[Letters("Eb"), Sign('♭'), Number(3)]),
            ("3:5", &[Number(3), Sign(':'), Number(5)]),
            ("99999999999", &[Number(u32::MAX)]),
        ];
        for (text, expected) in cases {
            assert_eq!(words(text), expected, "{text}");
        }
    }
}
