//! What sounds under a tune of 32 bars. Run with `cargo bench -p fretlib --bench arranging`.
//!
//! The tune is the first built-in one, an octave up; `chosen_anew` is what a player waits for after choosing a voicing,
//! `searched_again` what that would be without the tables that are kept.

use divan::Bencher;
use fretlib::arranging::{
    ArrangementChoice, Arranger, ArrangingSettings, Choosing, ChordRoles, Chosen, Lattice, Style,
};
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
fn searched_again(bencher: Bencher) {
    let (melody, guitar) = (tune(), Instrument::default());
    let lattice = lattice(&melody, &guitar);
    bencher.bench(|| lattice.solve(1));
}

/// Pins what sounds in the middle of the tune and lets it go again, by turns.
#[divan::bench]
fn chosen_anew(bencher: Bencher) {
    let (melody, guitar) = (tune(), Instrument::default());
    let lattice = lattice(&melody, &guitar);
    let mut choosing = Choosing::new(&lattice);
    let pin = pins(&lattice, &mut choosing).swap_remove(1);
    let mut is_pinned = false;
    bencher.bench_local(|| {
        is_pinned = !is_pinned;
        choosing.choose(if is_pinned { &pin } else { &[] });
        choosing.arrangement()
    });
}

/// Pins the first and the last voicing and lets them go, by turns: the farthest a player can jump with no time between.
#[divan::bench]
fn chosen_anew_far_apart(bencher: Bencher) {
    let (melody, guitar) = (tune(), Instrument::default());
    let lattice = lattice(&melody, &guitar);
    let mut choosing = Choosing::new(&lattice);
    let pins = pins(&lattice, &mut choosing);
    let both = [&pins[0][..], &pins[2][..]].concat();
    let turns = [&pins[0][..], &both[..], &pins[2][..], &[]];
    let mut turn = 0;
    bencher.bench_local(|| {
        choosing.choose(turns[turn % turns.len()]);
        turn += 1;
        choosing.arrangement()
    });
}

/// The voicing at the start, in the middle and at the end, each chosen alone.
fn pins(lattice: &Lattice, choosing: &mut Choosing) -> Vec<Vec<ArrangementChoice>> {
    let free = choosing.arrangement();
    while choosing.prepare() {}
    let struck: Vec<_> = free.struck().collect();
    let pin = |at: usize| {
        let (note, it) = struck[at];
        vec![ArrangementChoice {
            note: note + 1,
            at: it.at,
            time: None,
            pitch: None,
            chord: None,
            chosen: Chosen::voicing(lattice, &it.voicing),
            remark: None,
        }]
    };
    [0, struck.len() / 2, struck.len() - 1].map(pin).into()
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
