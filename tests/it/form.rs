//! The form of the reference tunes: repeats, endings, bar numbers, and how each format keeps them.

use fretlib::format::{abc, musicxml, tune_ron};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use serde::Deserialize;
use tests::{data, json_lines};

/// A tune as two programs play it, with repeats (source in `data/README.md`).
#[derive(Deserialize)]
struct Played {
    id: String,
    midi: Vec<u8>,
}

fn tune(id: &str) -> Melody {
    let bytes = std::fs::read(data("abc").join(id).with_extension("abc")).unwrap();
    read_abc(&bytes)
}

fn read_abc(bytes: &[u8]) -> Melody {
    abc::read(bytes, &abc::Options::default()).unwrap().melody
}

fn played(melody: &Melody) -> Vec<u8> {
    let notes = melody.playing_order().notes(melody);
    let midi = |index: usize| melody.notes()[index].pitch.midi().get();
    notes.iter().map(|note| midi(note.index)).collect()
}

#[test]
fn tunes_are_played_as_other_programs_play_them() {
    // Those programs ignore the `"_D.C."` over the last bar of this one.
    const FOLLOWED_BY_US_ALONE: &str = "ryansMammoth_1_feb3cc3a";
    let records: Vec<Played> = json_lines("form.jsonl");
    let differing: Vec<&str> = records
        .iter()
        .filter(|record| played(&tune(&record.id)) != record.midi)
        .map(|record| record.id.as_str())
        .collect();
    assert_eq!(differing, [FOLLOWED_BY_US_ALONE]);
    assert_eq!(records.len(), 68);
}

/// All 240 tunes; those that differ after they were written and read again are named.
fn check_kept(write_and_read: impl Fn(&Melody) -> Melody) {
    let (mut count, mut with_form) = (0, 0);
    for entry in std::fs::read_dir(data("abc")).unwrap() {
        let path = entry.unwrap().path();
        let before = read_abc(&std::fs::read(&path).unwrap());
        let after = write_and_read(&before);
        let name = path.file_name().unwrap().to_string_lossy();
        assert_eq!(after.form(), before.form(), "{name}");
        assert_eq!(after.bars(), before.bars(), "{name}");
        // For a source in one line, the writer chooses the lines.
        if !before.line_breaks().is_empty() {
            assert_eq!(after.line_breaks(), before.line_breaks(), "{name}");
        }
        assert!(after == before, "{name}");
        count += 1;
        with_form += usize::from(!before.form().is_empty());
    }
    assert_eq!(count, 240);
    assert!(with_form >= 157, "{with_form}");
}

#[test]
fn abc_keeps_the_form() {
    check_kept(|melody| read_abc(abc::write(melody).as_bytes()));
}

#[test]
fn ron_keeps_the_form() {
    check_kept(|melody| {
        tune_ron::read(tune_ron::write(melody).as_bytes())
            .unwrap()
            .melody
    });
}

#[test]
fn musicxml_keeps_the_form() {
    check_kept(|melody| {
        let text = musicxml::write(melody, &Instrument::default(), &[]);
        let read = musicxml::read(text.as_bytes(), &musicxml::Options::default());
        read.unwrap().melody
    });
}

/// Every tune as music21 plays the MusicXML that is written of it (source in `data/README.md`).
#[test]
fn the_score_that_is_written_is_played_in_the_same_order_elsewhere() {
    // Endings that begin inside a measure, which music21 takes by whole measures.
    const INSIDE_A_MEASURE: [&str; 2] = ["airdsAirs_0104_ceb83b3a", "airdsAirs_0907_c0024e9c"];
    let records: Vec<Played> = json_lines("expanded_scores.jsonl");
    let differing: Vec<&str> = records
        .iter()
        .filter(|record| played(&tune(&record.id)) != record.midi)
        .map(|record| record.id.as_str())
        .collect();
    assert_eq!(differing, INSIDE_A_MEASURE);
    assert_eq!(records.len(), 240);
}
