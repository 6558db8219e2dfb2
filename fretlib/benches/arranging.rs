//! What sounds under a tune of 32 bars. Run with `cargo bench -p fretlib --bench arranging`.
//!
//! The tune is the first built-in one, an octave up; `chosen_anew` is what a player waits for after choosing a voicing.

use divan::Bencher;
use fretlib::arranging::{Arranger, ArrangingSettings, ChordRoles, Lattice, Style};
use fretlib::format::tune_ron;
use fretlib::melody::Melody;
use fretlib::neck::{Hand, Instrument};

fn main() {
    divan::main();
}

fn tune() -> Melody {
    let source = include_bytes!("../../melodies/lamps-along-the-jetty.ron");
    tune_ron::read(source).expect("it is readable").melody
}

fn lattice<'a>(melody: &'a Melody, guitar: &'a Instrument) -> Lattice<'a> {
    let arranger = Arranger {
        instrument: guitar,
        hand: Hand::MEDIUM,
        style: Style::PLUCKED,
    };
    let settings = ArrangingSettings {
        octave: "+1".parse().expect("an octave"),
        ..ArrangingSettings::default()
    };
    Lattice::new(arranger, melody, settings).expect("it is on the neck")
}

#[divan::bench]
fn a_tune_of_32_bars(bencher: Bencher) {
    let (melody, guitar) = (tune(), Instrument::default());
    bencher.bench(|| lattice(&melody, &guitar).solve(1));
}

#[divan::bench]
fn its_nine_best(bencher: Bencher) {
    let (melody, guitar) = (tune(), Instrument::default());
    bencher.bench(|| lattice(&melody, &guitar).solve(9));
}

#[divan::bench]
fn chosen_anew(bencher: Bencher) {
    let (melody, guitar) = (tune(), Instrument::default());
    let lattice = lattice(&melody, &guitar);
    bencher.bench(|| lattice.solve(1));
}

#[divan::bench]
fn one_note(bencher: Bencher) {
    let guitar = Instrument::default();
    let arranger = Arranger {
        instrument: &guitar,
        hand: Hand::MEDIUM,
        style: Style::PLUCKED,
    };
    let roles = ChordRoles::new("Gm7".parse().expect("a chord"), false);
    let pitch = "D6".parse().expect("a pitch");
    bencher.bench(|| arranger.voicings(&roles, pitch));
}
