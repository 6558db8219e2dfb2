//! The ABC reader against tunes that independent readers agree on, and against damage done to them.

use fretlib::format::abc::{self, AbcOptions};
use tests::golden::{GoldenNote, tunes};

/// Tunes in which a second ending begins within a bar. The reference begins a bar there; here the bracket is not a bar
/// line, and the bars keep the length of their meter.
const ENDING_WITHIN_A_BAR: [&str; 2] = ["airdsAirs_0104_ceb83b3a", "airdsAirs_0907_c0024e9c"];

/// Source of the tunes and of the readings: `tests/data/README.md`.
#[test]
fn every_tune_agrees_note_for_note() {
    let (mut count, mut notes) = (0, 0);
    for golden in tunes() {
        let id = &golden.id;
        let mut expected = golden.notes.clone();
        let reading = abc::read(&golden.abc(), &AbcOptions::default())
            .unwrap_or_else(|diagnostics| panic!("{id}: {diagnostics}"));
        let melody = reading.melody;
        let home = *melody.keys().first().unwrap();
        let lines = melody.analyse(home);
        let mut found: Vec<GoldenNote> = lines.iter().map(GoldenNote::from).collect();
        // The records count every part between bar lines; in print a bar split by a repeat counts once.
        let first_number = melody.bars()[0].number;
        for (note, line) in found.iter_mut().zip(&lines) {
            let onset = line.note.onset;
            let stretches = melody.bars().partition_point(|bar| bar.onset <= onset);
            note.bar = first_number + stretches as u32 - 1;
        }
        if ENDING_WITHIN_A_BAR.contains(&id.as_str()) {
            assert!(
                found
                    .iter()
                    .zip(&expected)
                    .any(|(found, expected)| found.bar < expected.bar),
                "{id}"
            );
            found
                .iter_mut()
                .chain(&mut expected)
                .for_each(|note| note.bar = 0);
        }
        for (index, (found, expected)) in found.iter().zip(&expected).enumerate() {
            assert_eq!(found, expected, "{id}, note {}", index + 1);
        }
        assert_eq!(found.len(), expected.len(), "{id}");

        let leading: Vec<String> = lines
            .iter()
            .filter_map(|line| line.interval)
            .map(|it| it.to_string())
            .collect();
        assert_eq!(leading, golden.intervals, "{id}");
        assert_eq!(home.to_string(), golden.key, "{id}");
        assert_eq!(home.signature(), golden.fifths, "{id}");
        assert_eq!(
            melody.meters().first().unwrap().unwrap().to_string(),
            golden.meter,
            "{id}"
        );
        let (lowest, highest) = melody.range();
        assert_eq!(
            (lowest.to_string(), highest.to_string()),
            (golden.low.clone(), golden.high.clone()),
            "{id}"
        );
        assert_eq!(melody.title(), golden.tidy_title(), "{id}");
        count += 1;
        notes += found.len();
    }
    assert_eq!((count, notes), (240, 24_023));
}

/// Every tune is known as ABC and listed under its number and title. The only warnings are about text in quotes and
/// bars that are too long: in twelve tunes a bar line is missing or there is a note too many. In three a repeat is
/// never closed.
#[test]
fn every_tune_is_known_and_listed() {
    let mut with_long_bars = 0;
    let mut with_open_repeats = 0;
    for golden in tunes() {
        let id = &golden.id;
        let bytes = golden.abc();
        assert!(abc::looks_like(&bytes), "{id}");
        let listed = abc::tunes(&bytes);
        assert_eq!(listed.len(), 1, "{id}");
        assert_eq!(listed[0].title, golden.tidy_title(), "{id}");
        let options = AbcOptions {
            tune: Some(listed[0].number),
            voice: None,
        };
        let warnings = abc::read(&bytes, &options).unwrap().warnings;
        for remark in warnings {
            let is_on_bars = remark.contains("longer than its meter");
            let is_on_text = remark.starts_with("text that is not a chord symbol is left out");
            let is_on_form = remark.contains("a repeat begins here (`|:`) and never ends");
            assert!(is_on_bars || is_on_text || is_on_form, "{id}: {remark}");
            with_long_bars += u32::from(is_on_bars);
            with_open_repeats += u32::from(is_on_form);
        }
    }
    assert_eq!(with_long_bars, 12);
    assert_eq!(with_open_repeats, 3);
}

/// All tunes in one file are read as they are one by one.
#[test]
fn a_book_of_all_tunes_gives_each_back() {
    let tunes = tunes();
    let mut book = Vec::new();
    for golden in &tunes {
        book.extend_from_slice(&golden.abc());
        book.extend_from_slice(b"\n\n");
    }
    let listed = abc::tunes(&book);
    assert_eq!(listed.len(), tunes.len());
    for (golden, entry) in tunes.iter().zip(&listed) {
        let options = AbcOptions {
            tune: Some(entry.number),
            voice: None,
        };
        let alone = abc::read(&golden.abc(), &AbcOptions::default()).unwrap();
        assert_eq!(abc::read(&book, &options).unwrap(), alone, "{}", golden.id);
    }
}

/// Damaged files are read or refused, without a panic: every note of a tune in turn is cut off, doubled, or changed to
/// another byte.
#[test]
fn damaged_tunes_are_read_or_refused() {
    const BYTES: &[u8] = b"\0\n %|[](){}\"!&:<>-^_=/0934zZXKV,'\xE9\xFF";
    for (tune, golden) in tunes().iter().enumerate().step_by(8) {
        let whole = golden.abc();
        for at in (tune % 7..whole.len()).step_by(7) {
            let mut changed = whole.clone();
            changed[at] = BYTES[(at + tune) % BYTES.len()];
            let doubled = [&whole[..at], &whole[at / 2..]].concat();
            for bytes in [&whole[..at], &changed, &doubled] {
                let listed = abc::tunes(bytes);
                match abc::read(bytes, &AbcOptions::default()) {
                    Ok(reading) => {
                        assert!(!reading.melody.notes().is_empty() && !listed.is_empty())
                    }
                    Err(diagnostics) => {
                        assert!((1..=10).contains(&diagnostics.diagnostics().len()))
                    }
                }
            }
        }
    }
}
