//! Damaged files: every reader either reads or refuses, and never panics.
//!
//! `cargo test` does a few thousand; `FUZZ_EXECUTIONS=10000000 cargo test --release -p tests fuzz` does that many, and
//! `FUZZ_SEED` sets another start. A panic names the seed and the execution that lead to it again, with `FUZZ_FIRST`
//! for the execution to begin at.

use std::panic::{AssertUnwindSafe, catch_unwind};

use fretlib::format::{ReadError, abc, detect, instrument_ron, midi, musicxml, tune_ron};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use tests::data;

/// The format of a specimen, which decides how it is damaged and which reader reads it.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Tune,
    Instrument,
    Abc,
    Score,
    Archive,
    Midi,
}

struct Specimen {
    kind: Kind,
    bytes: Vec<u8>,
}

/// Pieces with a meaning in a format, or known to cause trouble.
fn words(kind: Kind) -> &'static [&'static [u8]] {
    match kind {
        Kind::Tune | Kind::Instrument => &[
            b"q",
            b"h.",
            b"~ ",
            b"r e ",
            b"t3 ",
            b"[section B] ",
            b" | ",
            b"Bb4 ",
            b"C#-1",
            b"% ",
            b"((((((((",
            b"title: \"\", ",
            b"key: \"F# phrygian\", ",
            b"pickup: \"1/7\", ",
            b"lines: [",
            b"99999999999999999999",
            b"/* /* */",
            b"\\u{0}",
            b"r#\"",
            b"Cm7b5/Gb ",
        ],
        Kind::Abc => &[
            b"|:",
            b":|",
            b"|1",
            b"|2",
            b"[M:255/64]",
            b"[K:",
            b"[K:F#phr]",
            b"(3",
            b"(5:4:9",
            b"\"Cm7b5/Gb\"",
            b"K:",
            b"X:1\n",
            b"L:1/9223372036854775807\n",
            b"\nL:1/512\n",
            b"99999999999999999999",
            b"/////////////",
            b"-",
            b">",
            b"<<",
            b"V:2\n",
            b"\nP:AABA\n",
            b"{abc}",
            b"[CEG]",
            b"^^",
            b"=",
            b"z16",
            b"Z99",
            b"\nw: la la\n",
            b"\\\n",
            b"%%",
        ],
        Kind::Score | Kind::Archive => &[
            b"<note>",
            b"</note>",
            b"<chord/>",
            b"<grace/>",
            b"<rest/>",
            b"<dot/>",
            b"<tie type='start'/>",
            b"<tie type='stop'/>",
            b"<backup><duration>9</duration></backup>",
            b"<forward><duration>2</duration></forward>",
            b"<forward><duration>999999999999</duration></forward>",
            b"<attributes><divisions>7</divisions></attributes>",
            b"<attributes><key><fifths>7</fifths></key></attributes>",
            b"<attributes><time><beats>3+2</beats><beat-type>8</beat-type></time></attributes>",
            b"<attributes><transpose><chromatic>99</chromatic></transpose></attributes>",
            b"<divisions>1000000000</divisions>",
            b"<duration>-1</duration>",
            b"<duration>0</duration>",
            b"<alter>-9</alter>",
            b"<octave>9</octave>",
            b"<voice>2</voice>",
            b"<measure>",
            b"</measure><measure>",
            b"<note><rest/><duration>3</duration></note>",
            b"<note><pitch><step>A</step><octave>4</octave></pitch><duration>1</duration></note>",
            b"<barline><repeat direction='backward'/></barline>",
            b"<barline><ending type='start' number='1'/></barline>",
            b"<harmony><root><root-step>C</root-step></root><kind>dominant-13th</kind></harmony>",
            b"<!DOCTYPE a [<!ENTITY b '&b;'>]>",
            b"&b;",
            b"&amp;",
            b"<![CDATA[",
            b"]]>",
            b"<!--",
            b"-->",
            b"PK\x01\x02",
        ],
        Kind::Midi => &[
            b"\xFF\xFF\xFF\x7F",
            b"\x81\x00",
            b"\0\xFF\x2F\0",
            b"MTrk",
            b"\0\x90\x45\x40",
            b"\x60\x80\x45\x40",
            b"\0\xC0\x18",
            b"\0\xFF\x58\x04\x03\x02\x18\x08",
            b"\0\xFF\x58\x04\x01\x06\x18\x08",
            b"\0\xFF\x59\x02\xFD\x01",
            b"\0\xFF\x51\x03\0\0\x01",
            b"\0\0\0\0",
            b"\0\xF0\x02\x01\xF7",
        ],
    }
}

/// Starts and ends of files, unexpected in the middle.
const ODDITIES: [&[u8]; 5] = [
    b"\xFF\xFE",
    b"\xFE\xFF",
    b"\xEF\xBB\xBF",
    b"\0\0\0\0",
    b"\xC0\x80",
];

/// Small whole files in every format.
fn corpus() -> Vec<Specimen> {
    let mut corpus: Vec<Specimen> = [
        (Kind::Abc, "abc/northumbrian_36_eba11ca0.abc"),
        (Kind::Abc, "abc/ryansMammoth_1_03b7a2a9.abc"),
        (Kind::Midi, "midi/airdsAirs_0273_704aee3b.mid"),
        (Kind::Midi, "midi/oneills1850_1011_ddebfbbe.mid"),
        (Kind::Archive, "musicxml/northumbrian_53_107847d1.mxl"),
    ]
    .into_iter()
    .map(|(kind, name)| Specimen {
        kind,
        bytes: std::fs::read(data(name)).unwrap(),
    })
    .collect();
    let xml = String::from_utf8(
        std::fs::read(data("musicxml/northumbrian_36_eba11ca0.musicxml")).unwrap(),
    )
    .unwrap();
    // The head and the first bars are enough, and faster.
    let measures: Vec<&str> = xml.split_inclusive("</measure>").collect();
    let score = measures[..4].concat() + "</part></score-partwise>";
    let melody = tune_ron::read(include_bytes!("../../melodies/oars-in-three.ron"))
        .unwrap()
        .melody;
    let melody = melody.excerpt(1..5).unwrap();
    let guitar = Instrument::default();
    let mut add = |kind, bytes| corpus.push(Specimen { kind, bytes });
    add(Kind::Score, score.into_bytes());
    add(Kind::Tune, tune_ron::write(&melody).into_bytes());
    add(Kind::Abc, abc::write(&melody).into_bytes());
    add(
        Kind::Score,
        musicxml::write(&melody, &guitar, &[]).into_bytes(),
    );
    add(Kind::Midi, midi::write(&melody, &guitar).unwrap());
    add(Kind::Instrument, b"(name: \"lake guitar\", strings: \"E3 A3 D4 G4 B4 E5\", frets: 22, scale_length: 648, sounding: \"-P8\", program: 25)".to_vec());
    corpus
}

/// One to eight changes, mostly few: bytes and ranges changed, removed, doubled, inserted, or copied from another file.
fn damaged(corpus: &[Specimen], rng: &mut SmallRng) -> Specimen {
    let Specimen { kind, bytes } = &corpus[rng.random_range(0..corpus.len())];
    let (kind, mut bytes) = (*kind, bytes.clone());
    // An archive has checksums of its contents, so the contents are damaged before packing.
    if kind == Kind::Archive && rng.random_range(0..4) > 0 {
        let scores: Vec<&Specimen> = corpus.iter().filter(|it| it.kind == Kind::Score).collect();
        bytes.clone_from(&scores[rng.random_range(0..scores.len())].bytes);
        damage(&mut bytes, Kind::Score, corpus, rng);
        bytes = musicxml::compress(&String::from_utf8_lossy(&bytes));
    } else {
        damage(&mut bytes, kind, corpus, rng);
    }
    Specimen { kind, bytes }
}

fn damage(bytes: &mut Vec<u8>, kind: Kind, corpus: &[Specimen], rng: &mut SmallRng) {
    let few = (0..3).map(|_| rng.random_range(1..=8)).min().unwrap_or(1);
    for _ in 0..few {
        let change = rng.random_range(0..16);
        let is_wild = rng.random_range(0..4) == 0;
        let mut at = rng.random_range(0..=bytes.len());
        // Text inserted between two tags often leaves the score readable.
        if let Some(length) = bytes[at..].iter().position(|byte| *byte == b'>')
            && kind == Kind::Score
            && (5..12).contains(&change)
            && !is_wild
        {
            at += length + 1;
        }
        let end = (at + rng.random_range(0..64)).min(bytes.len());
        let piece = match change {
            5 => bytes[at..end].to_vec(),
            6..10 => pick(words(kind), rng),
            10 if is_wild => pick(&ODDITIES, rng),
            11 => {
                let other = &corpus[rng.random_range(0..corpus.len())];
                let from = rng.random_range(0..=other.bytes.len());
                let to = (from + rng.random_range(0..256)).min(other.bytes.len());
                let is_related = other.kind == kind || is_wild;
                other.bytes[from..if is_related { to } else { from }].to_vec()
            }
            _ => Vec::new(),
        };
        match change {
            0 if at < bytes.len() => bytes[at] ^= 1 << rng.random_range(0..8),
            1 if at < bytes.len() => bytes[at] = rng.random_range(0..=255),
            // A byte of the same kind: in MIDI the highest bit separates data from status, and text is mostly ASCII.
            2 | 3 if at < bytes.len() => bytes[at] = bytes[at] & 0x80 | rng.random_range(0..128),
            4 => drop(bytes.drain(at..end)),
            5..12 => drop(bytes.splice(at..at, piece)),
            12 if is_wild => bytes.truncate(at),
            // A digit for a digit: lengths, octaves, divisions.
            _ => {
                if let Some(digit) = bytes[at..].iter().position(u8::is_ascii_digit) {
                    bytes[at + digit] = b'0' + rng.random_range(0..10);
                }
            }
        }
    }
}

fn pick(words: &[&[u8]], rng: &mut SmallRng) -> Vec<u8> {
    words[rng.random_range(0..words.len())].to_vec()
}

/// Reads with the reader for this kind of bytes, and sometimes with every other.
fn read(specimen: &Specimen, all: bool) -> Vec<Result<Melody, ReadError>> {
    use fretlib::format::Format::{Abc, CompressedMusicXml, Midi, MusicXml, TuneRon};
    let bytes = &specimen.bytes;
    if specimen.kind == Kind::Instrument || all {
        let _ = instrument_ron::read(&String::from_utf8_lossy(bytes));
    }
    let format = detect(bytes).filter(|_| specimen.kind != Kind::Instrument);
    let melody = |reading: fretlib::format::Reading| reading.melody;
    let mut read = Vec::new();
    if all || format == Some(TuneRon) {
        read.push(tune_ron::read(bytes).map(melody));
    }
    if all || format == Some(Abc) {
        read.push(abc::read(bytes, &abc::AbcOptions::default()).map(melody));
        abc::tunes(bytes);
    }
    if all || matches!(format, Some(MusicXml | CompressedMusicXml)) {
        read.push(musicxml::read(bytes, &musicxml::MusicXmlOptions::default()).map(melody));
    }
    if all || format == Some(Midi) {
        read.push(midi::read(bytes, &midi::MidiOptions::default()).map(melody));
    }
    read
}

/// A melody that was read can be written in every format.
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
    for execution in number("FUZZ_FIRST").unwrap_or(0).. {
        if reads >= executions {
            break;
        }
        let mut rng = SmallRng::seed_from_u64(seed.wrapping_mul(1 << 40).wrapping_add(execution));
        let specimen = damaged(&corpus, &mut rng);
        let begun = std::time::Instant::now();
        let results = catch_unwind(AssertUnwindSafe(|| {
            let results = read(&specimen, execution % 8 == 0);
            if execution % 16 == 0 {
                // A very long silence is written as many bars, which is too slow to do often.
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
            let _ = std::fs::write(&path, &specimen.bytes);
            panic!(
                "FUZZ_SEED={seed}, execution {execution}: see {}",
                path.display()
            )
        });
        let mut took = begun.elapsed();
        if took > slowest.0 {
            // CPU time, so that other work on the machine does not count.
            let begun = std::time::Instant::now();
            read(&specimen, execution % 8 == 0);
            took = took.min(begun.elapsed());
        }
        slowest = slowest.max((took, execution));
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
                            .diagnostics()
                            .iter()
                            .all(|fault| !fault.problem.is_empty())
                    );
                }
            }
        }
    }
    // Printed with --nocapture; a run in which nothing was read, or nothing refused, would prove little.
    println!(
        "{reads} executions: {whole} read, {refused} refused; the slowest took {:?} (execution {})",
        slowest.0, slowest.1
    );
    assert!(
        executions < 1000 || whole * 4 > reads && refused * 4 > reads,
        "{whole} of {reads}"
    );
}
