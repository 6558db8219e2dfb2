//! Map, drill and sheet name the same bar and beat for a note.

use fretlib::format::abc;
use fretlib::melody::{KeyProfile, estimate_keys};
use fretlib::neck::Instrument;
use fretlib::practice::{PracticeMaterial, Presentation, Question, Task};
use fretlib::sheet::{Answers, Exercises, Mark, Paper, Part, Sheet, TuneOnNeck, pages};
use fretlib::theory::Membership;
use tests::{data, neckline};

/// `bar 3   beat 2&  Bb4` as `("3", "2&")`.
fn bar_and_beat(text: &str) -> Option<(String, String)> {
    let mut words = text.split_whitespace();
    let bar = words.by_ref().skip_while(|word| *word != "bar").nth(1)?;
    let beat = words.skip_while(|word| *word != "beat").nth(1)?;
    let plain = |word: &str| word.trim_end_matches([',', ':']).to_owned();
    Some((plain(bar), plain(beat)))
}

#[test]
fn map_drill_and_sheet_name_the_same_beat() {
    let mut said = 0;
    for entry in std::fs::read_dir(data("abc")).unwrap() {
        let path = entry.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        let melody = abc::read(&bytes, &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let key = melody.keys().first().copied();
        let key = key.unwrap_or_else(|| estimate_keys(&melody, KeyProfile::default())[0].key);
        let notes = melody.analyse(key);
        let instrument = Instrument::default();
        let material =
            PracticeMaterial::new(melody.clone(), key, &[], instrument.clone(), Vec::new());
        let outside: Vec<usize> = (0..notes.len())
            .filter(|index| notes[*index].membership != Membership::Scale)
            .collect();
        if outside.is_empty() {
            continue;
        }
        let by_drill: Vec<_> = outside
            .iter()
            .map(|note| {
                let pitch = notes[*note].note.pitch;
                let task = Task::Degree { pitch, key };
                let question = Question {
                    note: *note,
                    placement: None,
                    presentation: Presentation::Shown,
                    task,
                };
                bar_and_beat(&question.wording(&material).whereabouts).unwrap()
            })
            .collect();
        let sheet = Sheet {
            tune: TuneOnNeck {
                melody: &melody,
                notes: &notes,
                key,
                instrument: &instrument,
                places: &vec![None; notes.len()],
                under: &[],
            },
            caption: "",
            necks: &[],
            order: &[],
            grid: &[],
            exercises: Exercises::default(),
            take: None,
            parts: &[Part::Outside],
            bars_per_line: None,
            left_handed: false,
            answers: Answers::Printed,
        };
        let by_sheet: Vec<_> = pages(&sheet, Paper::A4)
            .iter()
            .flat_map(|page| page.flat())
            .filter_map(|mark| match mark {
                Mark::Text(it) => bar_and_beat(&it.text),
                _ => None,
            })
            .collect();
        let map = neckline(&["map", path.to_str().unwrap(), "--all"], b"");
        let by_map: Vec<_> = map
            .stdout
            .lines()
            .take_while(|line| !line.starts_with("position"))
            .filter(|line| line.starts_with("  bar "))
            .filter_map(bar_and_beat)
            .collect();
        assert_eq!(by_sheet, by_drill, "{}", path.display());
        assert_eq!(by_map, by_drill, "{}", path.display());
        said += by_map.len();
    }
    assert!(said > 200, "{said}");
}
