//! The tunes that are built into the program.

use std::path::Path;

use fretlib::format::tune_ron;
use fretlib::melody::Melody;
use once_cell::sync::Lazy;

/// A tune that comes with the program.
pub struct BuiltIn {
    /// Its name: that of its file in `melodies/`.
    pub name: &'static str,
    source: &'static str,
    melody: Lazy<Melody>,
}

impl BuiltIn {
    /// The tune, read on first use.
    pub fn melody(&self) -> &Melody {
        &self.melody
    }

    /// Its text, as in `melodies/`.
    pub fn source(&self) -> &'static str {
        self.source
    }
}

macro_rules! built_in {
    ($name:literal) => {{
        const SOURCE: &str = include_str!(concat!("../../../melodies/", $name, ".ron"));
        BuiltIn {
            name: $name,
            source: SOURCE,
            melody: Lazy::new(|| {
                let read = tune_ron::read(SOURCE.as_bytes());
                read.expect("a test reads the built-in tunes").melody
            }),
        }
    }};
}

/// The tunes in the order they are listed; the first is shown when none is named.
pub static BUILT_IN: [BuiltIn; 3] = [
    built_in!("lamps-along-the-jetty"),
    built_in!("oars-in-three"),
    built_in!("pedalo-blues"),
];

/// The built-in tune of this name, or the only one whose name begins like this, unless there is a file of that name.
pub fn built_in(name: &str) -> Option<&'static BuiltIn> {
    let is_file = Path::new(name).is_file();
    let name = name.to_lowercase();
    let is_it = |it: &&BuiltIn| it.name == name;
    let is_begun = name.len() >= SHORTEST && !is_file;
    let begins = |it: &&BuiltIn| is_begun && it.name.starts_with(&name);
    let mut beginning = BUILT_IN.iter().filter(begins);
    BUILT_IN
        .iter()
        .find(is_it)
        .or_else(|| beginning.next().filter(|_| beginning.next().is_none()))
}

/// The shortest accepted prefix of a name.
const SHORTEST: usize = 3;

#[cfg(test)]
mod tests {
    use super::*;
    use fretlib::theory::Membership;

    #[test]
    fn a_name_may_be_begun_when_only_one_tune_begins_like_that() {
        let found = |name: &str| built_in(name).map(|it| it.name);
        assert_eq!(found("ped"), Some("pedalo-blues"));
        assert_eq!(found("Lamps"), Some("lamps-along-the-jetty"));
        assert_eq!(found("oars-in-three"), Some("oars-in-three"));
        for name in ["", "p", "pe", "pedals", "jetty", "pedalo-blues2"] {
            assert_eq!(found(name), None, "{name}");
        }
    }

    #[test]
    fn the_built_in_tunes_are_read_and_worth_mapping() {
        for tune in &BUILT_IN {
            let read = tune_ron::read(tune.source().as_bytes()).unwrap();
            assert!(
                read.warnings.is_empty(),
                "{}: {:?}",
                tune.name,
                read.warnings
            );
            let melody = tune.melody();
            assert!(
                !melody.title().is_empty() && !melody.chords().is_empty(),
                "{}",
                tune.name
            );
        }
    }

    #[test]
    fn the_ballad_leaves_its_key_for_two_or_three_notes() {
        let ballad = BUILT_IN[0].melody();
        let key = *ballad.keys().first().unwrap();
        let notes = ballad.analyse(key);
        let outside: Vec<_> = notes
            .iter()
            .filter(|it| it.membership != Membership::Scale)
            .collect();
        assert!((2..=3).contains(&outside.len()), "{}", outside.len());
        assert_eq!(
            ballad.bars().iter().filter(|bar| bar.number > 0).count(),
            32
        );
    }
}
