//! What a player waits for: reading, analysing and mapping tunes. Run with `cargo bench -p fretlib --bench map`.

use std::path::Path;

use divan::{Bencher, black_box};
use fretlib::format::abc;
use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::{KeyProfile, Melody, analyse, estimate_keys};
use fretlib::neck::Instrument;
use fretlib::theory::Key;

fn main() {
    divan::main();
}

/// The 240 tunes that the checks use too.
// A bench is a program of its own and may read files.
#[allow(clippy::disallowed_methods)]
fn files() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/abc");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("the reference tunes are there")
        .map(|entry| entry.expect("the folder can be listed").path())
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|path| std::fs::read(path).expect("the tune can be read"))
        .collect()
}

fn read(bytes: &[u8]) -> (Melody, Key) {
    let melody = abc::read(bytes, &abc::Options::default())
        .expect("the reference tunes are readable")
        .melody;
    let key = melody.keys().first().copied().expect("they declare a key");
    (melody, key)
}

#[divan::bench]
fn read_240_tunes(bencher: Bencher) {
    let files = files();
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
    let files = files();
    bencher.bench(|| {
        for bytes in &files {
            let (melody, key) = read(bytes);
            black_box(estimate_keys(&melody, KeyProfile::default()));
            black_box(analyse(&melody, key));
        }
    });
}

/// The same, and mapped over every position and octave of a guitar.
#[divan::bench]
fn read_analyse_and_map_240_tunes(bencher: Bencher) {
    let files = files();
    let guitar = Instrument::default();
    bencher.bench(|| {
        for bytes in &files {
            let (melody, key) = read(bytes);
            black_box(estimate_keys(&melody, KeyProfile::default()));
            black_box(analyse(&melody, key));
            black_box(NeckMap::new(&melody, &guitar, OpenStrings::default()));
        }
    });
}
