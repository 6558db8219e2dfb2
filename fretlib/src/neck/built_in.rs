//! The instruments that come with the library.

use once_cell::sync::Lazy;

use super::description::Description;
use super::instrument::Instrument;

static INSTRUMENTS: Lazy<Vec<Instrument>> = Lazy::new(|| {
    let descriptions: Vec<Description> = ron::from_str(include_str!("instruments.ron"))
        .expect("a test reads the built-in instruments");
    descriptions
        .into_iter()
        .map(|description| {
            description
                .instrument()
                .expect("a test checks the built-in instruments")
        })
        .collect()
});

impl Instrument {
    /// Every built-in instrument; the first is the guitar in standard tuning.
    pub fn all_built_in() -> &'static [Instrument] {
        &INSTRUMENTS
    }

    /// The built-in instrument of this name.
    ///
    /// Capitals, spaces and hyphens make no difference, and the word `guitar` may be left out where something else is left:
    /// `drop-d` is the drop D guitar.
    ///
    /// ```
    /// use fretlib::neck::Instrument;
    ///
    /// let ukulele = Instrument::built_in("ukulele").unwrap();
    /// assert_eq!(ukulele.strings()[3].to_string(), "G4"); // re-entrant: above string 3
    /// assert_eq!(Instrument::built_in("drop-d").unwrap().name(), "drop D guitar");
    /// assert!(Instrument::built_in("harp").is_none());
    /// ```
    pub fn built_in(name: &str) -> Option<&'static Instrument> {
        let wanted = folded(name);
        INSTRUMENTS.iter().find(|instrument| {
            let name = folded(instrument.name());
            name == wanted || (!wanted.is_empty() && name.strip_suffix("guitar") == Some(&wanted))
        })
    }
}

impl Default for Instrument {
    /// The guitar in standard tuning.
    fn default() -> Self {
        INSTRUMENTS[0].clone()
    }
}

fn folded(name: &str) -> String {
    name.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::Interval;

    #[test]
    fn the_built_in_instruments_are_read_and_have_names_of_their_own() {
        let all = Instrument::all_built_in();
        for (index, instrument) in all.iter().enumerate() {
            let found = Instrument::built_in(instrument.name()).unwrap();
            assert!(std::ptr::eq(found, &all[index]), "{}", instrument.name());
        }
    }

    #[test]
    fn the_first_is_the_guitar() {
        let guitar = Instrument::default();
        assert_eq!(guitar.name(), "guitar");
        assert_eq!((guitar.frets(), guitar.capo()), (22, 0));
        assert_eq!(guitar.scale_length(), 648.0);
    }

    // Common practice, no source: what the open strings sound, from the lowest string on.
    #[test]
    fn open_strings_sound_as_they_do_everywhere() {
        let cases = [
            ("guitar", "E2 A2 D3 G3 B3 E4"),
            ("drop D", "D2 A2 D3 G3 B3 E4"),
            ("double drop D", "D2 A2 D3 G3 B3 D4"),
            ("dadgad", "D2 A2 D3 G3 A3 D4"),
            ("open-g", "D2 G2 D3 G3 B3 D4"),
            ("open-d", "D2 A2 D3 F#3 A3 D4"),
            ("half-step-down", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"),
            ("whole step down", "D2 G2 C3 F3 A3 D4"),
            ("Seven-String", "B1 E2 A2 D3 G3 B3 E4"),
            ("baritone", "B1 E2 A2 D3 F#3 B3"),
            ("tenor", "C3 G3 D4 A4"),
            ("bass", "E1 A1 D2 G2"),
            ("five-string bass", "B0 E1 A1 D2 G2"),
            ("ukulele", "G4 C4 E4 A4"),
            ("low-g ukulele", "G3 C4 E4 A4"),
            ("baritone ukulele", "D3 G3 B3 E4"),
            ("mandolin", "G3 D4 A4 E5"),
        ];
        assert_eq!(cases.len(), Instrument::all_built_in().len());
        for (name, strings) in cases {
            let instrument = Instrument::built_in(name).unwrap();
            let sounding: Vec<String> = instrument
                .strings()
                .iter()
                .rev()
                .map(|open| open.transpose(instrument.sounding()).unwrap().to_string())
                .collect();
            assert_eq!(sounding.join(" "), strings, "{name}");
        }
    }

    // Common practice, no source: guitars and basses are written an octave above their sound.
    #[test]
    fn what_is_written_as_it_sounds_says_so() {
        let as_written: Vec<&str> = Instrument::all_built_in()
            .iter()
            .filter(|instrument| instrument.sounding() == Interval::UNISON)
            .map(Instrument::name)
            .collect();
        assert_eq!(as_written, ["ukulele", "low G ukulele", "mandolin"]);
        let below = Instrument::all_built_in()
            .iter()
            .filter(|instrument| instrument.sounding() == -Interval::OCTAVE)
            .count();
        assert_eq!(below + as_written.len(), Instrument::all_built_in().len());
    }

    // Source: General MIDI Level 1 sound set, programs 25 to 28 guitars, 33 to 40 basses, counted from 1.
    #[test]
    fn programs_are_plucked_strings_of_general_midi() {
        for instrument in Instrument::all_built_in() {
            let basses = 32..=39;
            let guitars = 24..=27;
            let family = if instrument.name().contains("bass") {
                basses
            } else {
                guitars
            };
            assert!(
                family.contains(&instrument.program()),
                "{}",
                instrument.name()
            );
        }
    }
}
