use super::*;
use crate::melody::Melody;
use crate::neck::Instrument;

/// A file of format 0 or 1 from the bytes of its tracks.
fn file(division: u16, tracks: &[&[u8]]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06".to_vec();
    bytes.extend([0, u8::from(tracks.len() > 1), 0, tracks.len() as u8]);
    bytes.extend(division.to_be_bytes());
    for track in tracks {
        bytes.extend(b"MTrk");
        bytes.extend((track.len() as u32).to_be_bytes());
        bytes.extend(*track);
    }
    bytes
}

const END: [u8; 4] = [0, 0xFF, 0x2F, 0];

fn line(bytes: &[u8], options: &MidiOptions) -> String {
    let melody = read(bytes, options)
        .unwrap_or_else(|error| panic!("{error}"))
        .melody;
    let notes = melody
        .notes()
        .iter()
        .map(|note| format!("{}:{}+{}", note.pitch, note.onset, note.duration));
    notes.collect::<Vec<_>>().join(" ")
}

fn check(track: &[u8], expected: &str) {
    let track = [track, &END].concat();
    assert_eq!(
        line(&file(96, &[&track]), &MidiOptions::default()),
        expected
    );
}

#[test]
fn events_become_notes() {
    // Running status, and note-on without velocity for an ending.
    check(
        &[0, 0x90, 69, 64, 96, 69, 0, 0, 71, 64, 48, 71, 0],
        "A4:0+1 B4:1+1/2",
    );
    // The second note begins before the first has ended; of two that begin together the higher stays.
    check(
        &[0, 0x90, 69, 64, 48, 71, 64, 48, 69, 0, 0, 71, 0],
        "A4:0+1/2 B4:1/2+1/2",
    );
    check(&[0, 0x90, 60, 64, 0, 67, 64, 96, 60, 0, 0, 67, 0], "G4:0+1");
    // A note that is struck again ends; one that is never stopped sounds to the end of the track.
    check(
        &[0, 0x90, 69, 64, 96, 69, 64, 96, 0xB0, 1, 1],
        "A4:0+1 A4:1+1",
    );
    // A guitar sounds an octave below what is written; a flute does not.
    check(&[0, 0xC0, 24, 0, 0x90, 52, 64, 96, 52, 0], "E4:0+1");
    check(&[0, 0xC0, 73, 0, 0x90, 64, 64, 96, 64, 0], "E4:0+1");
    // A ukulele is given a guitar's program, but sounds as written: its name says so.
    let ukulele = [
        &[0, 0xFF, 4, 7][..],
        b"ukulele",
        &[0, 0xC0, 24, 0, 0x90, 64, 64, 96, 64, 0],
    ]
    .concat();
    check(&ukulele, "E4:0+1");
}

#[test]
fn keys_give_the_spelling() {
    let a_flat_and_e_flat = [0, 0x90, 68, 64, 96, 68, 0, 0, 63, 64, 96, 63, 0];
    let with_key = |fifths: u8| [&[0, 0xFF, 0x59, 2, fifths, 0][..], &a_flat_and_e_flat].concat();
    check(&with_key(0xFC), "Ab4:0+1 Eb4:1+1"); // four flats
    check(&with_key(4), "G#4:0+1 D#4:1+1"); // four sharps
    let key_of = |track: &[u8]| {
        let bytes = file(96, &[&[track, &END].concat()]);
        read(&bytes, &MidiOptions::default())
            .unwrap()
            .melody
            .keys()
            .first()
            .map(ToString::to_string)
    };
    assert_eq!(key_of(&with_key(4)).as_deref(), Some("E major"));
    // C major, which many programs write without being asked, does not fit these notes.
    assert_eq!(key_of(&with_key(0)), None);
}

#[test]
fn a_track_is_chosen_by_its_notes_or_by_name() {
    let named = |name: &[u8], events: &[u8]| {
        [&[0, 0xFF, 3, name.len() as u8][..], name, events, &END].concat()
    };
    let chords = named(
        b"Keys",
        &[
            0, 0x90, 72, 64, 0, 76, 64, 0, 79, 64, 96, 72, 0, 0, 76, 0, 0, 79, 0,
        ],
    );
    let melody = named(b"Flute", &[0, 0x91, 67, 64, 96, 67, 0]);
    let drums = named(b"Kit", &[0, 0x99, 90, 64, 96, 90, 0]);
    let bytes = file(96, &[&chords, &melody, &drums]);
    assert_eq!(line(&bytes, &MidiOptions::default()), "G4:0+1");
    for wanted in ["Keys", "keys", "1"] {
        let options = MidiOptions {
            track: Some(wanted.into()),
            ..MidiOptions::default()
        };
        assert_eq!(line(&bytes, &options), "G5:0+1");
    }
    let options = MidiOptions {
        track: Some("Kit".into()),
        ..MidiOptions::default()
    };
    let error = read(&bytes, &options).unwrap_err();
    assert_eq!(
        error.diagnostics()[0].hint.as_deref(),
        Some("those with notes are 1 (Keys), 2 (Flute)")
    );
}

// Source: RP-001, meta event 03: the name of the first track is that of the sequence, any other's is its own.
#[test]
fn the_first_track_names_the_tune() {
    let conductor = |name: &[u8]| [&[0, 0xFF, 3, name.len() as u8][..], name, &END].concat();
    let flute = [
        &[0, 0xFF, 3, 5][..],
        b"Flute",
        &[0, 0x90, 67, 64, 96, 67, 0],
        &END,
    ]
    .concat();
    for (name, title) in [(&b"Low Water"[..], "Low Water"), (b"", "")] {
        let bytes = file(96, &[&conductor(name), &flute]);
        let reading = read(&bytes, &MidiOptions::default()).unwrap();
        assert_eq!(reading.melody.title(), title);
    }
}

#[test]
fn a_grid_can_be_forced() {
    let track = [
        &[0, 0x90, 69, 64, 40, 69, 0, 8, 71, 64, 48, 71, 0][..],
        &END,
    ]
    .concat();
    let options = |step| MidiOptions {
        grid: Some(step),
        ..MidiOptions::default()
    };
    assert_eq!(
        line(&file(96, &[&track]), &options(Quarters::new(1, 2))),
        "A4:0+1/2 B4:1/2+1/2"
    );
    assert_eq!(
        line(&file(96, &[&track]), &options(Quarters::from(1))),
        "A4:0+1 B4:1+1"
    );
    assert!(read(&file(96, &[&track]), &options(Quarters::from(0))).is_err());
}

#[test]
fn hostile_files_are_refused() {
    let note = [&[0, 0x90, 69, 64, 96, 69, 0][..], &END].concat();
    let far = [&[0xFF, 0xFF, 0xFF, 0x7F, 0x90, 69, 64, 96, 69, 0][..], &END].concat();
    let sixty_fourths = [
        &[0, 0xFF, 0x58, 4, 1, 6, 24, 8][..],
        &[0x88, 0x80, 0x00, 0x90, 69, 64, 96, 69, 0],
        &END,
    ]
    .concat();
    let cases = [
        (Vec::new(), "byte 0"),
        (b"MThd".to_vec(), "byte 0"),
        (file(96, &[]), "no notes found"),
        (file(96, &[&[]]), "no notes found"),
        (file(0, &[&note]), "byte 12: a quarter note has no ticks"),
        (file(1, &[&far]), "the time here is beyond"),
        (file(1, &[&sixty_fourths]), "more than 250000 bars"),
        (file(96, &[&[0, 0x90, 69]]), "byte 22: track 1 is broken"),
        (file(96, &[&[0, 0x45]]), "track 1 is broken"),
    ];
    for (bytes, message) in cases {
        let error = read(&bytes, &MidiOptions::default())
            .unwrap_err()
            .to_string();
        assert!(error.contains(message), "{error} / {message}");
    }
    let options = MidiOptions {
        octave_shift: Some(9),
        ..MidiOptions::default()
    };
    let error = read(&file(96, &[&note]), &options).unwrap_err().to_string();
    assert!(error.contains("moved by 9 octaves"), "{error}");
}

/// midly negates the frame rate as a signed byte: a panic where overflow is checked.
#[test]
fn a_frame_rate_of_minus_128_is_refused() {
    let error = read(
        b"MThd\0\0\0\x06\0\0\0\x01\x80\x78MTrk\0\0\0\0",
        &MidiOptions::default(),
    );
    let error = error.unwrap_err().to_string();
    assert!(error.contains("frame rate"), "{error}");
}

/// A track like those of players and programs: on fine grids, late, legato, in chords.
fn played(random: &mut impl FnMut(u32) -> u32, division: u16) -> Vec<u8> {
    let quarter = u32::from(division);
    let parts = [1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 24, 32, 48, 96];
    let mut events: Vec<(u32, u8, u8)> = Vec::new();
    let mut now = 0;
    for _ in 0..40 {
        let part = parts[random(parts.len() as u32) as usize];
        let step = (quarter * (1 + random(3)) / part).max(1);
        let late = if random(3) == 0 {
            random(1 + quarter / 40)
        } else {
            0
        };
        let key = 50 + random(30) as u8;
        events.push((now + late, 1, key));
        events.push((now + late + (step * (80 + random(40)) / 100).max(1), 0, key));
        now += if random(12) == 0 { random(4) } else { step };
    }
    // An ending comes before a beginning at the same time.
    events.sort();
    let mut track = Vec::new();
    let mut before = 0;
    for (at, is_on, key) in events {
        let delta = at - before;
        before = at;
        for shift in [21, 14, 7] {
            if delta >> shift > 0 {
                track.push(0x80 | (delta >> shift & 0x7F) as u8);
            }
        }
        track.push((delta & 0x7F) as u8);
        track.extend([0x90, key, 64 * is_on]);
    }
    track.extend(END);
    track
}

#[test]
fn a_file_rewritten_keeps_all_its_notes() {
    let mut state = 1u64;
    let mut random = |below: u32| {
        // Knuth's MMIX generator; the high bits are the good ones.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) % u64::from(below.max(1))) as u32
    };
    let guitar = Instrument::default();
    for number in 0..600 {
        let division = [
            24, 96, 120, 192, 220, 256, 384, 480, 960, 1024, 9600, 15_360,
        ][number % 12];
        let bytes = file(division, &[&played(&mut random, division)]);
        let first = read(&bytes, &MidiOptions::default()).unwrap().melody;
        let again = write(&first, &guitar).unwrap();
        let second = read(&again, &MidiOptions::default()).unwrap();
        let notes = |melody: &Melody| -> Vec<(Quarters, Quarters, u8)> {
            let notes = melody.notes().iter();
            notes
                .map(|it| (it.onset, it.duration, it.pitch.midi().get()))
                .collect()
        };
        assert_eq!(
            notes(&second.melody),
            notes(&first),
            "{number}, {division}: {:?}",
            second.warnings
        );
    }
}
