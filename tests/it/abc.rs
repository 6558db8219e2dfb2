//! The ABC reader against tunes that independent readers agree on, and against damage done to them.

use fretlib::format::abc::{self, Options};
use fretlib::melody::{AnalysedNote, analyse};
use serde::Deserialize;

/// One tune of `golden/`; what its fields mean is told in `data/README.md`.
#[derive(Deserialize)]
struct Golden {
    id: String,
    title: String,
    key: String,
    fifths: i8,
    meter: String,
    notes: Vec<GoldenNote>,
    intervals: Vec<String>,
    low: String,
    high: String,
}

#[derive(Debug, Deserialize, Eq, PartialEq)]
struct GoldenNote {
    pitch: String,
    midi: u8,
    onset: String,
    dur: String,
    bar: u32,
    degree: String,
    membership: String,
}

impl From<&AnalysedNote> for GoldenNote {
    fn from(line: &AnalysedNote) -> GoldenNote {
        GoldenNote {
            pitch: line.note.pitch.to_string(),
            midi: line.note.pitch.midi().get(),
            onset: line.note.onset.to_string(),
            dur: line.note.duration.to_string(),
            bar: line.bar,
            degree: line.degree.to_string(),
            membership: line.membership.name().to_owned(),
        }
    }
}

const GOLDEN: [&str; 7] = [
    "airdsAirs-1",
    "airdsAirs-2",
    "americanfife",
    "northumbrian",
    "oneills1850-1",
    "oneills1850-2",
    "ryansMammoth",
];

/// Tunes in which a second ending begins within a bar. The reference begins a bar there; here the ending's bracket draws
/// no bar line, and the bars keep the length of their meter.
const ENDING_WITHIN_A_BAR: [&str; 2] = ["airdsAirs_0104_ceb83b3a", "airdsAirs_0907_c0024e9c"];

fn golden() -> impl Iterator<Item = Golden> {
    GOLDEN
        .iter()
        .flat_map(|name| tests::json_lines(&format!("golden/{name}.jsonl")))
}

fn file(id: &str) -> Vec<u8> {
    let path = tests::data(&format!("abc/{id}.abc"));
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Source of the tunes and of the readings: `tests/data/README.md`.
#[test]
fn every_tune_agrees_note_for_note() {
    let (mut tunes, mut notes) = (0, 0);
    for Golden {
        id,
        title,
        key,
        fifths,
        meter,
        notes: mut expected,
        intervals,
        low,
        high,
    } in golden()
    {
        let reading = abc::read(&file(&id), &Options::default())
            .unwrap_or_else(|diagnostics| panic!("{id}: {diagnostics}"));
        let melody = reading.melody;
        let home = *melody.keys().first().unwrap();
        let lines = analyse(&melody, home);
        let mut found: Vec<GoldenNote> = lines.iter().map(GoldenNote::from).collect();
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
        assert_eq!(leading, intervals, "{id}");
        assert_eq!((home.to_string(), home.signature()), (key, fifths), "{id}");
        assert_eq!(
            melody.meters().first().unwrap().unwrap().to_string(),
            meter,
            "{id}"
        );
        let (lowest, highest) = melody.range();
        assert_eq!(
            (lowest.to_string(), highest.to_string()),
            (low, high),
            "{id}"
        );
        let words: Vec<&str> = title.split_whitespace().collect();
        assert_eq!(melody.title(), words.join(" "), "{id}");
        tunes += 1;
        notes += found.len();
    }
    assert_eq!((tunes, notes), (240, 24_023));
}

/// Every tune is known as ABC and listed under its number and title. Only text in quotes earns a remark, and a bar that is
/// too long: in twelve tunes a bar line is missing or a note too many.
#[test]
fn every_tune_is_known_and_listed() {
    let mut with_long_bars = 0;
    for Golden { id, title, .. } in golden() {
        let bytes = file(&id);
        assert!(abc::looks_like(&bytes), "{id}");
        let listed = abc::tunes(&bytes);
        assert_eq!(listed.len(), 1, "{id}");
        assert_eq!(
            listed[0].title,
            title.split_whitespace().collect::<Vec<_>>().join(" "),
            "{id}"
        );
        let options = Options {
            tune: Some(listed[0].number),
            voice: None,
        };
        let warnings = abc::read(&bytes, &options).unwrap().warnings;
        for remark in warnings {
            let is_on_bars = remark.contains("longer than its meter");
            let is_on_text = remark.starts_with("text that is no chord symbol is left out");
            assert!(is_on_bars || is_on_text, "{id}: {remark}");
            with_long_bars += u32::from(is_on_bars);
        }
    }
    assert_eq!(with_long_bars, 12);
}

/// All tunes in one file are read as they are one by one.
#[test]
fn a_book_of_all_tunes_gives_each_back() {
    let ids: Vec<String> = golden().map(|tune| tune.id).collect();
    let mut book = Vec::new();
    for id in &ids {
        book.extend_from_slice(&file(id));
        book.extend_from_slice(b"\n\n");
    }
    let listed = abc::tunes(&book);
    assert_eq!(listed.len(), ids.len());
    for (id, entry) in ids.iter().zip(&listed) {
        let options = Options {
            tune: Some(entry.number),
            voice: None,
        };
        let alone = abc::read(&file(id), &Options::default()).unwrap();
        assert_eq!(abc::read(&book, &options).unwrap(), alone, "{id}");
    }
}

/// Damaged files are read or refused, never more: every note of a tune in turn cut off, doubled, or changed to another
/// byte.
#[test]
fn damaged_tunes_are_read_or_refused() {
    const BYTES: &[u8] = b"\0\n %|[](){}\"!&:<>-^_=/0934zZXKV,'\xE9\xFF";
    for (tune, Golden { id, .. }) in golden().enumerate().filter(|(tune, _)| tune % 8 == 0) {
        let whole = file(&id);
        for at in (tune % 7..whole.len()).step_by(7) {
            let mut changed = whole.clone();
            changed[at] = BYTES[(at + tune) % BYTES.len()];
            let doubled = [&whole[..at], &whole[at / 2..]].concat();
            for bytes in [&whole[..at], &changed, &doubled] {
                let listed = abc::tunes(bytes);
                match abc::read(bytes, &Options::default()) {
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
