//! How pairs of equal notes are meant to be played.

use std::fmt;
use std::str::FromStr;

use crate::error::ParseError;

/// The feel of a tune, in the words that stand beside its tempo.
///
/// ```
/// use fretlib::melody::Feel;
///
/// assert_eq!("swing".parse::<Feel>()?, Feel::Swing);
/// assert_eq!(Feel::SwingSixteenths.to_string(), "swing 16ths");
/// assert_eq!(Feel::among_words("Medium Swing"), Some(Feel::Swing));
/// assert_eq!(Feel::among_words("Andante"), None);
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Feel {
    /// Notes are as long as they are written.
    Straight,
    /// The first of two eighths is longer.
    Swing,
    /// The first of two sixteenths is longer.
    SwingSixteenths,
}

impl Feel {
    /// The feel that the words of a tempo mark name, such as `Medium swing`; `None` when they name none.
    ///
    /// Common practice, no source.
    pub fn among_words(text: &str) -> Option<Feel> {
        let text = text.to_lowercase();
        let mut words = text
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty());
        let has = |wanted: &[&str]| words.clone().any(|word| wanted.contains(&word));
        if has(&["swing", "swung", "shuffle"]) {
            Some(match has(&["16", "16th", "16ths", "sixteenths"]) {
                true => Feel::SwingSixteenths,
                false => Feel::Swing,
            })
        } else {
            words
                .any(|word| word == "straight")
                .then_some(Feel::Straight)
        }
    }
}

impl fmt::Display for Feel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Feel::Straight => "straight",
            Feel::Swing => "swing",
            Feel::SwingSixteenths => "swing 16ths",
        })
    }
}

impl FromStr for Feel {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        [Feel::Straight, Feel::Swing, Feel::SwingSixteenths]
            .into_iter()
            .find(|feel| feel.to_string() == text)
            .ok_or_else(|| ParseError::unreadable(text, "straight, swing or swing 16ths"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_feel_is_found_among_words() {
        for (words, feel) in [
            ("Swing", Some(Feel::Swing)),
            ("Slow, swung 16ths", Some(Feel::SwingSixteenths)),
            ("Straight eighths", Some(Feel::Straight)),
            ("Bossa, straight 8ths", Some(Feel::Straight)),
            ("straight, then swing", Some(Feel::Swing)),
            ("Swinging gently", None),
            ("", None),
        ] {
            assert_eq!(Feel::among_words(words), feel, "{words}");
        }
    }
}
