//! The instruments that come with the library.

use once_cell::sync::Lazy;

use super::instrument::{Instrument, InstrumentSpec};
use super::tuning;

/// Name, open strings, frets, scale length, sounding, program.
///
/// - Open strings are written pitches, named from the lowest string to string 1.
/// - The scale length is millimetres from nut to bridge: common practice, no source; makers differ by some millimetres.
/// - Sounding is the interval from the written to the sounding pitch.
/// - The program is General MIDI Level 1, counted from 0 as it is sent.
type Row = (&'static str, &'static str, u8, f64, &'static str, u8);

#[rustfmt::skip]
const ROWS: [Row; 17] = [
    // Guitars. Music for guitar is written an octave above its sound (common practice).
    ("guitar", "E3 A3 D4 G4 B4 E5", 22, 648.0, "-P8", 25),

    // The same guitar in other tunings (trade names, common practice). Tablature is read by the frets; notes are
    // written an octave above their sound, so a guitar tuned half a step down has Eb, not E, on its first string.
    ("drop D guitar", "D3 A3 D4 G4 B4 E5", 22, 648.0, "-P8", 25),
    ("double drop D guitar", "D3 A3 D4 G4 B4 D5", 22, 648.0, "-P8", 25),
    ("DADGAD guitar", "D3 A3 D4 G4 A4 D5", 22, 648.0, "-P8", 25),
    ("open G guitar", "D3 G3 D4 G4 B4 D5", 22, 648.0, "-P8", 25),
    ("open D guitar", "D3 A3 D4 F#4 A4 D5", 22, 648.0, "-P8", 25),
    ("half step down guitar", "Eb3 Ab3 Db4 Gb4 Bb4 Eb5", 22, 648.0, "-P8", 25),
    ("whole step down guitar", "D3 G3 C4 F4 A4 D5", 22, 648.0, "-P8", 25),

    ("seven-string guitar", "B2 E3 A3 D4 G4 B4 E5", 24, 648.0, "-P8", 26),
    // A fourth below the guitar. Written here like a guitar, an octave above the sound: the lowest string is written B2
    // and sounds B1. Some players read it as a transposing guitar instead: the guitar with sounding "-P11".
    ("baritone guitar", "B2 E3 A3 D4 F#4 B4", 22, 686.0, "-P8", 27),
    // Four strings in fifths, written like a guitar.
    ("tenor guitar", "C4 G4 D5 A5", 19, 584.0, "-P8", 25),

    // Basses. Written an octave above their sound, in the bass clef.
    ("bass", "E2 A2 D3 G3", 22, 864.0, "-P8", 33),
    ("five-string bass", "B1 E2 A2 D3 G3", 24, 864.0, "-P8", 33),

    // Ukuleles. Written as they sound. The g string of the ukulele is re-entrant: it is string 4 but not the lowest.
    ("ukulele", "G4 C4 E4 A4", 18, 381.0, "P1", 24),
    ("low G ukulele", "G3 C4 E4 A4", 18, 432.0, "P1", 24),
    // The top four strings of a guitar, written like one, an octave above the sound.
    ("baritone ukulele", "D4 G4 B4 E5", 19, 508.0, "-P8", 24),

    // Four courses of two strings each in unison; a course counts as one string. Written as it sounds. General MIDI has no
    // mandolin: the steel-string guitar comes nearest.
    ("mandolin", "G3 D4 A4 E5", 20, 352.0, "P1", 25),
];

static INSTRUMENTS: Lazy<Vec<Instrument>> = Lazy::new(|| ROWS.map(instrument).into());

fn instrument((name, strings, frets, scale_length, sounding, program): Row) -> Instrument {
    let strings = tuning::words(strings)
        .rev()
        .map(str::parse)
        .collect::<Result<_, _>>();
    let build = InstrumentSpec {
        name: name.to_owned(),
        strings: strings.expect("a test reads the built-in instruments"),
        frets,
        capo: 0,
        scale_length,
        sounding: sounding
            .parse()
            .expect("a test reads the built-in instruments"),
        program,
    };
    Instrument::new(build).expect("a test checks the built-in instruments")
}

impl Instrument {
    /// Every built-in instrument; the first is the guitar in standard tuning.
    pub fn all_built_in() -> &'static [Instrument] {
        &INSTRUMENTS
    }

    /// The built-in instrument of this name.
    ///
    /// Capitals, spaces and hyphens make no difference, and the word `guitar` may be left out: `drop-d` is the drop D
    /// guitar.
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
    fn open_strings_have_their_usual_pitches() {
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
    fn instruments_sound_as_common_practice_has_it() {
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
