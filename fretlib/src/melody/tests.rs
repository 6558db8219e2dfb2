//! Which drafts make a melody.

use super::*;

fn quarters(numer: i64, denom: i64) -> Quarters {
    Quarters::new(numer, denom)
}

fn pitch(name: &str) -> Pitch {
    name.parse().unwrap()
}

fn waltz_with_pickup() -> Melody {
    let mut draft = Draft::default();
    draft
        .meters
        .set(quarters(0, 1), Some("3/4".parse().unwrap()));
    draft.bar_line();
    draft.note(pitch("D4"), quarters(1, 1)).unwrap();
    for _ in 0..3 {
        draft.bar_line();
        draft.note(pitch("G4"), quarters(2, 1)).unwrap();
        draft.note(pitch("B4"), quarters(1, 1)).unwrap();
    }
    draft.bar_line();
    Melody::new(draft).unwrap()
}

#[test]
fn a_short_first_bar_is_bar_zero() {
    let melody = waltz_with_pickup();
    let numbers: Vec<u32> = melody.bars().iter().map(|bar| bar.number).collect();
    assert_eq!(numbers, [0, 1, 2, 3]);
    assert_eq!(melody.bar_at(quarters(0, 1)).number, 0);
    assert_eq!(melody.bar_at(quarters(7, 2)).number, 1);
    assert_eq!(melody.bar_at(quarters(99, 1)).number, 3);
}

#[test]
fn a_tune_without_bar_lines_gets_them_by_meter() {
    let mut draft = Draft::default();
    draft.meters.set(quarters(0, 1), Some(Meter::COMMON));
    for _ in 0..9 {
        draft.note(pitch("A4"), quarters(1, 1)).unwrap();
    }
    let melody = Melody::new(draft).unwrap();
    assert_eq!(melody.bars().len(), 3);
    assert_eq!(melody.bars()[0].number, 1);
}

#[test]
fn a_bar_line_at_the_end_opens_no_bar() {
    let mut draft = Draft::default();
    draft.note(pitch("A4"), quarters(2, 1)).unwrap();
    draft.bar_line();
    assert_eq!(Melody::new(draft).unwrap().bars().len(), 1);
    assert_eq!(waltz_with_pickup().bars().len(), 4);
}

#[test]
fn an_excerpt_keeps_bar_numbers_and_begins_at_zero() {
    let part = waltz_with_pickup().excerpt(2..4).unwrap();
    assert_eq!(part.notes().len(), 4);
    assert_eq!(part.notes()[0].onset, quarters(0, 1));
    assert_eq!(part.bars()[0].number, 2);
    assert_eq!(
        part.meters().at(quarters(0, 1)),
        Some(&Some("3/4".parse().unwrap()))
    );
    assert!(waltz_with_pickup().excerpt(9..12).is_none());
}

#[test]
fn transposing_moves_notes_and_keys() {
    let melody = waltz_with_pickup().with_key("G major".parse().unwrap());
    let moved = melody.transposed("+m3".parse().unwrap()).unwrap();
    assert_eq!(moved.notes()[0].pitch, pitch("F4"));
    assert_eq!(moved.keys().first().unwrap().to_string(), "Bb major");
    assert_eq!(moved.transposed("-m3".parse().unwrap()), Ok(melody));
}

#[test]
fn impossible_drafts_are_refused() {
    assert_eq!(Melody::new(Draft::default()), Err(MelodyError::NoNotes));

    let note = |onset, duration| Note {
        pitch: pitch("C4"),
        onset,
        duration,
    };
    let cases = [
        (
            vec![
                note(quarters(0, 1), quarters(2, 1)),
                note(quarters(1, 1), quarters(1, 1)),
            ],
            MelodyError::Overlap { note: 2 },
        ),
        (
            vec![note(quarters(0, 1), quarters(0, 1))],
            MelodyError::NoLength { note: 1 },
        ),
        (
            vec![note(quarters(1, 1_000_003), quarters(1, 1))],
            MelodyError::TooFine { note: 1 },
        ),
        (
            vec![note(quarters(0, 1), quarters(5_000_000, 1))],
            MelodyError::TooLong { note: 1 },
        ),
    ];
    for (notes, error) in cases {
        let draft = Draft {
            notes,
            ..Draft::default()
        };
        assert_eq!(Melody::new(draft), Err(error));
    }
}

#[test]
fn a_very_long_silence_does_not_make_millions_of_bars() {
    let with_rest = |bars: usize| {
        let mut draft = Draft::default();
        draft
            .meters
            .set(quarters(0, 1), Some("1/64".parse().unwrap()));
        draft.note(pitch("C4"), quarters(1, 16)).unwrap();
        draft.rest(quarters(bars as i64 - 1, 16)).unwrap();
        Melody::new(draft).map(|melody| melody.bars().len())
    };
    let most = Melody::MOST_BARS;
    assert_eq!(with_rest(most), Ok(most));
    assert_eq!(with_rest(most + 1), Err(MelodyError::TooManyBars));
    assert_eq!(with_rest(60_000_000), Err(MelodyError::TooManyBars));
}

#[test]
fn the_range_is_by_sound() {
    let (low, high) = waltz_with_pickup().range();
    assert_eq!((low, high), (pitch("D4"), pitch("B4")));
}
