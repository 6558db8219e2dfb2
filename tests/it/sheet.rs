//! The page for the music stand: every reference tune, and whole runs of `neckline sheet`.

use std::collections::BTreeSet;
use std::path::PathBuf;

use fretlib::format::abc;
use fretlib::mapping::{NeckMap, OpenStrings, Placement};
use fretlib::melody::{Draft, Melody, Quarters, analyse};
use fretlib::neck::Instrument;
use fretlib::sheet::{Mark, Page, Paper, Part, Segment, Sheet, Sign, Subject, html, pages, svg};
use tests::{Folder, data, neckline};

fn reference_tunes() -> Vec<(String, Melody)> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(data("abc"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    let read = |path: &PathBuf| {
        let bytes = std::fs::read(path).unwrap();
        abc::read(&bytes, &abc::Options::default()).unwrap().melody
    };
    paths
        .iter()
        .map(|path| (path.display().to_string(), read(path)))
        .collect()
}

/// Makes a sheet of everything and hands it on.
fn with_sheet<T>(
    melody: &Melody,
    instrument: &Instrument,
    is_for_student: bool,
    then: impl Fn(&Sheet<'_>) -> T,
) -> T {
    let key = melody
        .keys()
        .first()
        .copied()
        .unwrap_or("C major".parse().unwrap());
    let notes = analyse(melody, key);
    let map = NeckMap::new(melody, instrument, OpenStrings::default());
    let placements: Vec<&Placement> = map.whole().collect();
    let mut places = vec![None; melody.notes().len()];
    for placed in placements.first().into_iter().flat_map(|it| &it.places) {
        places[placed.note] = Some(placed.place);
    }
    then(&Sheet {
        melody,
        notes: &notes,
        key,
        instrument,
        places: &places,
        caption: "as written",
        placements: &placements,
        parts: &Part::ALL,
        left_handed: false,
        is_for_student,
    })
}

fn on_guitar(melody: &Melody) -> Vec<Page> {
    with_sheet(melody, &Instrument::default(), false, |sheet| {
        pages(sheet, Paper::A4)
    })
}

fn signs(page: &Page) -> impl Iterator<Item = Sign> + '_ {
    page.flat().filter_map(|mark| match mark {
        Mark::Sign { sign, .. } => Some(*sign),
        _ => None,
    })
}

/// The corners of what is on a page: the ends of its lines and the origins of signs and text.
fn corners(page: &Page) -> Vec<(f64, f64)> {
    page.flat()
        .flat_map(|mark| match mark {
            Mark::Shape { path, .. } => path
                .iter()
                .filter_map(|segment| match segment {
                    Segment::Move(to) | Segment::Line(to) | Segment::Cubic(_, _, to) => {
                        Some((to.x, to.y))
                    }
                    Segment::Close => None,
                })
                .collect(),
            Mark::Sign { at, .. } | Mark::Text { at, .. } => vec![(at.x, at.y)],
            Mark::Group { .. } => Vec::new(),
        })
        .collect()
}

#[test]
fn every_reference_tune_fits_its_pages_with_every_note_on_them() {
    for (index, (name, melody)) in reference_tunes().into_iter().enumerate() {
        let pages = on_guitar(&melody);
        let mut drawn = BTreeSet::new();
        let mut heads = 0;
        for page in &pages {
            // No ink nearer than 10 mm to the edge: a home printer holds that.
            for (x, y) in corners(page) {
                let fits = (10.0..=200.0).contains(&x) && (10.0..=287.0).contains(&y);
                assert!(fits, "{name}: something stands at {x}, {y}");
            }
            for mark in &page.marks {
                if let Mark::Group {
                    subject: Subject::Note(number, _),
                    ..
                } = mark
                {
                    drawn.insert(*number);
                }
            }
            heads += signs(page)
                .filter(|sign| {
                    matches!(
                        sign,
                        Sign::NoteheadBreve
                            | Sign::NoteheadWhole
                            | Sign::NoteheadHalf
                            | Sign::NoteheadBlack
                    )
                })
                .count();
        }
        assert_eq!(drawn.len(), melody.notes().len(), "{name}");
        assert!(heads >= melody.notes().len(), "{name}");
        if index % 20 == 0 {
            let drawing = svg(&pages[0], melody.title());
            let (opened, closed) = (drawing.matches("<g "), drawing.matches("</g>"));
            assert_eq!(opened.count(), closed.count(), "{name}");
        }
    }
}

#[test]
fn sixty_bars_break_into_pages() {
    let mut draft = Draft::default();
    draft
        .meters
        .set(Quarters::from(0), Some("3/4".parse().unwrap()));
    for bar in 0..60 {
        draft.bar_line();
        for name in ["D4", "F#4", if bar % 2 == 0 { "A4" } else { "B4" }] {
            draft
                .note(name.parse().unwrap(), Quarters::from(1))
                .unwrap();
        }
    }
    let melody = Melody::new(draft)
        .unwrap()
        .with_key("D major".parse().unwrap());
    let pages = on_guitar(&melody);
    assert!(pages.len() > 1);
    // A clef to every system, and the signature with it.
    let clefs: usize = pages
        .iter()
        .map(|page| {
            signs(page)
                .filter(|sign| *sign == Sign::TrebleClefOctaveDown)
                .count()
        })
        .sum();
    let sharps: usize = pages
        .iter()
        .map(|page| signs(page).filter(|sign| *sign == Sign::Sharp).count())
        .sum();
    assert!((6..=20).contains(&clefs), "{clefs}");
    assert_eq!(sharps, 2 * clefs);
}

// Common practice, no source: guitar is written an octave above its sound, under a clef that says so; bass guitar reads
// the bass clef; ukulele and mandolin sound as written.
#[test]
fn the_clef_is_the_instruments() {
    let tune = |name: &str| {
        let mut draft = Draft::default();
        draft
            .note(name.parse().unwrap(), Quarters::from(4))
            .unwrap();
        Melody::new(draft).unwrap()
    };
    let cases = [
        ("guitar", "E4", Sign::TrebleClefOctaveDown),
        ("ukulele", "E4", Sign::TrebleClef),
        ("mandolin", "E4", Sign::TrebleClef),
        ("bass", "A2", Sign::BassClefOctaveDown),
    ];
    for (instrument, note, clef) in cases {
        let instrument = Instrument::built_in(instrument).unwrap();
        let pages = with_sheet(&tune(note), instrument, false, |sheet| {
            pages(sheet, Paper::Letter)
        });
        assert_eq!(signs(&pages[0]).next(), Some(clef), "{}", instrument.name());
    }
}

#[test]
fn a_title_stays_text() {
    let mut draft = Draft {
        title: "</title><script>alert('x')</script> & \"friends\"".into(),
        composer: Some("<img src=x onerror=alert(1)>".into()),
        ..Draft::default()
    };
    draft.sections.set(Quarters::from(0), "<b>A</b>".into());
    draft
        .note("E4".parse().unwrap(), Quarters::from(4))
        .unwrap();
    let melody = Melody::new(draft).unwrap();
    with_sheet(&melody, &Instrument::default(), false, |sheet| {
        let page = html(sheet, Paper::A4);
        assert_eq!(page.matches("<script>").count(), 1);
        assert!(!page.contains("<img") && !page.contains("<b>"));
        assert!(page.contains("&lt;script&gt;alert(&#39;x&#39;)"));
        for page in pages(sheet, Paper::A4) {
            let drawing = svg(&page, melody.title());
            assert!(!drawing.contains("<script") && !drawing.contains("<img"));
        }
    });
}

#[test]
fn html_says_in_words_what_it_shows_and_fetches_nothing() {
    let (_, melody) = reference_tunes().remove(0);
    with_sheet(&melody, &Instrument::default(), false, |sheet| {
        let page = html(sheet, Paper::A4);
        for part in [
            "<html lang=\"en\">",
            "<title>",
            "<h1>",
            "<table>",
            "aria-live",
        ] {
            assert!(page.contains(part), "{part}");
        }
        assert_eq!(page.matches("<tr><td>").count(), melody.notes().len());
        assert_eq!(
            page.matches("class=\"page\"").count(),
            pages(sheet, Paper::A4).len()
        );
        for outside in ["http://", "https://", "<link", "@import", " src="] {
            let allowed = page.matches(outside).count();
            let expected = usize::from(outside == "http://");
            assert!(allowed <= expected, "{outside}: {allowed}");
        }
    });
}

#[test]
fn a_student_gets_blanks_and_then_the_answers() {
    let (_, melody) = reference_tunes().remove(0);
    let answers = on_guitar(&melody);
    let both = with_sheet(&melody, &Instrument::default(), true, |sheet| {
        pages(sheet, Paper::A4)
    });
    assert!(both.len() > answers.len());
    let words = |page: &Page| -> Vec<String> {
        let groups = page.marks.iter().filter_map(|mark| match mark {
            Mark::Group {
                subject: Subject::Place(_, words),
                ..
            } => Some(words.clone()),
            _ => None,
        });
        groups.collect()
    };
    let questions = both.len() - answers.len();
    for (index, page) in both.iter().enumerate() {
        let tells = words(page).iter().any(|it| it.contains("degree"));
        assert!(
            !tells || index >= questions,
            "page {index} gives the answer"
        );
    }
    assert!(
        both.iter()
            .skip(questions)
            .any(|page| !words(page).is_empty())
    );
}

#[test]
fn each_format_is_written_by_its_name() {
    let tune = data("abc").join("oneills1850_208_651739d7.abc");
    let tune = tune.to_str().unwrap();
    let cases: [(&str, &[u8]); 4] = [
        ("tune.pdf", b"%PDF-"),
        ("tune.png", b"\x89PNG\r\n"),
        ("tune.svg", b"<?xml"),
        ("tune.html", b"<!DOCTYPE html>"),
    ];
    let folder = Folder::new();
    for (name, beginning) in cases {
        let path = &folder.file(name);
        let run = neckline(
            &["sheet", tune, "-o", path, "--parts", "heading,notation"],
            b"",
        );
        assert_eq!((run.code, run.stderr.as_str()), (0, ""), "{name}");
        assert_eq!(run.stdout.trim_end(), path);
        let written = std::fs::read(path).unwrap();
        assert!(written.starts_with(beginning), "{name}");
    }
}

#[test]
fn what_cannot_be_written_is_said() {
    let cases: [(&[&str], u8, &str); 4] = [
        (&["sheet", "-o", "tune.doc"], 2, "names no format"),
        (
            &["sheet", "-o", "no/such/folder/tune.pdf"],
            1,
            "cannot write",
        ),
        (
            &["sheet", "-o", "x.pdf", "--parts", "lyrics"],
            2,
            "the parts are",
        ),
        (&["sheet"], 2, "--output"),
    ];
    for (args, code, words) in cases {
        let run = neckline(args, b"");
        assert_eq!(run.code, code, "{args:?}: {}", run.stderr);
        assert!(run.stderr.contains(words), "{args:?}: {}", run.stderr);
    }
}

#[test]
fn the_weakest_place_comes_first() {
    let folder = Folder::new();
    let data = &folder.file("history");
    let page = &folder.file("page.svg");
    let tune = "pedalo-blues";
    let asked = ["--kinds", "place", "--data-dir", data, "--questions", "12"];
    // Wrong in VII, right nowhere else: it is the only place asked about.
    let drill = [
        "drill",
        tune,
        "--positions",
        "VII",
        "--seed",
        "1",
        "--plain",
    ];
    let run = neckline(
        &[&drill[..], &asked[..]].concat(),
        "6 22\n".repeat(40).as_bytes(),
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    let sheet = ["sheet", tune, "-o", page, "--parts", "grid"];
    let first = |more: &[&str]| {
        let run = neckline(&[&sheet[..], more].concat(), b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        let drawing = std::fs::read_to_string(page).unwrap();
        let words: Vec<&str> = drawing
            .split('>')
            .filter_map(|it| it.strip_suffix("</text"))
            .filter(|it| !it.is_empty() && it.chars().all(|c| "IVX".contains(c)))
            .collect();
        words[0].to_owned()
    };
    assert_eq!(first(&[]), "I");
    assert_eq!(first(&["--from-progress", "--data-dir", data]), "VII");
}

#[test]
fn a_tune_that_no_position_holds_gets_the_best_way_along_the_neck() {
    let folder = Folder::new();
    let tune = &folder.write(
        "wide.abc",
        "X:1\nT:Wide\nM:4/4\nL:1/4\nK:Em\nE,G,B,E|GBeg|be'g'b'|e'4|\n",
    );
    let page = &folder.file("wide.svg");
    let sheet = ["sheet", tune, "-o", page, "--parts", "notation,tablature"];
    let tablature = |more: &[&str]| {
        let run = neckline(&[&sheet[..], more].concat(), b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        assert!(run.stderr.contains("no position holds the whole melody"));
        let drawing = std::fs::read_to_string(page).unwrap();
        let at = drawing.find("Tablature: ").unwrap();
        drawing[at..].split("</text>").next().unwrap().to_owned()
    };
    assert!(tablature(&[]).starts_with("Tablature: the best way along the neck"));
    assert!(tablature(&["--position", "V"]).contains("notes are out of reach there"));
}
