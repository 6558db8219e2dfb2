//! The MusicXML reader compared with the golden records of the 30 scores in `data/musicxml`, and on three real scores.

use fretlib::format::musicxml::{MusicXmlOptions, read};
use fretlib::melody::Melody;

use tests::data;
use tests::golden::tunes;

#[test]
fn every_reference_score_agrees_note_for_note() {
    let mut checked = 0;
    for tune in tunes() {
        let Some(file) = &tune.musicxml_file else {
            continue;
        };
        let bytes = std::fs::read(data("musicxml").join(file)).unwrap();
        let melody = read(&bytes, &MusicXmlOptions::default())
            .unwrap_or_else(|error| panic!("{file}: {error}"))
            .melody;
        tune.check_notes(&melody);
        assert_eq!(
            melody.keys().first().unwrap().to_string(),
            tune.key,
            "{file}"
        );
        assert_eq!(melody.title(), tune.tidy_title(), "{file}");
        checked += 1;
    }
    assert_eq!(checked, 30);
}

/// The named part and the first notes of a score, as on the page (read by eye in the files).
fn check(file: &str, notes: usize, first: &str, chords: usize, remark: &str) {
    let bytes = std::fs::read(data("scores").join(file)).unwrap();
    let reading = read(&bytes, &MusicXmlOptions::default()).unwrap();
    let melody: &Melody = &reading.melody;
    let pitches: Vec<String> = melody
        .notes()
        .iter()
        .take(6)
        .map(|note| note.pitch.to_string())
        .collect();
    assert_eq!(pitches.join(" "), first, "{file} {:?}", reading.warnings);
    assert_eq!(
        (melody.notes().len(), melody.chords().iter().len()),
        (notes, chords),
        "{file}"
    );
    assert!(
        reading.warnings.join("; ").contains(remark),
        "{file}: {:?}",
        reading.warnings
    );
}

#[test]
fn real_scores_give_their_lead_line() {
    check(
        "aloha_oe.mxl",
        36,
        "D4 G4 B4 A4 G4 F#4",
        0,
        "part 5 (Solo Voice)",
    );
    check("fosterBrownHair.mxl", 95, "D5 C5 A4 Bb4 A4 G4", 40, "");
    check(
        "lift_every_voice.mxl",
        96,
        "G4 Ab4 Bb4 C5 C5 C5",
        0,
        "part 1 (Soprano)",
    );
}
