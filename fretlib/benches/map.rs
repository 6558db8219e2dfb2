//! What a player waits for: reading, analysing and mapping tunes. Run with `cargo bench -p fretlib --bench map`.

mod files;

use divan::{Bencher, black_box};
use fretlib::format::abc;
use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::{KeyProfile, Melody, estimate_keys};
use fretlib::neck::Instrument;
use fretlib::theory::Key;

use files::files;

fn main() {
    divan::main();
}

/// The 240 tunes that the checks use too.
fn tunes() -> Vec<Vec<u8>> {
    files("tests/data/abc", "abc")
}

fn read(bytes: &[u8]) -> (Melody, Key) {
    let melody = abc::read(bytes, &abc::AbcOptions::default())
        .expect("the reference tunes are readable")
        .melody;
    let key = melody.keys().first().copied().expect("they declare a key");
    (melody, key)
}

#[divan::bench]
fn read_240_tunes(bencher: Bencher) {
    let files = tunes();
    bencher.bench(|| {
        files
            .iter()
            .map(|bytes| read(bytes).0.notes().len())
            .sum::<usize>()
    });
}

/// Reading, the key found from the notes, degrees and intervals.
#[divan::bench]
fn read_and_analyse_240_tunes(bencher: Bencher) {
    let files = tunes();
    bencher.bench(|| {
        for bytes in &files {
            let (melody, key) = read(bytes);
            black_box(estimate_keys(&melody, KeyProfile::default()));
            black_box(melody.analyse(key));
        }
    });
}

/// The same, and mapped over every position and octave of a guitar.
#[divan::bench]
fn read_analyse_and_map_240_tunes(bencher: Bencher) {
    let files = tunes();
    let guitar = Instrument::default();
    bencher.bench(|| {
        for bytes in &files {
            let (melody, key) = read(bytes);
            black_box(estimate_keys(&melody, KeyProfile::default()));
            black_box(melody.analyse(key));
            black_box(NeckMap::new(&melody, &guitar, OpenStrings::default()));
        }
    });
}
