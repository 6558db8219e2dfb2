//! The form of the reference tunes: repeats, endings, bar numbers, and how each format keeps them.

use fretlib::format::{abc, midi, musicxml, tune_ron};
use fretlib::melody::{Bar, FormSign, Melody, Quarters};
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
    abc::read(bytes, &abc::AbcOptions::default())
        .unwrap()
        .melody
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
        let read = musicxml::read(text.as_bytes(), &musicxml::MusicXmlOptions::default());
        let read = read.unwrap().melody;
        // The standard has no place for an order of parts.
        if melody.form().part_order().is_some() {
            assert!(read.form().is_empty());
            assert_eq!(played(&read), played(melody));
            return melody.clone();
        }
        read
    });
}

/// Bar numbers as print has them, counted by hand in the ten files: down the bar lines, a pickup left out, a bar that a repeat
/// sign or a double bar line splits once, a second ending counting on. For each tune the first full bar after each such
/// sign, and the last bar.
const COUNTED_BY_HAND: [(&str, &[u32], u32); 10] = [
    ("airdsAirs_0004_f6fc4bb6", &[9], 16), // B | 8 bars, the last of five eighths :| B | 8 bars :|
    ("airdsAirs_0273_704aee3b", &[7], 16), // D | 6 bars || c | 10 bars :|
    ("airdsAirs_0302_f35ee509", &[9], 16), // fg | 8 bars || Bc | 8 bars :|
    ("americanfife_13_3b1830e6", &[9, 17], 17), // D | 8 :| d | 7 bars and a first ending :| a second ending
    ("northumbrian_60_c588ae6d", &[5, 9], 12),  // e/f/ | 4 bars :| e | 4 bars :| c | 4 bars :|
    ("oneills1850_1170_c6bdf737", &[5], 8),     // f | 4 bars of 9/8 :: c | 4 bars :|
    ("oneills1850_1755_e8086eed", &[9, 17], 24), // AF | 8 bars :: c2 | 8 bars :: e2 | 8 bars :|
    ("oneills1850_952_eb3ab4aa", &[9], 16),     // a | 8 bars :| e | 8 bars :|
    ("ryansMammoth_1_51b46f91", &[9], 16),      // AB | 8 bars :: a2 | 8 bars :|
    ("ryansMammoth_1_bc4e6a36", &[9], 16),      // G2 | 8 bars :: G2 | 8 bars :|
];

#[test]
fn bars_have_the_numbers_of_print() {
    for (id, after_signs, last) in COUNTED_BY_HAND {
        let melody = tune(id);
        let bars = melody.bars();
        let signs = melody.form().signs().iter();
        let repeats_and_double_bars = signs.filter(|(at, sign)| {
            let is_inside = at.is_positive() && *at < melody.length();
            is_inside && matches!(sign, FormSign::RepeatEnd(_) | FormSign::DoubleBar)
        });
        let first_full = |at: Quarters| {
            let full = |bar: &&Bar| bar.onset >= at && !bar.continues() && !bar.is_extra;
            bars.iter().find(full).map(|bar| bar.number)
        };
        let numbers: Vec<u32> = repeats_and_double_bars
            .filter_map(|(at, _)| first_full(*at))
            .collect();
        assert_eq!(numbers, after_signs, "{id}");
        assert_eq!(bars.iter().map(|bar| bar.number).max(), Some(last), "{id}");
    }
}

#[test]
fn another_ending_counts_on_from_the_bar_before_it() {
    let check = |music: &str, expected: &str| {
        let melody = read_abc(format!("X:1\nM:4/4\nL:1/4\nK:C\n{music}\n").as_bytes());
        let numbers: Vec<String> = melody.bars().iter().map(Bar::to_string).collect();
        assert_eq!(numbers.join(" "), expected, "{music}");
    };
    check("CDEF|[1 GABc:|[2 GFED|]", "1 2 3");
    // One short bar, the same in both endings, for the pickup at the start.
    check("G|CDEF|[1 GAB:|[2 GAF|]", "0 1 2 3");
    // A pickup completes the bar before it, unless that is full.
    check("G|CDEF|[1 GAB:|[2 c|GFED|C3|]", "0 1 2 2 3 4");
    check("CDEF|[1 GABc:|[2 c|GFED|]", "1 2 2+ 3");
    // Both endings complete the bar in which the first one begins.
    check("G|CDEF|GA [1 B:|[2 Bc|GFED|]", "0 1 2 2 3");
    check(
        "G|CDEF|GAB [1 c|GFED|CDE:|[2 c|GFEC|C4|]",
        "0 1 2 3 4 4 5 6",
    );
}

#[test]
fn a_long_rest_is_one_rest_in_a_score_and_in_abc() {
    let music = "Z4|\"C\"CDEF|z4|\"G\"Z2|GABc|[M:3/4]Z2|[P:B]Z11|c3|]";
    let melody = read_abc(format!("X:1\nM:4/4\nL:1/4\nK:C\n{music}\n").as_bytes());
    let text = abc::write(&melody);
    let rests: Vec<&str> = text
        .split([' ', '\n', ']', '"'])
        .filter(|it| it.starts_with('Z'))
        .collect();
    assert_eq!(rests, ["Z4", "Z2", "Z2", "Z11"], "{text}");
    assert_eq!(read_abc(text.as_bytes()), melody);
    let score = musicxml::write(&melody, &Instrument::default(), &[]);
    let counts = score.split("<multiple-rest>").skip(1);
    let counts: Vec<&str> = counts.filter_map(|it| it.split('<').next()).collect();
    assert_eq!(counts, ["4", "2", "2", "11"]);
    let read = musicxml::read(score.as_bytes(), &musicxml::MusicXmlOptions::default());
    assert_eq!(read.unwrap().melody, melody);
}

#[test]
fn parts_are_played_in_the_order_that_the_header_gives() {
    let read = |order: &str| {
        let text = format!("X:1\nM:4/4\nL:1/4\nP:{order}\nK:C\nP:A\nCDEF|\nP:B\n|:G4:|]\n");
        abc::read(text.as_bytes(), &abc::AbcOptions::default()).unwrap()
    };
    let reading = read("A2BA");
    assert_eq!(reading.warnings, [""; 0]);
    let melody = reading.melody;
    let strain = [60, 62, 64, 65];
    let expected = [&strain[..], &strain, &[67, 67], &strain].concat();
    assert_eq!(played(&melody), expected);
    let ron = tune_ron::write(&melody);
    assert_eq!(tune_ron::read(ron.as_bytes()).unwrap().melody, melody);
    assert_eq!(read_abc(abc::write(&melody).as_bytes()), melody);
    let guitar = Instrument::default();
    let file = midi::write(&melody.played_out(), &guitar).unwrap();
    let sounds = midi::read(&file, &midi::MidiOptions::default())
        .unwrap()
        .melody;
    assert_eq!(played(&sounds), expected);
    for (order, warning) in [
        (
            "ABC",
            "the order of parts names part C, and no section of the tune has that name; the order is not followed",
        ),
        (
            "((((A99)99)99)99)99",
            "the order of parts is not followed: expected an order of at most 1000 parts such as AABA or (AB)2C, found `((((A99)99)99)99)99`",
        ),
    ] {
        let reading = read(order);
        assert_eq!(reading.warnings, [warning]);
        assert_eq!(played(&reading.melody), [60, 62, 64, 65, 67, 67]);
    }
}

/// Every tune as music21 plays the MusicXML that is written of it (source in `data/README.md`).
#[test]
fn the_score_that_is_written_is_played_in_the_same_order_elsewhere() {
    let records: Vec<Played> = json_lines("expanded_scores.jsonl");
    let differing: Vec<&str> = records
        .iter()
        .filter(|record| played(&tune(&record.id)) != record.midi)
        .map(|record| record.id.as_str())
        .collect();
    assert_eq!(differing, [""; 0]);
    assert_eq!(records.len(), 240);
}
