//! How much faster than it sounds a string is made, and a whole tune. Run with `cargo bench -p fretlib --bench sound`.
//!
//! The items a second are samples; divided by 44,100 they are times real time.

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use fretlib::format::tune_ron;
use fretlib::melody::Melody;
use fretlib::neck::{Fret, Instrument, Place, StringNumber};
use fretlib::sound::{
    ConcertPitch, Manner, Performance, PluckedString, SampleRate, Strength, Tone, play_through,
};
use fretlib::theory::Octave;

fn main() {
    divan::main();
}

/// Ten seconds of one string, low and high.
#[divan::bench(args = [(6, 0), (1, 12)])]
fn one_string(bencher: Bencher, (string, fret): (u8, u8)) {
    let place = Place {
        string: StringNumber::new(string).expect("a guitar has it"),
        fret: Fret::new(fret).expect("a guitar has it"),
    };
    let tone =
        Tone::at(&Instrument::default(), place, ConcertPitch::A440).expect("it can be heard");
    let mut samples = vec![0.0; 441_000];
    bencher
        .counter(ItemsCount::new(samples.len()))
        .bench_local(|| {
            let mut string = PluckedString::new(tone, Strength::MELODY, SampleRate::CD)
                .expect("it is low enough");
            string.fill(black_box(&mut samples));
        });
}

fn ballad() -> Melody {
    let source = include_bytes!("../../melodies/lamps-along-the-jetty.ron");
    tune_ron::read(source).expect("it is built in").melody
}

fn performance(melody: &Melody) -> Performance {
    let places = vec![None; melody.notes().len()];
    let played = play_through(
        melody,
        &places,
        Octave::WRITTEN,
        &Instrument::default(),
        &Manner::default(),
    );
    Performance::clone(&played.expect("it is short").performance)
}

/// The ballad, 32 bars at 66, with chords and a click on every beat.
#[divan::bench]
fn ballad_with_chords_and_click(bencher: Bencher) {
    let performance = performance(&ballad());
    let count = performance.samples(SampleRate::CD).len();
    bencher
        .counter(ItemsCount::new(count))
        .bench_local(|| performance.samples(black_box(SampleRate::CD)));
}

/// From a melody to what is played when: what a change of tempo costs while it sounds.
#[divan::bench]
fn ballad_laid_out(bencher: Bencher) {
    let melody = ballad();
    bencher.bench_local(|| performance(black_box(&melody)));
}
