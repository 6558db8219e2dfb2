//! A tempo as a player asks for it.

use std::str::FromStr;

use fretlib::OutOfRange;
use fretlib::melody::{Melody, Quarters, Tempo};

use crate::failure::Failure;

/// A tempo that may depend on the tune's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AskedTempo {
    /// A percentage of the tune's own tempo.
    Percent(u16),
    /// Beats a minute, in the unit of the tune's own tempo.
    Count(Quarters),
    /// A note value, and how many of it a minute.
    Marked(Tempo),
}

impl AskedTempo {
    /// The tempo, for a tune with this one of its own.
    ///
    /// # Errors
    ///
    /// When that is slower than one quarter note a minute or faster than 1000.
    pub fn of(self, own: Tempo) -> Result<Tempo, OutOfRange> {
        match self {
            AskedTempo::Percent(percent) => {
                let share = Quarters::new(percent.into(), 100);
                Tempo::new(own.unit(), own.count() * share)
            }
            AskedTempo::Count(count) => Tempo::new(own.unit(), count),
            AskedTempo::Marked(tempo) => Ok(tempo),
        }
    }
}

/// The tempo asked for a melody, if one is.
///
/// # Errors
///
/// When it is slower than one quarter note a minute or faster than 1000.
pub fn asked_tempo(asked: Option<AskedTempo>, melody: &Melody) -> Result<Option<Tempo>, Failure> {
    let tempo = asked.map(|asked| asked.of(melody.first_tempo()));
    tempo
        .transpose()
        .map_err(|error| Failure::usage(error.to_string(), "choose another --tempo"))
}

impl FromStr for AskedTempo {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let expected =
            || format!("expected beats a minute such as 80, `q. = 80`, or 70%, found `{text}`");
        if let Some(percent) = text.strip_suffix('%') {
            let percent: u16 = percent.trim().parse().map_err(|_| expected())?;
            if !(10..=400).contains(&percent) {
                return Err(format!(
                    "a tempo of {percent}% is not in the range 10% to 400%"
                ));
            }
            return Ok(AskedTempo::Percent(percent));
        }
        let tempo = text.parse::<Tempo>();
        if text.contains('=') {
            return tempo.map(AskedTempo::Marked).map_err(|_| expected());
        }
        match tempo {
            Ok(tempo) => Ok(AskedTempo::Count(tempo.count())),
            Err(fretlib::ParseError::OutOfRange(error)) => Err(error.to_string()),
            Err(_) => Err(expected()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_number_counts_what_the_tune_counts() {
        let jig: Tempo = "q. = 100".parse().unwrap();
        for (text, tempo) in [
            ("80", "q. = 80"),
            ("50%", "q. = 50"),
            ("q=80", "q = 80"),
            ("e = 150", "e = 150"),
        ] {
            let asked: AskedTempo = text.parse().unwrap();
            assert_eq!(asked.of(jig).unwrap().to_string(), tempo, "{text}");
        }
        for text in ["fast", "", "9%", "401%", "%", "0", "1001", "q = x", "-80"] {
            assert!(text.parse::<AskedTempo>().is_err(), "{text}");
        }
        assert!("900".parse::<AskedTempo>().unwrap().of(jig).is_err());
    }
}
