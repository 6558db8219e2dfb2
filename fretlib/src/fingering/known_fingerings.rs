//! Fingerings that every guitarist knows are found. All are common practice, no source.

use super::*;
use crate::mapping::OpenStrings;
use crate::melody::{Draft, Melody, Quarters, Tempo};
use crate::neck::{Fret, Hand, Instrument, StringNumber};
use crate::theory::{Octave, Pitch};

/// Eighth notes at 100 quarter notes a minute.
fn line(names: &str) -> TimedMelody {
    let mut draft = Draft::default();
    for name in names.split(' ') {
        let pitch: Pitch = name.parse().unwrap();
        draft.note(pitch, Quarters::new(1, 2)).unwrap();
    }
    let tempo = Tempo::new(Quarters::from(1), Quarters::from(100)).unwrap();
    TimedMelody::new(&Melody::new(draft).unwrap(), Octave::WRITTEN, Some(tempo)).unwrap()
}

/// The fingering found for a melody and a medium hand.
fn found(names: &str, constraints: &Constraints) -> Vec<FingeredNote> {
    let guitar = Instrument::default();
    let player = Player {
        instrument: &guitar,
        hand: Hand::MEDIUM,
    };
    let search = FingeringSearch {
        constraints: constraints.clone(),
        ..FingeringSearch::new(player)
    };
    search.run(&line(names)).unwrap().remove(0).notes
}

/// String and finger of every note.
fn played(names: &str, constraints: &Constraints) -> String {
    let shown: Vec<String> = found(names, constraints)
        .iter()
        .map(|note| {
            let finger = note.finger.map_or(0, Finger::get);
            format!("{}-{finger}", note.place.string)
        })
        .collect();
    shown.join(" ")
}

/// The hand held to one position.
pub(super) fn held(position: u8) -> Constraints {
    Constraints::in_position(Position::new(position).unwrap())
}

#[test]
fn two_octaves_of_g_major_lie_in_second_position() {
    let constraints = Constraints {
        open_strings: OpenStrings::Nowhere,
        ..held(2)
    };
    assert_eq!(
        played(
            "G3 A3 B3 C4 D4 E4 F#4 G4 A4 B4 C5 D5 E5 F#5 G5",
            &constraints
        ),
        "6-2 6-4 5-1 5-2 5-4 4-1 4-3 4-4 3-1 3-3 3-4 2-2 2-4 1-1 1-2"
    );
}

#[test]
fn a_chromatic_run_takes_a_finger_a_fret() {
    for (position, run) in [
        (3, "F4 F#4 G4 G#4"),
        (5, "G4 G#4 A4 A#4"),
        (9, "B4 C5 C#5 D5"),
    ] {
        let constraints = Constraints {
            strings: Some(vec![StringNumber::new(4).unwrap()]),
            ..held(position)
        };
        assert_eq!(played(run, &constraints), "4-1 4-2 4-3 4-4");
    }
}

/// The seven forms of a major scale with three notes a string, one from each degree on the sixth string: two whole
/// tones take a stretch, 1 2 4; a semitone and a whole tone take 1 2 4; a whole tone and a semitone take 1 3 4.
#[test]
fn three_notes_a_string_take_three_fingers() {
    let scale = "G3 A3 B3 C4 D4 E4 F#4 G4 A4 B4 C5 D5 E5 F#5 G5 A5 B5 C6 D6 E6 F#6 G6 A6 B6";
    let names: Vec<&str> = scale.split(' ').collect();
    let guitar = Instrument::default();
    for first in 0..7 {
        for (notes, string) in names[first..first + 18].chunks(3).zip((1..=6).rev()) {
            let fret = |name: &str| {
                let midi = name.parse::<Pitch>().unwrap().midi();
                let place = guitar
                    .places_for(midi)
                    .find(|place| place.string.get() == string);
                place.unwrap().fret.get()
            };
            let frets: Vec<u8> = notes.iter().map(|name| fret(name)).collect();
            let (position, fingers) = match (frets[1] - frets[0], frets[2] - frets[1]) {
                (2, 2) => (frets[0] + 1, [1, 2, 4]),
                (1, 2) => (frets[0], [1, 2, 4]),
                (2, 1) => (frets[0], [1, 3, 4]),
                other => panic!("no major scale has {other:?}"),
            };
            let constraints = Constraints {
                strings: Some(vec![StringNumber::new(string).unwrap()]),
                ..held(position)
            };
            let expected = fingers.map(|finger| format!("{string}-{finger}"));
            assert_eq!(played(&notes.join(" "), &constraints), expected.join(" "));
        }
    }
}

#[test]
fn an_octave_is_two_strings_up_and_two_or_three_frets() {
    // From the sixth or fifth string two frets up, fingers 1 and 3; from the fourth or third three frets, fingers 1 and 4.
    for (low, high, strings, fingers) in [
        ("A3", "A4", (6, 4), (1, 3)),
        ("D4", "D5", (5, 3), (1, 3)),
        ("G4", "G5", (4, 2), (1, 4)),
        ("C5", "C6", (3, 1), (1, 4)),
    ] {
        let melody = [low, high, low, high].join(" ");
        let ((from, to), (lower, upper)) = (strings, fingers);
        assert_eq!(
            played(&melody, &held(5)),
            format!("{from}-{lower} {to}-{upper} {from}-{lower} {to}-{upper}")
        );
    }
}

#[test]
fn near_the_nut_the_fourth_finger_may_take_the_third_fret_of_the_upper_strings() {
    assert_eq!(played("G5 F5 D5 C5", &held(1)), "1-4 1-1 2-4 2-1");
}

/// The position of every note.
fn positions(names: &str, constraints: &Constraints) -> Vec<u8> {
    let notes = found(names, constraints);
    notes.iter().map(|note| note.position.get()).collect()
}

#[test]
fn a_pin_keeps_the_hand_there_until_the_end() {
    let phrase = "A4 C5 D5 E5 G5 E5 D5 C5 A4 G4 A4 C5 D5 C5 A4 G4";
    assert!(
        positions(phrase, &Constraints::default())
            .iter()
            .all(|it| *it <= 3)
    );
    for (string, fret) in [(4, 7), (3, 2), (5, 12)] {
        let place = Place {
            string: StringNumber::new(string).unwrap(),
            fret: Fret::new(fret).unwrap(),
        };
        let pinned = Constraints {
            pins: [(0, place.into())].into(),
            ..Constraints::default()
        };
        let positions = positions(phrase, &pinned);
        let near = |it: &u8| (fret.saturating_sub(4)..=fret + 1).contains(it);
        assert!(
            positions.iter().all(near),
            "pinned at {place}: {positions:?}"
        );
    }
}

/// One pin alone holds the hand for notes of every pitch; of two, each tells most about notes near it in pitch.
#[test]
fn one_pin_alone_holds_high_and_low_notes_alike() {
    let melody = "A4 G4 C5 E4 G5 C4 B4 F5 D4 A4 E5 G4 C5 A4 F4 D5 G5 E4 C4 A4 B4 C5 E5 D5";
    let place: Place = "4:9".parse().unwrap();
    let constraints = Constraints {
        pins: [(6, place.into())].into(),
        ..Constraints::default()
    };
    let positions = positions(melody, &constraints);
    assert!(
        positions.iter().all(|it| (5..=9).contains(it)),
        "{positions:?}"
    );
}

#[test]
fn a_phrase_that_comes_again_is_fingered_alike() {
    let phrase = "G4 B4 D5 G5 F#5 D5 B4 A4";
    let notes = found(
        &[phrase, phrase, "E5 C5 A4 G4", phrase].join(" "),
        &Constraints::default(),
    );
    let times = [&notes[..8], &notes[8..16], &notes[20..]]
        .map(|time| -> Vec<Place> { time.iter().map(|note| note.place).collect() });
    assert!(times.iter().all(|time| *time == times[0]), "{times:?}");
}

/// A phrase, and its repetition a little later, where the fourth note is pinned once: it is played there both times.
#[test]
fn a_phrase_is_fingered_like_its_pinned_repetition() {
    let phrase = "G4 A4 C5 E5 D5 C5 A4 G4";
    let melody = [phrase, "D4 E4 F4 G4", phrase].join(" ");
    let place = |string, fret| Place {
        string: StringNumber::new(string).unwrap(),
        fret: Fret::new(fret).unwrap(),
    };
    for pinned in [place(1, 0), place(2, 5)] {
        for (pin, other) in [(3, 15), (15, 3)] {
            let constraints = Constraints {
                pins: [(pin, pinned.into())].into(),
                ..Constraints::default()
            };
            let notes = found(&melody, &constraints);
            assert_eq!(notes[other].place, pinned, "note {pin} pinned");
        }
    }
}

#[test]
fn no_finger_hops_across_strings_and_frets_between_two_quick_notes() {
    let notes = found("B4 D5 Eb5 C5 F#4 D4 F4 D4", &Constraints::default());
    let hops = notes.windows(2).filter(|pair| {
        let [one, other] = [pair[0], pair[1]];
        one.finger.is_some()
            && one.finger == other.finger
            && one.place.string != other.place.string
            && one.place.fret != other.place.fret
            && one.position == other.position
    });
    assert_eq!(hops.count(), 0, "{notes:?}");
}

/// Half of a high melody would crowd on the first string in first position; when it spans much, mid-neck does not hold it either.
/// Common practice, no source.
#[test]
fn a_high_melody_lies_in_mid_neck_unless_the_player_says_where() {
    let (low, high) = ("C5 E5 D5 B4 G4 A4", "E5 G5 A5 B5 A5 C5");
    let guitar = Instrument::default();
    let player = Player {
        instrument: &guitar,
        hand: Hand::MEDIUM,
    };
    let search = FingeringSearch::new(player);
    let usual = |names: &str| search.in_usual_region(&line(names)).1;
    assert_eq!((usual(low), usual(high)), (Region::Low, Region::Middle));
    // The limits: a semitone below the open first string, and an octave.
    assert_eq!((usual("Eb5"), usual("D5")), (Region::Middle, Region::Low));
    let spanning = |low| usual(&[low, low, "E5", "A5", "A5", "A5"].join(" "));
    assert_eq!(
        (spanning("Bb4"), spanning("A4")),
        (Region::Middle, Region::Low)
    );

    let first = |search: &FingeringSearch| search.run_in_regions(&line(high)).unwrap()[0].0;
    let three = FingeringSearch {
        count: 3,
        ..search.clone()
    };
    assert_eq!(
        first(&three),
        Region::Middle,
        "the usual region comes first"
    );

    // Frets count from the capo, and from whatever the first string is tuned to.
    for (first, capo, limit, below) in [
        ("E5", 3, "Gb5", "F5"),
        ("D5", 0, "Db5", "C5"),
        ("D5", 5, "Gb5", "F5"),
    ] {
        let mut spec = guitar.build().clone();
        spec.capo = capo;
        spec.strings[0] = first.parse().unwrap();
        let other = Instrument::new(spec).unwrap();
        let usual = |name: &str| Region::usual(&other, &line(name));
        assert_eq!(
            (usual(limit), usual(below)),
            (Region::Middle, Region::Low),
            "{first}, capo {capo}"
        );
    }

    let mut started = search.clone();
    started.constraints.start = Some(Position::FIRST);
    let mut at_home = search.clone();
    at_home.homes = vec![(0..6, Home::at(Position::FIRST))];
    for said in [started, at_home] {
        let (kept, region) = said.in_usual_region(&line(high));
        assert_eq!((kept.homes, region), (said.homes, Region::Low));
    }
}

/// String and finger of every note, with the position where the hand comes to it, in mid-neck.
fn in_mid_neck(names: &str) -> String {
    let guitar = Instrument::default();
    let line = line(names);
    let search = FingeringSearch::new(Player {
        instrument: &guitar,
        hand: Hand::MEDIUM,
    });
    let found = search.in_region(Region::Middle, &line).run(&line).unwrap();
    let mut before = None;
    let shown: Vec<String> = (found[0].notes.iter())
        .map(|note| {
            let moved = before.replace(note.position) != Some(note.position);
            let position = moved.then(|| format!("{} ", note.position));
            let finger = note.finger.map_or(0, Finger::get);
            format!(
                "{}{}-{finger}",
                position.unwrap_or_default(),
                note.place.string
            )
        })
        .collect();
    shown.join(" ")
}

/// A player in mid-neck moves the hand for what it cannot reach, not for an easier finger.
#[test]
fn in_mid_neck_the_hand_stays_where_it_reaches_everything() {
    // The fourth finger has F4 and Bb4 on the eighth fret; in IV the first finger would, and go back at once.
    assert_eq!(
        in_mid_neck("D4 F4 A4 G4 F4 G4 Bb4 C5 Bb4 A4 A4 C5 D5 C5 Bb4 A4"),
        "V 5-1 5-4 4-3 4-1 5-4 4-1 4-4 3-1 4-4 4-3 4-3 3-1 3-3 3-1 4-4 4-3"
    );
    // One G5 on the second string, with the fourth finger.
    assert_eq!(
        in_mid_neck("A5 C6 B5 A5 G5 A5 E5 C5"),
        "V 1-1 1-4 1-3 1-1 2-4 1-1 2-1 3-1"
    );
}

/// A finger that stops the next fret is ready; the same finger would have to slide there.
#[test]
fn between_two_quick_notes_no_finger_slides_to_the_fret_of_another() {
    assert_eq!(played("C5 Eb5 D5 C5", &held(1)), "2-1 2-4 2-3 2-1");
}

/// The hand reaches all of it from V, so it does not follow one low note, and the second time goes as the first.
#[test]
fn in_mid_neck_a_phrase_that_comes_again_is_fingered_alike() {
    let phrase = "A4 E5 D5 C5 Bb4 G4 E4 G4";
    let twice = in_mid_neck(&[phrase, phrase].join(" "));
    assert_eq!(
        twice,
        "V 4-3 2-1 3-3 3-1 4-4 4-1 5-3 4-1 4-3 2-1 3-3 3-1 4-4 4-1 5-3 4-1"
    );
}
