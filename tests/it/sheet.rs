//! The page for the music stand: every reference tune, and whole runs of `neckline sheet`.

use std::collections::BTreeSet;
use std::path::PathBuf;

use fretlib::arranging::{
    Arranger, ArrangingSettings, Density, Lattice, Style, chords_by_key, octave_fits,
};
use fretlib::format::abc;
use fretlib::mapping::{NeckMap, OpenStrings, Placement};
use fretlib::melody::{Draft, Melody, Quarters};
use fretlib::neck::{Hand, Instrument, Position};
use fretlib::sheet::{
    Answers, Bounds, Excerpt, Exercises, Face, Ink, Mark, Page, Paper, Part, Sheet, Sign, SignMark,
    Subject, TabPlace, TuneOnNeck, html, pages, svg,
};
use tests::{Folder, data, neckline};

fn reference_tunes() -> Vec<(String, Melody)> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(data("abc"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    let read = |path: &PathBuf| {
        let bytes = std::fs::read(path).unwrap();
        abc::read(&bytes, &abc::AbcOptions::default())
            .unwrap()
            .melody
    };
    paths
        .iter()
        .map(|path| (path.display().to_string(), read(path)))
        .collect()
}

/// Makes a sheet with some parts and the melody in its best placement, and passes it on.
fn with_sheet<T>(
    melody: &Melody,
    instrument: &Instrument,
    parts: &[Part],
    answers: Answers,
    then: impl Fn(&Sheet<'_>) -> T,
) -> T {
    let key = melody.keys().first().copied();
    let key = key.unwrap_or("C major".parse().unwrap());
    let notes = melody.analyse(key);
    let map = NeckMap::new(melody, instrument, OpenStrings::default());
    let whole: Vec<&Placement> = map.whole().collect();
    let mut places = vec![None; melody.notes().len()];
    let best = map.best();
    for placed in best.into_iter().flat_map(|it| it.places()) {
        // As if the hand moved every eight notes, so that there are numerals everywhere.
        let position = Position::new(1 + (placed.note / 8 % 7) as u8).unwrap();
        places[placed.note] = Some(TabPlace {
            place: placed.place,
            finger: placed.finger,
            position,
        });
    }
    // Its first bars as an exercise and as a question.
    let last = melody.bars().get(1).unwrap_or(&melody.bars()[0]);
    let start = melody.between(Quarters::from(0), last.end);
    let excerpts: Vec<Excerpt> = start
        .map(|start| {
            let notes = start.analyse(key);
            Excerpt {
                title: "a title".into(),
                words: "what to do".into(),
                places: places[..notes.len()].to_vec(),
                marked: 0..2.min(notes.len()),
                answer: "b7".into(),
                melody: start,
                notes,
                key,
            }
        })
        .into_iter()
        .collect();
    let questions: Vec<Excerpt> = excerpts
        .iter()
        .cycle()
        .take(5 * excerpts.len())
        .map(|it| Excerpt {
            places: Vec::new(),
            ..it.clone()
        })
        .collect();
    then(&Sheet {
        tune: TuneOnNeck {
            melody,
            notes: &notes,
            key,
            instrument,
            places: &places,
            under: &[],
        },
        caption: "as written",
        necks: &map.to_practise(4, |_| true),
        order: &[0, 1, 2, 3],
        grid: &whole,
        exercises: Exercises {
            cautions: &["soft and slow"],
            warm_up: &excerpts,
            quiz: &questions,
            quiz_number: Some(3),
        },
        take: None,
        parts,
        bars_per_line: None,
        left_handed: false,
        answers,
    })
}

fn on_guitar(melody: &Melody, parts: &[Part], paper: Paper) -> Vec<Page> {
    with_sheet(
        melody,
        &Instrument::default(),
        parts,
        Answers::Printed,
        |sheet| pages(sheet, paper),
    )
}

fn signs(page: &Page) -> impl Iterator<Item = Sign> + '_ {
    page.flat().filter_map(|mark| match mark {
        Mark::Sign(it) => Some(it.sign),
        _ => None,
    })
}

/// The kind of a mark, which decides whether another may overlap it.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Text,
    /// A figure of the tablature or one of the letters at its head, which may be on the lines.
    OnStrings,
    Sign,
    /// A line through a whole staff.
    BarLine,
    Stem,
    Horizontal,
    /// An outline with paper inside.
    Frame,
    Solid,
}

fn kind(mark: &Mark, bounds: Bounds) -> Option<Kind> {
    Some(match mark {
        Mark::Group { .. } => return None,
        Mark::Sign(_) => Kind::Sign,
        Mark::Text(it) if it.face == Face::Figure || "TAB".contains(it.text.as_str()) => {
            Kind::OnStrings
        }
        Mark::Text(_) => Kind::Text,
        Mark::Shape {
            fill: Some(Ink::White),
            stroke,
            ..
        } => return stroke.map(|_| Kind::Frame),
        Mark::Shape {
            path,
            fill: None,
            stroke: Some(stroke),
        } if path.len() == 2 => {
            let (wide, high) = (bounds.right - bounds.left, bounds.bottom - bounds.top);
            // Bar lines are thicker than stems, and longer than the ends of a bracket.
            match (wide < high, stroke.width > 0.23 && high > 5.0) {
                (false, _) => Kind::Horizontal,
                (true, false) => Kind::Stem,
                (true, true) => Kind::BarLine,
            }
        }
        Mark::Shape { fill: None, .. } => Kind::Frame,
        Mark::Shape { .. } => Kind::Solid,
    })
}

/// Whether one mark makes the other unreadable.
fn hides(one: (Kind, Bounds), other: (Kind, Bounds)) -> bool {
    use Kind::*;
    let holds = |frame: Bounds, text: Bounds| frame.grown(0.01).with(text) == frame.grown(0.01);
    match (one.0, other.0) {
        (Text | OnStrings, Text | OnStrings | Sign | BarLine | Stem) => true,
        // A label may be in its frame or on its disc.
        (Text | OnStrings, Frame | Solid) => !holds(other.1, one.1),
        (Text, Horizontal) => true,
        (Sign, Sign | BarLine) => true,
        (Frame, Frame) => !holds(one.1, other.1) && !holds(other.1, one.1),
        (Frame, Sign | BarLine) => true,
        _ => false,
    }
}

/// A mark in a few words.
fn told(mark: &Mark) -> String {
    let what = match mark {
        Mark::Text(it) => format!("`{}`", it.text),
        Mark::Sign(it) => format!("{:?}", it.sign),
        _ => "a shape".into(),
    };
    let at = mark.bounds().map(|it| {
        format!(
            " {:.1} {:.1} to {:.1} {:.1}",
            it.left, it.top, it.right, it.bottom
        )
    });
    what + &at.unwrap_or_default()
}

/// A flag curves back towards its own head; the rectangles touch, the ink does not.
fn is_own_flag(flag: &Mark, head: &Mark) -> bool {
    match (flag, head) {
        (
            Mark::Sign(SignMark {
                sign: Sign::FlagUp(_) | Sign::FlagDown(_),
                at,
                space,
                ..
            }),
            Mark::Sign(head),
        ) => (at.x - head.at.x).abs() < 1.3 * space,
        _ => false,
    }
}

/// The pairs of marks of a page that overlap although they must not.
fn overlaps(page: &Page) -> Vec<String> {
    let mut ink: Vec<(Kind, Bounds, &Mark)> = page
        .flat()
        .filter_map(|mark| {
            let bounds = mark.bounds()?;
            Some((kind(mark, bounds)?, bounds.grown(-0.06), mark))
        })
        .collect();
    ink.sort_by(|one, other| one.1.left.total_cmp(&other.1.left));
    let mut found = Vec::new();
    for (index, one) in ink.iter().enumerate() {
        let near = ink[index + 1..]
            .iter()
            .take_while(|it| it.1.left < one.1.right);
        for other in near.filter(|it| one.1.overlaps(it.1)) {
            let (a, b) = ((one.0, one.1), (other.0, other.1));
            let is_own = is_own_flag(one.2, other.2) || is_own_flag(other.2, one.2);
            if !is_own && (hides(a, b) || hides(b, a)) {
                found.push(format!("{} over {}", told(one.2), told(other.2)));
            }
        }
    }
    found
}

/// Holds that every note is on the pages, nothing over another, and nothing where a home printer cannot print.
fn check_pages(name: &str, melody: &Melody, pages: &[Page], bottom: f64, right: f64) {
    let mut drawn = BTreeSet::new();
    let mut heads = 0;
    for page in pages {
        // No ink nearer than 10 mm to the edge: a home printer holds that.
        for bounds in page.marks.iter().filter_map(Mark::bounds) {
            let across = 10.0 <= bounds.left && bounds.right <= right;
            let down = 10.0 <= bounds.top && bounds.bottom <= bottom;
            assert!(across && down, "{name}: something stands at {bounds:?}");
        }
        assert_eq!(overlaps(page), Vec::<String>::new(), "{name}");
        let groups = page.marks.iter().flat_map(Mark::groups);
        drawn.extend(groups.filter_map(|(subject, _)| match subject {
            Subject::Note(number, _) => Some(*number),
            _ => None,
        }));
        let is_head = |sign: &Sign| {
            matches!(
                sign,
                Sign::NoteheadBreve
                    | Sign::NoteheadWhole
                    | Sign::NoteheadHalf
                    | Sign::NoteheadBlack
            )
        };
        heads += signs(page).filter(is_head).count();
    }
    assert_eq!(drawn.len(), melody.notes().len(), "{name}");
    assert!(heads >= melody.notes().len(), "{name}");
}

/// On A4 and on Letter; one tune in five by default, all of them with `SHEET_TUNES=all`.
#[test]
fn every_reference_tune_fits_its_pages_without_overlaps() {
    let all = std::env::var("SHEET_TUNES").is_ok_and(|it| it == "all");
    let tunes = reference_tunes().into_iter().enumerate();
    for (index, (name, melody)) in tunes.filter(|(index, _)| all || index % 5 == 0) {
        let (paper, bottom, right) = match index % 10 {
            0..5 => (Paper::A4, 287.0, 200.0),
            _ => (Paper::Letter, 269.4, 205.9),
        };
        let parts = match index % 3 {
            0 => Part::STAND.to_vec(),
            1 => Part::asked(&[Part::ChordTones, Part::Intervals]),
            _ => Part::ALL.to_vec(),
        };
        let pages = on_guitar(&melody, &parts, paper);
        check_pages(&name, &melody, &pages, bottom, right);
        if index % 20 == 0 {
            let drawing = svg(&pages[0], melody.title());
            let (opened, closed) = (drawing.matches("<g "), drawing.matches("</g>"));
            assert!(opened.count() <= closed.count(), "{name}");
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
    let pages = on_guitar(&melody, &Part::STAND, Paper::A4);
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
fn the_clef_depends_on_the_instrument() {
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
        let pages = with_sheet(
            &tune(note),
            instrument,
            &Part::ALL,
            Answers::Printed,
            |sheet| pages(sheet, Paper::Letter),
        );
        assert_eq!(signs(&pages[0]).next(), Some(clef), "{}", instrument.name());
    }
}

#[test]
fn a_title_is_escaped() {
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
    with_sheet(
        &melody,
        &Instrument::default(),
        &Part::ALL,
        Answers::Printed,
        |sheet| {
            let page = html(sheet, Paper::A4);
            assert_eq!(page.matches("<script>").count(), 1);
            assert!(!page.contains("<img") && !page.contains("<b>"));
            assert!(page.contains("&lt;script&gt;alert(&#39;x&#39;)"));
            for page in pages(sheet, Paper::A4) {
                let drawing = svg(&page, melody.title());
                assert!(!drawing.contains("<script") && !drawing.contains("<img"));
            }
        },
    );
}

#[test]
fn html_describes_its_notes_in_words_and_fetches_nothing() {
    let (_, melody) = reference_tunes().remove(0);
    with_sheet(
        &melody,
        &Instrument::default(),
        &Part::ALL,
        Answers::Printed,
        |sheet| {
            let page = html(sheet, Paper::A4);
            for part in [
                "<html lang=\"en\">",
                "<title>",
                "<h1>",
                "<h2>Page 1 of ",
                "<h2>The melody in words</h2>",
                "role=\"heading\" aria-level=\"2\"",
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
        },
    );
}

#[test]
fn a_student_gets_blanks_and_the_answers_on_separate_pages() {
    let (_, melody) = reference_tunes().remove(0);
    // A quiz has a key of its own on a sheet that is no exercise.
    let all = Part::ALL.map(|part| {
        if part == Part::Quiz {
            Part::Necks
        } else {
            part
        }
    });
    let set = |answers| {
        with_sheet(&melody, &Instrument::default(), &all, answers, |sheet| {
            pages(sheet, Paper::A4)
        })
    };
    let printed = set(Answers::Printed);
    let blank = set(Answers::Blank);
    let with_key = set(Answers::BlankWithKey);
    assert_eq!(with_key.len(), blank.len() + printed.len());
    // The exercise has no answers: no figure on a string, no degree, no note in words.
    for page in &blank {
        for (subject, marks) in page.marks.iter().flat_map(Mark::groups) {
            if let Subject::Note(_, words) = subject {
                assert!(
                    !words.contains("degree") && !words.contains("fret"),
                    "{words}"
                );
                let text = marks.iter().filter(|mark| matches!(mark, Mark::Text(_)));
                assert_eq!(text.count(), 0, "{words}");
            }
            if let Subject::Place(_, words) = subject {
                assert!(!words.contains("degree"), "{words}");
            }
        }
    }
    let tells = |page: &Page| {
        let groups = page.marks.iter().flat_map(Mark::groups);
        groups.filter(|(subject, _)| matches!(subject, Subject::Note(_, words) if words.contains("degree"))).count()
    };
    assert!(tells(&with_key[blank.len()]) > 0);
    assert_eq!(overlaps(&blank[0]), Vec::<String>::new());
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

// Source: ISO 32000-1 (PDF 1.7), 14.7 and 14.8: a tagged document says so in its catalogue, has a tree of structure elements
// and a language; a figure has words of its own.
#[test]
fn a_pdf_is_tagged_has_a_language_and_names_its_fonts() {
    let folder = Folder::new();
    let path = &folder.file("tune.pdf");
    let run = neckline(&["sheet", "ped", "-o", path, "--parts", "necks"], b"");
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let bytes = std::fs::read(path).unwrap();
    let text = String::from_utf8_lossy(&bytes);
    let count = |word: &str| text.matches(word).count();
    for word in [
        "/Marked true",
        "/StructTreeRoot",
        "/Lang(en)",
        "/Title(Pedalo Blues)",
        "+NecklineMusic-Regular",
    ] {
        assert!(count(word) > 0, "{word}");
    }
    assert_eq!((count("/S/H1"), count("/S/H2")), (1, 1));
    assert!(count("/S/Figure") >= 3 && count("/Alt") >= 3);
    assert!(!text.contains("unknown"));
    // Poppler reports this entry, which says nothing new, as a syntax error.
    assert!(!text.contains("/Suspects"));
}

#[test]
fn phrases_bring_the_necks_they_are_written_on() {
    let folder = Folder::new();
    let path = &folder.file("tune.html");
    let run = neckline(&["sheet", "lamps", "-o", path, "--phrases", "3"], b"");
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let page = std::fs::read_to_string(path).unwrap();
    assert!(page.contains("small figures: the order in which the notes come"));
}

#[test]
fn a_pickup_makes_no_line_shorter() {
    let folder = Folder::new();
    let path = &folder.file("tune.svg");
    // Two strains, each a pickup and eight bars, too long for one line.
    let tune = data("abc").join("airdsAirs_0266_76ff4cfa.abc");
    let run = neckline(&["sheet", tune.to_str().unwrap(), "-o", path], b"");
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let page = std::fs::read_to_string(path).unwrap();
    let lines_of = |page: &str| -> Vec<String> {
        let lines = page.split("Bars ").skip(1);
        let lines = lines.filter_map(|it| it.split('.').next());
        lines.map(str::to_owned).collect()
    };
    assert_eq!(lines_of(&page), ["0 to 4", "5 to 8", "8 to 12", "13 to 16"]);
    // The pickup of the second strain stands before it, not after the repeat sign at the end of a line.
    let gate = "X:1\nT:Gate\nM:4/4\nL:1/4\nK:G\nD|GABc|d2B2|cBAG|G3:||:d|gfed|c2A2|BAGF|G3:|\n";
    let gate = folder.write("gate.abc", gate);
    let args = [
        "sheet",
        &gate,
        "-o",
        path,
        "--replace",
        "--bars-per-line",
        "2",
    ];
    assert_eq!(neckline(&args, b"").code, 0);
    let page = std::fs::read_to_string(path).unwrap();
    assert_eq!(lines_of(&page), ["0 to 2", "3 to 4", "4 to 6", "7 to 8"]);
}

#[test]
fn errors_about_files_are_clear() {
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
    // Wrong in VII, the only position that was asked.
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
    let sheet = ["sheet", tune, "-o", page, "--replace", "--parts", "grid"];
    let first = |more: &[&str]| {
        let run = neckline(&[&sheet[..], more].concat(), b"");
        assert_eq!(run.code, 0, "{}", run.stderr);
        // The grid has a page of its own after the one for the stand.
        let drawing = std::fs::read_to_string(page.replace(".svg", "-2.svg")).unwrap();
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
    let caption = |more: &[&str]| {
        let run = neckline(
            &[&["sheet", tune, "-o", page, "--replace"], more].concat(),
            b"",
        );
        assert_eq!((run.code, run.stderr.as_str()), (0, ""));
        let drawing = std::fs::read_to_string(page).unwrap();
        let at = drawing.find("E minor ·").unwrap();
        drawing[at..].split("</text>").next().unwrap().to_owned()
    };
    assert!(caption(&[]).contains("· along the neck, as written,"));
    assert!(caption(&["--position", "V"]).contains("notes are out of reach there"));
    let run = neckline(
        &["sheet", tune, "-o", page, "--replace", "--parts", "necks"],
        b"",
    );
    assert!(run.stderr.contains("no position holds the whole melody"));
    // Without a shift the caption says where the hand is.
    let still = &folder.file("still.svg");
    assert_eq!(
        neckline(&["sheet", "oars-in-three", "-o", still], b"").code,
        0
    );
    let still = std::fs::read_to_string(still).unwrap();
    assert!(still.contains("· along the neck, as written, all in I<"));
}

/// A page for the stand is one page, since nobody can turn it in the middle of 32 bars.
#[test]
fn the_built_in_tunes_print_on_one_page_of_either_paper() {
    let folder = Folder::new();
    for tune in ["lamps-along-the-jetty", "oars-in-three", "pedalo-blues"] {
        for paper in ["a4", "letter"] {
            let page = folder.file(&format!("{tune}-{paper}.svg"));
            let run = neckline(&["sheet", tune, "-o", &page, "--paper", paper], b"");
            // Several pages would have numbered files.
            assert_eq!(
                (run.code, run.stdout.trim_end()),
                (0, page.as_str()),
                "{}",
                run.stderr
            );
        }
    }
}

/// The words on a page, as an SVG has them.
fn words(page: &str) -> Vec<String> {
    let drawing = std::fs::read_to_string(page).unwrap();
    let ends = drawing
        .split('>')
        .filter_map(|it| it.strip_suffix("</text"));
    ends.map(str::to_owned).collect()
}

#[test]
fn a_set_is_bound_in_its_order_behind_a_front_page() {
    let folder = Folder::new();
    let data = ["--data-dir", folder.text()];
    let set = [
        "set",
        "sunday",
        "--by",
        "2026-11-29",
        "pedalo-blues",
        "oars-in-three",
    ];
    assert_eq!(neckline(&[&set[..], &data[..]].concat(), b"").code, 0);
    let page = folder.file("sunday.svg");
    let sheet = |more: &[&str]| {
        let args = [&["sheet", "--set", "sunday"], &data[..], more].concat();
        neckline(&args, b"")
    };
    let run = sheet(&["-o", &page]);
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let files: Vec<&str> = run.stdout.lines().collect();
    assert_eq!(files.len(), 3, "{files:?}");
    let front = words(files[0]);
    for expected in [
        "sunday",
        "Sunday, 29 November 2026",
        "1.",
        "Pedalo Blues",
        "G major, 138 beats a minute",
        "2",
        "2.",
        "Oars in Three",
        "3",
        "1 of 3",
    ] {
        assert!(
            front.iter().any(|it| it == expected),
            "{expected}: {front:?}"
        );
    }
    assert!(words(files[1]).contains(&"Pedalo Blues".to_string()));
    assert!(words(files[2]).contains(&"3 of 3".to_string()));
    // A page for a browser plays one tune; a set that is not there cannot be printed.
    assert_eq!(sheet(&["-o", &folder.file("sunday.html")]).code, 2);
    assert_eq!(sheet(&["-o", &page, "--bars", "1-4"]).code, 2);
    let missing = ["sheet", "--set", "monday", "-o", &page];
    assert_eq!(neckline(&[&missing[..], &data[..]].concat(), b"").code, 1);
}

#[test]
fn a_quiz_has_its_key_on_a_page_of_its_own_and_another_one_for_each_seed() {
    let folder = Folder::new();
    let quiz = |seed: &str, more: &[&str]| {
        let page = folder.file(&format!("quiz-{seed}{}.svg", more.len()));
        let args = [
            "sheet",
            "oars-in-three",
            "-o",
            &page,
            "--replace",
            "--parts",
            "quiz",
            "--seed",
            seed,
        ];
        let run = neckline(&[&args[..], more].concat(), b"");
        assert_eq!((run.code, run.stderr.as_str()), (0, ""));
        let files = run.stdout.lines().map(str::to_owned);
        files.map(|file| words(&file)).collect::<Vec<_>>()
    };
    let pages = quiz("1", &[]);
    assert_eq!(pages.len(), 2);
    let asked = |page: &[String]| page.iter().filter(|it| it.ends_with(':')).count();
    assert_eq!((asked(&pages[0]), asked(&pages[1])), (18, 18));
    // What is asked gives nothing away; the key has an answer to everything.
    let is_answer = |it: &&String| it.starts_with("string ") || it.contains(" down");
    assert_eq!(pages[0].iter().filter(is_answer).count(), 0);
    assert!(pages[1].iter().filter(is_answer).count() >= 6);
    assert!(pages[1].iter().any(|it| it == "answers · 2 of 2"));
    assert_eq!(pages, quiz("1", &[]));
    assert_ne!(pages, quiz("2", &[]));
    // A pupil's copy comes without the key.
    assert_eq!(quiz("1", &["--student"]).len(), 1);
    assert_eq!(quiz("1", &["--student", "--with-key"]).len(), 2);
    // The key needs no other option.
    assert_eq!(
        quiz("1", &["--with-key"]),
        quiz("1", &["--student", "--with-key"])
    );
}

#[test]
fn a_warm_up_on_paper_has_the_cautions_at_its_head() {
    let folder = Folder::new();
    let page = folder.file("warm-up.svg");
    let run = neckline(
        &["sheet", "oars-in-three", "-o", &page, "--parts", "warm-up"],
        b"",
    );
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let first = words(run.stdout.lines().next().unwrap());
    assert_eq!(first[0], "Warm-up · Oars in Three");
    assert!(first[1].contains("Stop at pain, numbness or tingling"));
    let told = first.join(" ");
    for part in [
        "1. the scale of D minor",
        "50 % of the tempo",
        "position II",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
}

#[test]
fn every_tune_of_a_folder_gets_a_sheet_and_a_bad_one_is_reported() {
    let folder = Folder::new();
    let tune = |title: &str| format!("X:1\nT:{title}\nM:4/4\nL:1/4\nK:G\nG A B c | d4 |\n");
    std::fs::create_dir(folder.path().join("tunes")).unwrap();
    folder.write("tunes/one.abc", tune("One"));
    folder.write("tunes/two.abc", tune("Two"));
    folder.write("tunes/broken.abc", "X:1\nT:B\nM:4/4\nL:1/4\nK:Hmaj\nG |\n");
    folder.write("tunes/notes.txt", "for Sunday");
    let (tunes, out) = (folder.file("tunes"), folder.file("sheets"));
    let all = |more: &[&str]| {
        let args = [
            "sheet",
            "--all",
            &tunes,
            "-o",
            &out,
            "--student",
            "--with-key",
        ];
        neckline(&[&args[..], more].concat(), b"")
    };
    let names = || {
        let entries = std::fs::read_dir(&out).unwrap();
        let names = entries.map(|it| it.unwrap().file_name().into_string().unwrap());
        names
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect::<Vec<_>>()
    };
    let run = all(&[]);
    assert_eq!(run.code, 1);
    assert_eq!(run.stdout, format!("2 of 3 tunes set on paper in {out}\n"));
    assert!(
        run.stderr.contains("broken.abc") && run.stderr.contains("K:Hmaj"),
        "{}",
        run.stderr
    );
    assert_eq!(names(), ["one.pdf", "two.pdf"]);
    let pdf = std::fs::read(folder.file("sheets/one.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-"));
    // What is there is kept, unless it is to be replaced.
    assert_eq!(
        all(&[]).stdout,
        format!("0 of 3 tunes set on paper in {out}\n")
    );
    assert_eq!(std::fs::read(folder.file("sheets/one.pdf")).unwrap(), pdf);
    assert!(all(&["--replace"]).stdout.starts_with("2 of 3"));
    assert!(all(&["--format", "html"]).stdout.starts_with("2 of 3"));
    assert_eq!(names(), ["one.html", "one.pdf", "two.html", "two.pdf"]);
    // A single page for one tune has no place for a format of its own, nor a folder a history.
    assert_eq!(
        neckline(&["sheet", "--format", "svg", "-o", "x.svg"], b"").code,
        2
    );
    assert_eq!(neckline(&["sheet", "--all", "-o", &out], b"").code, 2);
    assert_eq!(all(&["--from-progress"]).code, 2);
}

/// Two voices on the staff, tablature and fingers of both, diagrams over it on every other tune. Chords made from the key
/// stand in for the tunes' own; densities and styles take turns. Ten tunes, or all with `SHEET_TUNES=all`.
#[test]
fn arrangements_fit_their_pages_with_every_note_on_them_and_nothing_over_another() {
    let all = std::env::var("SHEET_TUNES").is_ok_and(|it| it == "all");
    let guitar = Instrument::default();
    let tunes = reference_tunes().into_iter().enumerate();
    for (index, (name, written)) in tunes.filter(|(index, _)| all || index % 24 == 7) {
        let key = written.keys().first().copied();
        let key = key.unwrap_or("C major".parse().unwrap());
        let mut draft = written.clone().into_draft();
        draft.chords = chords_by_key(&written, key);
        let written = Melody::new(draft).unwrap();
        let styles = [Style::PLUCKED, Style::FULL, Style::BASS, Style::SHELLS];
        let densities = [Density::Medium, Density::Full, Density::Sparse];
        let arranger = Arranger {
            instrument: &guitar,
            hand: Hand::MEDIUM,
            style: styles[index / 24 % 4],
        };
        let density = densities[index / 24 % 3];
        let settings = ArrangingSettings {
            density,
            octave: octave_fits(&arranger, &written, density)[0].octave,
            ..ArrangingSettings::default()
        };
        let lattice = Lattice::new(arranger, &written, settings).unwrap();
        let best = lattice.solve(1).remove(0);
        let melody = written.transposed(best.octave.interval()).unwrap();
        let under = best.lower_voice(&melody);
        let places: Vec<Option<TabPlace>> = best
            .notes
            .iter()
            .map(|note| {
                Some(TabPlace {
                    place: note.melody.place,
                    finger: note.melody.finger,
                    position: Position::new(note.position.unwrap_or(1).max(1)).unwrap(),
                })
            })
            .collect();
        let parts = match index / 24 % 2 {
            0 => Part::asked(&[Part::Diagrams]),
            _ => Part::asked(&[Part::ChordTones]),
        };
        let (paper, bottom, right) = match index / 24 % 2 {
            0 => (Paper::A4, 287.0, 200.0),
            _ => (Paper::Letter, 269.4, 205.9),
        };
        let notes = melody.analyse(key);
        let sheet = Sheet {
            tune: TuneOnNeck {
                melody: &melody,
                notes: &notes,
                key,
                instrument: &guitar,
                places: &places,
                under: &under,
            },
            caption: "arranged",
            necks: &[],
            order: &[],
            grid: &[],
            exercises: Exercises::default(),
            take: None,
            parts: &parts,
            bars_per_line: None,
            left_handed: false,
            answers: Answers::Printed,
        };
        let pages = pages(&sheet, paper);
        check_pages(&name, &melody, &pages, bottom, right);
        // Every note of both voices is a figure on the tablature where it is struck, and a head on the staff at the least.
        let struck = best.struck_notes(&melody).len();
        let is_head = |sign: &Sign| {
            matches!(
                sign,
                Sign::NoteheadBreve
                    | Sign::NoteheadWhole
                    | Sign::NoteheadHalf
                    | Sign::NoteheadBlack
            )
        };
        let heads: usize = pages
            .iter()
            .map(|page| signs(page).filter(is_head).count())
            .sum();
        assert!(heads >= melody.notes().len() + struck, "{name}: {heads}");
        if !parts.contains(&Part::Diagrams) {
            let figures = pages
                .iter()
                .flat_map(Page::flat)
                .filter(|mark| matches!(mark, Mark::Text(text) if text.face == Face::Figure));
            assert_eq!(figures.count(), melody.notes().len() + struck, "{name}");
        }
    }
}

#[test]
fn an_arrangement_is_set_with_the_choices_kept_beside_the_tune() {
    let folder = Folder::new();
    let tune = folder.write(
        "bell.abc",
        "X:1\nT:Bell\nM:4/4\nL:1/4\nK:C\n\"Dm7\"f4|\"G7\"f4|\"Cmaj7\"e4|\n",
    );
    folder.write(
        "bell.abc.arrangement.ron",
        "(octave: 0, style: \"plucked\", density: \"medium\", choices: [(note: 2, bare: true), (note: 3, shape: \"x-3-x-4-x-3\")])",
    );
    let page = &folder.file("bell.svg");
    let run = neckline(
        &[
            "sheet",
            &tune,
            "-o",
            page,
            "--arrangement",
            "--parts",
            "diagrams",
        ],
        b"",
    );
    assert_eq!((run.code, run.stdout.trim_end()), (0, page.as_str()));
    // A shape with the melody elsewhere is named, and the others hold.
    assert!(
        run.stderr.contains("the choice for note 3 (x-3-x-4-x-3)"),
        "{}",
        run.stderr
    );
    let drawing = std::fs::read_to_string(page).unwrap();
    assert!(drawing.contains("arranged as written"));
    let cases: [(&[&str], &str); 3] = [
        (&["--arrangement", "--student"], "cannot be used with"),
        (&["--arrangement=none.ron"], "there is no file `none.ron`"),
        (&["--arrangement", "--position", "V"], "cannot be used with"),
    ];
    for (more, words) in cases {
        let run = neckline(
            &[&["sheet", &tune, "-o", page, "--replace"], more].concat(),
            b"",
        );
        assert!(
            run.code > 0 && run.stderr.contains(words),
            "{more:?}: {}",
            run.stderr
        );
    }
}
