//! Damaged files: every reader either reads or refuses, and never panics.
//!
//! `cargo test` does a few thousand; `FUZZ_EXECUTIONS=10000000 cargo test --release -p tests fuzz` does as many as it is
//! told, and `FUZZ_SEED` begins elsewhere. A panic names the seed and the execution that lead to it again.

use std::panic::{AssertUnwindSafe, catch_unwind};

use fretlib::format::{Unreadable, abc, detect, instrument_ron, midi, musicxml, tune_ron};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use tests::data;

/// Pieces that mean something in one of the formats, or are known to hurt.
const WORDS: [&[u8]; 44] = [
    b"<note>",
    b"</note>",
    b"<chord/>",
    b"<grace/>",
    b"<backup><duration>9</duration></backup>",
    b"<divisions>1000000000</divisions>",
    b"<duration>-1</duration>",
    b"<duration>0</duration>",
    b"<alter>-9</alter>",
    b"<octave>9</octave>",
    b"<measure>",
    b"<transpose><chromatic>99</chromatic></transpose>",
    b"<!DOCTYPE a [<!ENTITY b '&b;'>]>",
    b"&b;",
    b"<![CDATA[",
    b"]]>",
    b"<!--",
    b"-->",
    b"<beats>255</beats>",
    b"<forward><duration>999999999999</duration></forward>",
    b"|:",
    b":|",
    b"[M:255/64]",
    b"[K:",
    b"(3",
    b"\"Cm7b5/Gb\"",
    b"K:",
    b"X:1\n",
    b"L:1/9223372036854775807\n",
    b"99999999999999999999",
    b"/////////////",
    b"-",
    b">",
    b"V:2\n",
    b"\xFF\xFE",
    b"\xFE\xFF",
    b"\xEF\xBB\xBF",
    b"\0\0\0\0",
    b"\xFF\xFF\xFF\x7F",
    b"\xFF\x2F\0",
    b"MTrk",
    b"PK\x01\x02",
    b"((((((((",
    b"title: \"",
];

/// Small whole files in every format.
fn corpus() -> Vec<Vec<u8>> {
    let mut corpus: Vec<Vec<u8>> = [
        "abc/northumbrian_36_eba11ca0.abc",
        "abc/ryansMammoth_1_03b7a2a9.abc",
        "midi/airdsAirs_0273_704aee3b.mid",
        "midi/oneills1850_1011_ddebfbbe.mid",
        "musicxml/northumbrian_53_107847d1.mxl",
        "musicxml/ryansMammoth_1_25e38bdf.mxl",
    ]
    .iter()
    .map(|name| std::fs::read(data(name)).unwrap())
    .collect();
    let xml = String::from_utf8(
        std::fs::read(data("musicxml/northumbrian_36_eba11ca0.musicxml")).unwrap(),
    )
    .unwrap();
    // The head and the first bars are as good as the whole, and faster.
    let measures: Vec<&str> = xml.split_inclusive("</measure>").collect();
    corpus.push((measures[..4].concat() + "</part></score-partwise>").into_bytes());
    let melody = tune_ron::read(include_bytes!("../../melodies/oars-in-three.ron"))
        .unwrap()
        .melody;
    let melody = melody.excerpt(1..5).unwrap();
    let guitar = Instrument::default();
    corpus.push(tune_ron::write(&melody).into_bytes());
    corpus.push(abc::write(&melody).into_bytes());
    corpus.push(musicxml::write(&melody, &guitar, &[]).into_bytes());
    corpus.push(midi::write(&melody, &guitar).unwrap());
    corpus.push(b"(name: \"lake guitar\", strings: \"E3 A3 D4 G4 B4 E5\", frets: 22, scale_length: 648, sounding: \"-P8\", program: 25)".to_vec());
    corpus
}

/// One to eight changes: bytes and stretches changed, taken out, doubled, put in, or taken from another file.
fn damaged(corpus: &[Vec<u8>], rng: &mut SmallRng) -> Vec<u8> {
    let mut bytes = corpus[rng.random_range(0..corpus.len())].clone();
    for _ in 0..rng.random_range(1..=8) {
        let at = rng.random_range(0..=bytes.len());
        let end = (at + rng.random_range(0..64)).min(bytes.len());
        match rng.random_range(0..8) {
            0 if at < bytes.len() => bytes[at] ^= 1 << rng.random_range(0..8),
            1 if at < bytes.len() => bytes[at] = rng.random_range(0..=255),
            2 => drop(bytes.drain(at..end)),
            3 => {
                let stretch = bytes[at..end].to_vec();
                bytes.splice(at..at, stretch);
            }
            4 | 5 => drop(bytes.splice(
                at..at,
                WORDS[rng.random_range(0..WORDS.len())].iter().copied(),
            )),
            6 => {
                let other = &corpus[rng.random_range(0..corpus.len())];
                let from = rng.random_range(0..=other.len());
                let to = (from + rng.random_range(0..256)).min(other.len());
                bytes.splice(at..at, other[from..to].iter().copied());
            }
            7 if rng.random_range(0..4) == 0 => bytes.truncate(at),
            // A figure for a figure: lengths, octaves, divisions.
            _ => {
                if let Some(digit) = bytes[at..].iter().position(u8::is_ascii_digit) {
                    bytes[at + digit] = b'0' + rng.random_range(0..10);
                }
            }
        }
    }
    bytes
}

/// Reads with the reader the bytes look meant for, and now and then with every other.
fn read(bytes: &[u8], all: bool) -> Vec<Result<Melody, Unreadable>> {
    use fretlib::format::Format::{Abc, CompressedMusicXml, Midi, MusicXml, TuneRon};
    let format = detect(bytes);
    let melody = |reading: fretlib::format::Reading| reading.melody;
    let mut read = Vec::new();
    if all || format == Some(TuneRon) {
        read.push(tune_ron::read(bytes).map(melody));
    }
    if all || format == Some(Abc) {
        read.push(abc::read(bytes, &abc::Options::default()).map(melody));
        abc::tunes(bytes);
    }
    if all || matches!(format, Some(MusicXml | CompressedMusicXml)) {
        read.push(musicxml::read(bytes, &musicxml::Options::default()).map(melody));
    }
    if all || format == Some(Midi) {
        read.push(midi::read(bytes, &midi::Options::default()).map(melody));
    }
    if all {
        let _ = instrument_ron::read(&String::from_utf8_lossy(bytes));
    }
    read
}

/// What was read can be written in every format.
fn write(melody: &Melody) {
    let guitar = Instrument::default();
    tune_ron::write(melody);
    abc::write(melody);
    musicxml::write(melody, &guitar, &[]);
    let _ = midi::write(melody, &guitar);
}

#[test]
fn no_damage_makes_a_reader_panic() {
    let number = |name: &str| {
        std::env::var(name)
            .ok()
            .and_then(|text| text.parse::<u64>().ok())
    };
    let executions = number("FUZZ_EXECUTIONS").unwrap_or(4_000);
    let seed = number("FUZZ_SEED").unwrap_or(1);
    let corpus = corpus();
    let (mut reads, mut whole, mut refused, mut slowest) =
        (0u64, 0u64, 0u64, (std::time::Duration::ZERO, 0));
    for execution in 0.. {
        if reads >= executions {
            break;
        }
        let mut rng = SmallRng::seed_from_u64(seed.wrapping_mul(1 << 40).wrapping_add(execution));
        let bytes = damaged(&corpus, &mut rng);
        let begun = std::time::Instant::now();
        let results = catch_unwind(AssertUnwindSafe(|| {
            let results = read(&bytes, execution % 8 == 0);
            if execution % 16 == 0 {
                // A silence of weeks is written as that many bars: too slow to do often.
                results
                    .iter()
                    .flatten()
                    .filter(|it| it.bars().len() < 1000)
                    .for_each(write);
            }
            results
        }));
        let results = results.unwrap_or_else(|_| {
            let path = std::env::temp_dir().join(format!("neckline-fuzz-{seed}-{execution}"));
            let _ = std::fs::write(&path, &bytes);
            panic!(
                "FUZZ_SEED={seed}, execution {execution}: see {}",
                path.display()
            )
        });
        slowest = slowest.max((begun.elapsed(), execution));
        reads += results.len() as u64;
        for result in results {
            match result {
                Ok(melody) => {
                    whole += 1;
                    assert!(!melody.notes().is_empty());
                }
                Err(unreadable) => {
                    refused += 1;
                    assert!(
                        unreadable
                            .faults()
                            .iter()
                            .all(|fault| !fault.problem.is_empty())
                    );
                }
            }
        }
    }
    // Told with --nocapture; a run in which nothing was read whole, or nothing refused, would prove little.
    println!(
        "{reads} executions: {whole} read, {refused} refused; the slowest took {:?} (execution {})",
        slowest.0, slowest.1
    );
    assert!(
        whole * 20 > reads && refused * 20 > reads,
        "{whole} of {reads}"
    );
}
