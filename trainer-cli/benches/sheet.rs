//! The page for the stand: waiting times of a player and a teacher. Run with `cargo bench -p trainer-cli --bench
//! sheet`.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use divan::Bencher;
use fretlib::format::{abc, tune_ron};
use fretlib::mapping::{NeckMap, OpenStrings, Placement};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use fretlib::sheet::{
    Answers, Exercises, Page, Paper, Part, Sheet, TabPlace, TuneOnNeck, pages, svg,
};
use trainer_cli::export::{pdf, png};

fn main() {
    divan::main();
}

/// Sets the default sheet of a melody: all parts but intervals, a neck for every position that holds it.
fn set(melody: &Melody, parts: &[Part]) -> Vec<Page> {
    let instrument = Instrument::default();
    let key = melody
        .keys()
        .first()
        .copied()
        .expect("the tunes declare a key");
    let notes = melody.analyse(key);
    let map = NeckMap::new(melody, &instrument, OpenStrings::default());
    let placements: Vec<&Placement> = map.whole().collect();
    let mut places = vec![None; melody.notes().len()];
    for placed in placements.first().into_iter().flat_map(|it| it.places()) {
        places[placed.note] = Some(TabPlace {
            place: placed.place,
            finger: placed.finger,
            position: placements[0].position,
        });
    }
    let sheet = Sheet {
        tune: TuneOnNeck {
            melody,
            notes: &notes,
            key,
            instrument: &instrument,
            places: &places,
            under: &[],
        },
        caption: "as written",
        necks: &placements[..placements.len().min(4)],
        order: &[],
        grid: &placements,
        exercises: Exercises::default(),
        take: None,
        parts,
        bars_per_line: None,
        left_handed: false,
        answers: Answers::Printed,
    };
    pages(&sheet, Paper::A4)
}

fn all_parts() -> Vec<Part> {
    let all = Part::ALL.into_iter();
    all.filter(|part| *part != Part::Intervals).collect()
}

const STAVES: [Part; 5] = [
    Part::Heading,
    Part::Notation,
    Part::Chords,
    Part::Degrees,
    Part::Tablature,
];

fn ballad() -> Melody {
    let source = include_bytes!("../../melodies/lamps-along-the-jetty.ron");
    tune_ron::read(source).expect("the tune is readable").melody
}

#[divan::bench]
fn staves_of_32_bars_to_svg(bencher: Bencher) {
    let melody = ballad();
    bencher.bench(|| {
        let pages = set(&melody, &STAVES);
        pages.iter().map(|page| svg(page, "").len()).sum::<usize>()
    });
}

#[divan::bench]
fn whole_sheet_of_32_bars_to_svg(bencher: Bencher) {
    let (melody, parts) = (ballad(), all_parts());
    bencher.bench(|| {
        let pages = set(&melody, &parts);
        pages.iter().map(|page| svg(page, "").len()).sum::<usize>()
    });
}

#[divan::bench]
fn whole_sheet_of_32_bars_to_pdf(bencher: Bencher) {
    let (melody, parts) = (ballad(), all_parts());
    bencher.bench(|| pdf(set(&melody, &parts), "").expect("it can be drawn"));
}

/// A page of 1654 by 2339 dots: A4 at 200 to the inch.
#[divan::bench]
fn page_of_32_bars_to_png(bencher: Bencher) {
    let pages = set(&ballad(), &STAVES);
    bencher.bench(|| png(&pages[0], 200.0).expect("it can be drawn"));
}

/// The 240 reference tunes, whole sheets, on all cores.
#[divan::bench(sample_count = 5)]
fn whole_sheets_of_240_tunes_to_pdf(bencher: Bencher) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/abc");
    let entries = std::fs::read_dir(folder).expect("the reference tunes are there");
    let melodies: Vec<Melody> = entries
        .map(|entry| {
            let path = entry.expect("the folder can be listed").path();
            let bytes = std::fs::read(path).expect("the tune can be read");
            let read = abc::read(&bytes, &abc::AbcOptions::default());
            read.expect("the reference tunes are readable").melody
        })
        .collect();
    let parts = all_parts();
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    bencher.bench(|| {
        let next = AtomicUsize::new(0);
        std::thread::scope(|scope| {
            for _ in 0..cores {
                scope.spawn(|| {
                    while let Some(melody) = melodies.get(next.fetch_add(1, Ordering::Relaxed)) {
                        divan::black_box(pdf(set(melody, &parts), "").expect("it can be drawn"));
                    }
                });
            }
        });
    });
}
