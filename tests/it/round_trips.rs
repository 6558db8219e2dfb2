//! Melodies written in each format and read again: what the format can hold comes back.

use std::path::Path;

use fretlib::format::{abc, midi, musicxml, tune_ron};
use fretlib::melody::{Draft, Melody};
use fretlib::neck::Instrument;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// The tunes that are shipped, and one in eight of those in `data/abc`.
fn melodies() -> Vec<(String, Melody)> {
    let files = |folder: &str| {
        let mut files: Vec<_> = std::fs::read_dir(root().join(folder))
            .unwrap()
            .map(|it| it.unwrap().path())
            .filter(|path| path.extension().is_none_or(|extension| extension != "md"))
            .collect();
        files.sort();
        files
    };
    let mut melodies = Vec::new();
    for path in files("melodies") {
        let bytes = std::fs::read(&path).unwrap();
        melodies.push((
            path.display().to_string(),
            tune_ron::read(&bytes).unwrap().melody,
        ));
    }
    assert!(melodies.len() >= 3);
    for path in files("tests/data/abc").into_iter().step_by(8) {
        let bytes = std::fs::read(&path).unwrap();
        melodies.push((
            path.display().to_string(),
            abc::read(&bytes, &abc::Options::default()).unwrap().melody,
        ));
    }
    melodies
}

fn without_phrases(melody: &Melody) -> Melody {
    let draft = Draft {
        phrase_starts: Vec::new(),
        ..melody.clone().into_draft()
    };
    Melody::new(draft).unwrap()
}

#[test]
fn abc_holds_everything_but_phrases() {
    for (name, melody) in melodies() {
        let text = abc::write(&melody);
        let read = abc::read(text.as_bytes(), &abc::Options::default())
            .unwrap_or_else(|error| panic!("{name}: {error}\n{text}"));
        assert_eq!(
            without_phrases(&read.melody),
            without_phrases(&melody),
            "{name}\n{text}"
        );
    }
}

#[test]
fn musicxml_holds_everything_but_phrases() {
    for (name, melody) in melodies() {
        for instrument in ["guitar", "ukulele", "bass"] {
            let text = musicxml::write(&melody, Instrument::built_in(instrument).unwrap(), &[]);
            let read = musicxml::read(text.as_bytes(), &musicxml::Options::default())
                .unwrap_or_else(|error| panic!("{name}: {error}"));
            assert_eq!(
                without_phrases(&read.melody),
                without_phrases(&melody),
                "{name}"
            );
            assert!(read.warnings.is_empty(), "{:?}", read.warnings);
        }
    }
}

#[test]
fn midi_holds_what_sounds_at_its_written_octave() {
    for (name, melody) in melodies() {
        for instrument in ["guitar", "ukulele", "mandolin"] {
            let instrument = Instrument::built_in(instrument).unwrap();
            let bytes = midi::write(&melody, instrument).unwrap();
            let read = midi::read(&bytes, &midi::Options::default())
                .unwrap_or_else(|error| panic!("{name}: {error}"))
                .melody;
            let heard = |melody: &Melody| {
                melody
                    .notes()
                    .iter()
                    .map(|note| (note.pitch.midi(), note.onset, note.duration))
                    .collect::<Vec<_>>()
            };
            assert_eq!(heard(&read), heard(&melody), "{name}");
            assert_eq!(read.title(), melody.title());
            assert_eq!(read.tempos(), melody.tempos(), "{name}");
        }
    }
}
