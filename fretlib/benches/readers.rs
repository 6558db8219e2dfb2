//! How fast files are read, each reader beside the bare parser it stands on: the floor, over the same bytes.
//!
//! A floor parses everything that is in the file and makes no tune of it. MIDI has two: midly's file in memory, and its
//! events one after the other, none kept, which is how the reader takes them. The floor of RON is the crate's own tree of
//! values, a low one: a tune's notes are a string to it. ABC has none: its parser is all ours, and a walk over the
//! characters would be the floor of nothing.
//!
//! `cargo bench -p fretlib --bench readers` prints bytes per second, and at the end how many times as long a reader takes
//! as its floor.

mod files;
mod ratio;

use divan::counter::BytesCount;
use divan::{Bencher, black_box};
use fretlib::format::{abc, midi, musicxml, tune_ron};

use files::files;
use ratio::ratio;

fn main() {
    divan::main();
    let compare = |name: &str, files: &[Vec<u8>], read: Walk, floor: Walk| {
        let over_all = |walk: Walk| files.iter().for_each(|file| walk(black_box(file)));
        ratio(name, || over_all(read), || over_all(floor));
    };
    compare(
        "MusicXML to bare quick-xml",
        &scores(),
        read_musicxml,
        quick_xml_events,
    );
    compare(
        "MIDI to midly in memory",
        &midi_files(),
        read_midi,
        midly_in_memory,
    );
    compare(
        "MIDI to midly, nothing kept",
        &midi_files(),
        read_midi,
        midly_events,
    );
    compare("RON to the tree of values", &tunes(), read_ron, ron_values);
}

/// One way through the bytes of a file.
type Walk = fn(&[u8]);

fn scores() -> Vec<Vec<u8>> {
    files("tests/data/musicxml", "musicxml")
}

fn midi_files() -> Vec<Vec<u8>> {
    files("tests/data/midi", "mid")
}

fn tunes() -> Vec<Vec<u8>> {
    files("melodies", "ron")
}

fn read_musicxml(file: &[u8]) {
    black_box(musicxml::read(file, &musicxml::MusicXmlOptions::default()).is_ok());
}

fn quick_xml_events(file: &[u8]) {
    let text = std::str::from_utf8(file).expect("the files are UTF-8");
    let mut reader = quick_xml::Reader::from_str(text);
    while !matches!(
        black_box(reader.read_event()),
        Ok(quick_xml::events::Event::Eof) | Err(_)
    ) {}
}

fn read_midi(file: &[u8]) {
    black_box(midi::read(file, &midi::MidiOptions::default()).is_ok());
}

fn midly_in_memory(file: &[u8]) {
    black_box(midly::Smf::parse(file).is_ok());
}

fn midly_events(file: &[u8]) {
    let (_, tracks) = midly::parse(file).expect("the files are MIDI");
    for track in tracks {
        for event in track.expect("the tracks are whole") {
            black_box(event.is_ok());
        }
    }
}

fn read_abc(file: &[u8]) {
    black_box(abc::read(file, &abc::AbcOptions::default()).is_ok());
}

fn read_ron(file: &[u8]) {
    black_box(tune_ron::read(file).is_ok());
}

fn ron_values(file: &[u8]) {
    let text = std::str::from_utf8(file).expect("the files are UTF-8");
    black_box(ron::from_str::<ron::Value>(text).expect("the files are RON"));
}

fn measure(bencher: Bencher, files: &[Vec<u8>], walk: Walk) {
    let bytes: usize = files.iter().map(Vec::len).sum();
    bencher
        .counter(BytesCount::new(bytes))
        .bench(|| files.iter().for_each(|file| walk(black_box(file))));
}

#[divan::bench]
fn musicxml_reader(bencher: Bencher) {
    measure(bencher, &scores(), read_musicxml);
}

#[divan::bench]
fn musicxml_floor_bare_quick_xml(bencher: Bencher) {
    measure(bencher, &scores(), quick_xml_events);
}

#[divan::bench]
fn midi_reader(bencher: Bencher) {
    measure(bencher, &midi_files(), read_midi);
}

#[divan::bench]
fn midi_floor_bare_midly(bencher: Bencher) {
    measure(bencher, &midi_files(), midly_in_memory);
}

#[divan::bench]
fn midi_floor_bare_midly_keeping_nothing(bencher: Bencher) {
    measure(bencher, &midi_files(), midly_events);
}

#[divan::bench]
fn abc_reader(bencher: Bencher) {
    measure(bencher, &files("tests/data/abc", "abc"), read_abc);
}

#[divan::bench]
fn tune_ron_reader(bencher: Bencher) {
    measure(bencher, &tunes(), read_ron);
}

#[divan::bench]
fn tune_ron_floor_bare_ron(bencher: Bencher) {
    measure(bencher, &tunes(), ron_values);
}
