//! Melodies written in each format and read again: everything the format can hold comes back.

use std::path::Path;

use fretlib::format::{abc, midi, musicxml, tune_ron};
use fretlib::melody::{Draft, Feel, Melody};
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
            abc::read(&bytes, &abc::AbcOptions::default())
                .unwrap()
                .melody,
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

/// What the reference tunes have not: a tempo and a feel of its own, and where the tune is from.
const NAMED: &str = "X:1
T:Ferry at Noon
C:A. Player
S:the café by the lake
Z:B. Writer
M:6/8
L:1/8
Q:\"swing 16ths\" 3/8=120
K:G
GAB \"D\"de2-|\"G\"e2z [Q:1/2=92.5]g3|
w:Fer-ry at noon, _ _ come
w:_ _ well\\-worn quay
G3 [Q:5/8=60]d3|]
w:
W:Ferry at noon, come over,
W:
W:100\\% wool.
";

#[test]
fn names_tempos_and_feel_are_held_by_every_format() {
    let read_abc = |text: &str| {
        let reading = abc::read(text.as_bytes(), &abc::AbcOptions::default());
        reading.unwrap().melody
    };
    let melody = read_abc(NAMED);
    let tempos: Vec<String> = melody.tempos().iter().map(|it| it.1.to_string()).collect();
    assert_eq!(tempos, ["q. = 120", "h = 185/2", "h+e = 60"]);
    assert_eq!(melody.feel(), Some(Feel::SwingSixteenths));
    assert_eq!(melody.source(), Some("the café by the lake"));
    assert_eq!(melody.transcriber(), Some("B. Writer"));
    let lyrics = melody.lyrics().iter().map(|it| {
        let joins = if it.joins { "-" } else { "" };
        format!("{}@{} {}{joins}", it.verse, it.onset, it.text)
    });
    assert_eq!(
        lyrics.collect::<Vec<_>>(),
        [
            "1@0 Fer-",
            "1@1/2 ry",
            "1@1 at",
            "2@1 well-worn",
            "1@3/2 noon,",
            "2@3/2 quay",
            "1@9/2 come"
        ]
    );
    assert_eq!(melody.words()[2], "100% wool.");
    let again = abc::write(&melody);
    assert_eq!(read_abc(&again), melody, "{again}");
    let ron = tune_ron::write(&melody);
    let read = tune_ron::read(ron.as_bytes()).unwrap().melody;
    assert_eq!(read, melody, "{ron}");
    let guitar = Instrument::default();
    let xml = musicxml::write(&melody, &guitar, &[]);
    for element in [
        "<beat-unit>quarter</beat-unit>",
        "<beat-unit-dot/>",
        "<sound tempo=\"180\"/>",
        "<swing-type>16th</swing-type>",
        "<encoder>B. Writer</encoder>",
        "<source>the café by the lake</source>",
    ] {
        assert!(xml.contains(element), "{element}");
    }
    let read = musicxml::read(xml.as_bytes(), &musicxml::MusicXmlOptions::default());
    let read = read.unwrap().melody.into_draft();
    // No note value lasts five eighths, so that MusicXML counts the last tempo in quarter notes.
    let tempos: Vec<String> = read.tempos.iter().map(|it| it.1.to_string()).collect();
    assert_eq!(tempos, ["q. = 120", "h = 185/2", "q = 150"]);
    let tempos = melody.tempos().clone();
    assert_eq!(Melody::new(Draft { tempos, ..read }).unwrap(), melody);
    let bytes = midi::write(&melody, &guitar).unwrap();
    let read = midi::read(&bytes, &midi::MidiOptions::default())
        .unwrap()
        .melody;
    assert_eq!(read.tempos(), melody.tempos());
    assert_eq!(read.feel(), melody.feel());
    let first_verse = melody.lyrics().iter().filter(|it| it.verse == 1);
    assert!(read.lyrics().iter().eq(first_verse));
    assert_eq!(
        [read.composer(), read.source(), read.transcriber()],
        [melody.composer(), melody.source(), melody.transcriber()]
    );
}

#[test]
fn abc_holds_everything_but_phrases() {
    for (name, melody) in melodies() {
        let text = abc::write(&melody);
        let read = abc::read(text.as_bytes(), &abc::AbcOptions::default())
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
            let read = musicxml::read(text.as_bytes(), &musicxml::MusicXmlOptions::default())
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
fn midi_holds_pitches_and_times_at_the_written_octave() {
    for (name, melody) in melodies() {
        for instrument in ["guitar", "ukulele", "mandolin"] {
            let instrument = Instrument::built_in(instrument).unwrap();
            let bytes = midi::write(&melody, instrument).unwrap();
            let read = midi::read(&bytes, &midi::MidiOptions::default())
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
