//! What MIDI has no event for, as text events that say what they are: `Composer: A. Player`.

use crate::melody::{Feel, Tempo};

/// What a text event says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Said {
    Composer(String),
    Source(String),
    Transcriber(String),
    Feel(Feel),
    /// The tempo that begins here, in the value it is counted in: a tempo event counts quarter notes.
    Tempo(Tempo),
}

impl Said {
    /// Reads a text event; `None` for any other text.
    pub(super) fn read(text: &str) -> Option<Said> {
        let (kind, text) = text.split_once(':')?;
        let text = text.trim();
        let name = || (!text.is_empty()).then(|| text.to_owned());
        Some(match kind.trim().to_lowercase().as_str() {
            "composer" => Said::Composer(name()?),
            "source" => Said::Source(name()?),
            "transcriber" => Said::Transcriber(name()?),
            "feel" => Said::Feel(text.parse().ok()?),
            "tempo" => Said::Tempo(text.parse().ok()?),
            _ => return None,
        })
    }

    /// The text of the event.
    pub(super) fn write(&self) -> String {
        match self {
            Said::Composer(name) => format!("Composer: {name}"),
            Said::Source(name) => format!("Source: {name}"),
            Said::Transcriber(name) => format!("Transcriber: {name}"),
            Said::Feel(feel) => format!("Feel: {feel}"),
            Said::Tempo(tempo) => format!("Tempo: {tempo}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_read_back() {
        for said in [
            Said::Composer("A. Player: the younger".to_owned()),
            Said::Source("the café".to_owned()),
            Said::Transcriber("B.".to_owned()),
            Said::Feel(Feel::SwingSixteenths),
            Said::Tempo("q. = 120".parse().unwrap()),
        ] {
            assert_eq!(Said::read(&said.write()), Some(said));
        }
        for text in [
            "",
            "Composer:",
            "Tempo: gently",
            "at last: the sea",
            "Feel: sad",
        ] {
            assert_eq!(Said::read(text), None, "{text}");
        }
    }
}
