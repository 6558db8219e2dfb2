//! How fast files are read, each reader beside the bare parser it stands on: the floor, over the same bytes.
//!
//! A floor parses everything that is in the file and makes no tune of it. MIDI has two: midly's file in memory, and its
//! events one after the other, none kept, which is how the reader takes them. The floor of RON is the crate's own tree of
//! values, a low one: a tune's notes are a string to it. ABC has none: its parser is all ours, and a walk over the
//! characters would be the floor of nothing.
//!
//! `cargo bench -p fretlib --bench readers` prints bytes per second.

mod files;

use divan::counter::BytesCount;
use divan::{Bencher, black_box};
use fretlib::format::{abc, midi, musicxml, tune_ron};

use files::files;

fn main() {
    divan::main();
}

fn measure(bencher: Bencher, files: &[Vec<u8>], read: impl Fn(&[u8]) + Sync) {
    let bytes: usize = files.iter().map(Vec::len).sum();
    bencher
        .counter(BytesCount::new(bytes))
        .bench(|| files.iter().for_each(|file| read(black_box(file))));
}

#[divan::bench]
fn musicxml_reader(bencher: Bencher) {
    measure(bencher, &files("tests/data/musicxml", "musicxml"), |file| {
        black_box(musicxml::read(file, &musicxml::MusicXmlOptions::default()).is_ok());
    });
}

#[divan::bench]
fn musicxml_floor_bare_quick_xml(bencher: Bencher) {
    measure(bencher, &files("tests/data/musicxml", "musicxml"), |file| {
        let text = std::str::from_utf8(file).expect("the files are UTF-8");
        let mut reader = quick_xml::Reader::from_str(text);
        while !matches!(
            black_box(reader.read_event()),
            Ok(quick_xml::events::Event::Eof) | Err(_)
        ) {}
    });
}

#[divan::bench]
fn midi_reader(bencher: Bencher) {
    measure(bencher, &files("tests/data/midi", "mid"), |file| {
        black_box(midi::read(file, &midi::MidiOptions::default()).is_ok());
    });
}

#[divan::bench]
fn midi_floor_bare_midly(bencher: Bencher) {
    measure(bencher, &files("tests/data/midi", "mid"), |file| {
        black_box(midly::Smf::parse(file).is_ok());
    });
}

#[divan::bench]
fn midi_floor_bare_midly_keeping_nothing(bencher: Bencher) {
    measure(bencher, &files("tests/data/midi", "mid"), |file| {
        let (_, tracks) = midly::parse(file).expect("the files are MIDI");
        for track in tracks {
            for event in track.expect("the tracks are whole") {
                black_box(event.is_ok());
            }
        }
    });
}

#[divan::bench]
fn abc_reader(bencher: Bencher) {
    measure(bencher, &files("tests/data/abc", "abc"), |file| {
        black_box(abc::read(file, &abc::AbcOptions::default()).is_ok());
    });
}

#[divan::bench]
fn tune_ron_reader(bencher: Bencher) {
    measure(bencher, &files("melodies", "ron"), |file| {
        black_box(tune_ron::read(file).is_ok());
    });
}

#[divan::bench]
fn tune_ron_floor_bare_ron(bencher: Bencher) {
    measure(bencher, &files("melodies", "ron"), |file| {
        let text = std::str::from_utf8(file).expect("the files are UTF-8");
        black_box(ron::from_str::<ron::Value>(text).expect("the files are RON"));
    });
}
