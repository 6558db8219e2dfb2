//! The MIDI reader compared with the golden records of the 20 files in `data/midi`.

use fretlib::format::midi::{MidiOptions, read};

use tests::data;
use tests::golden::tunes;

fn file(name: &str) -> Vec<u8> {
    std::fs::read(data("midi").join(name)).unwrap()
}

#[test]
fn every_reference_file_agrees_in_number_onset_and_duration() {
    let (mut checked, mut notes, mut spelled_alike) = (0, 0, 0);
    for tune in tunes() {
        let Some(name) = &tune.midi_file else {
            continue;
        };
        // These files have the number of the written note, whatever their program.
        let options = MidiOptions {
            octave_shift: Some(0),
            ..MidiOptions::default()
        };
        let reading = read(&file(name), &options).unwrap_or_else(|error| panic!("{name}: {error}"));
        spelled_alike += tune.check_sound(&reading.melody);
        checked += 1;
        notes += tune.notes.len();
    }
    assert_eq!(checked, 20);
    // A few chromatic notes are spelled by their movement, which a rule based on the key cannot do.
    assert!(
        spelled_alike * 1000 >= notes * 995,
        "{spelled_alike} of {notes}"
    );
}

#[test]
fn a_guitar_program_is_read_an_octave_higher_with_a_note() {
    let bytes = file("airdsAirs_0004_f6fc4bb6.mid");
    let as_it_stands = read(
        &bytes,
        &MidiOptions {
            octave_shift: Some(0),
            ..MidiOptions::default()
        },
    )
    .unwrap();
    let by_program = read(&bytes, &MidiOptions::default()).unwrap();
    assert_eq!(
        by_program.melody.notes()[0].pitch.midi(),
        as_it_stands.melody.notes()[0]
            .pitch
            .midi()
            .transpose(12)
            .unwrap()
    );
    assert!(
        by_program
            .warnings
            .iter()
            .any(|it| it.contains("--octave-shift")),
        "{:?}",
        by_program.warnings
    );
}
