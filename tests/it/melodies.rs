//! The tunes that come with the program, and tunes converted into their notation.

use std::path::PathBuf;

use fretlib::format::{abc, tune_ron};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use fretlib::theory::{Key, Membership};

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../melodies")
}

fn read(bytes: &[u8], name: &str) -> Melody {
    tune_ron::read(bytes)
        .unwrap_or_else(|error| panic!("{name}: {error}"))
        .melody
}

fn shipped(name: &str) -> (Melody, Key) {
    let bytes = std::fs::read(folder().join(name)).unwrap();
    assert!(tune_ron::looks_like(&bytes), "{name}");
    let melody = read(&bytes, name);
    let key = *melody.keys().first().unwrap();
    (melody, key)
}

const SHIPPED: [&str; 3] = [
    "lamps-along-the-jetty.ron",
    "oars-in-three.ron",
    "pedalo-blues.ron",
];

/// The notes outside the scale: `bar:note over chord`.
fn check_outside(name: &str, membership: Membership, expected: &str) {
    let (melody, key) = shipped(name);
    let outside: Vec<String> = melody
        .analyse(key)
        .iter()
        .filter(|line| line.membership == membership)
        .map(|line| {
            let class = line.note.pitch.class();
            let chord = line.chord.unwrap();
            format!("{}:{class}={} of {chord}", line.bar, chord.degree(class))
        })
        .collect();
    assert_eq!(outside.join(", "), expected, "{name}");
}

#[test]
fn notes_outside_the_scale_fit_their_chord() {
    check_outside(
        "lamps-along-the-jetty.ron",
        Membership::Chromatic,
        "23:F#=3 of Dmaj7, 24:Gb=b9 of F7b9, 30:E=3 of C7",
    );
    check_outside(
        "oars-in-three.ron",
        Membership::Chromatic,
        "12:F#=3 of D7b9",
    );
    check_outside(
        "oars-in-three.ron",
        Membership::Raised,
        "8:C#=3 of A7b9, 11:B=9 of Am7, 15:C#=3 of A7b9, 24:C#=3 of A7b9, 30:C#=3 of A7b9",
    );
    check_outside(
        "pedalo-blues.ron",
        Membership::Chromatic,
        "1:Bb=#9 of G7, 2:Bb=b7 of C7, 2:Bb=b7 of C7, 4:F=b3 of Dm7, 4:F=b7 of G7, 5:Eb=#9 of C7, \
         6:Bb=bb7 of C#dim7, 6:C#=1 of C#dim7, 6:Bb=bb7 of C#dim7, 8:F=b5 of Bm7b5, 10:Eb=b9 of D7, 11:G#=3 of E7",
    );
}

// Common practice, no source: a strong beat has a chord tone.
#[test]
fn every_bar_and_every_chord_begins_on_a_chord_tone() {
    for name in SHIPPED {
        let (melody, key) = shipped(name);
        for line in melody.analyse(key) {
            let begins_bar = melody.bar_at(line.note.onset).onset == line.note.onset;
            let begins_chord = melody
                .chords()
                .iter()
                .any(|(onset, _)| onset == line.note.onset);
            let Some(chord) = line.chord.filter(|_| begins_bar || begins_chord) else {
                continue;
            };
            let class = line.note.pitch.class();
            let tones = chord.tones();
            assert!(
                tones.iter().any(|tone| tone.chroma() == class.chroma()),
                "{name}, bar {}: {class} over {chord}",
                line.bar
            );
        }
    }
}

#[test]
fn the_shipped_tunes_have_their_length_and_fit_on_a_guitar() {
    let guitar = Instrument::default();
    for (name, bars, most_semitones) in [
        (SHIPPED[0], 32, 16),
        (SHIPPED[1], 32, 18),
        (SHIPPED[2], 12, 17),
    ] {
        let (melody, _) = shipped(name);
        assert_eq!(melody.bars().last().unwrap().number, bars, "{name}");
        let (low, high) = melody.range();
        assert!(high.midi() - low.midi() <= most_semitones, "{name}");
        // One high point: the highest note sounds once.
        let peaks = melody
            .notes()
            .iter()
            .filter(|note| note.pitch == high)
            .count();
        assert_eq!(peaks, 1, "{name}");
        for note in melody.notes() {
            assert!(guitar.places_for(note.pitch.midi()).count() > 1, "{name}");
        }
    }
}

#[test]
fn phrases_found_are_the_phrases_marked() {
    // The others differ by a bar: the ballad before its last A, the blues in the turnaround.
    let (melody, _) = shipped("oars-in-three.ron");
    let marked = melody.phrases();
    let mut draft = melody.into_draft();
    draft.phrase_starts.clear();
    assert_eq!(Melody::new(draft).unwrap().phrases(), marked);
}

#[test]
fn the_tune_in_the_guide_is_read() {
    let guide = std::fs::read_to_string(folder().join("README.md")).unwrap();
    let (_, rest) = guide.split_once("```ron\n").unwrap();
    let (tune, _) = rest.split_once("```").unwrap();
    let melody = read(tune.as_bytes(), "README.md");
    assert_eq!(melody.title(), "Gulls over Breakfast");
    assert_eq!(melody.bars().len(), 9);
}

// Source: the 240 tunes of tests/data/abc.
#[test]
fn every_reference_tune_is_written_and_read_back() {
    let mut count = 0;
    for entry in std::fs::read_dir(tests::data("abc")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.display().to_string();
        let bytes = std::fs::read(&path).unwrap();
        let before = abc::read(&bytes, &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let text = tune_ron::write(&before);
        assert_eq!(read(text.as_bytes(), &name), before, "{name}\n{text}");
        count += 1;
    }
    assert_eq!(count, 240);
}
