use std::io::{Cursor, Write};

use zip::write::SimpleFileOptions;

use super::*;
use crate::melody::{Melody, Quarters};

fn score(measures: &str) -> String {
    format!("<score-partwise><part-list/><part id='P1'>{measures}</part></score-partwise>")
}

fn note(step: &str, octave: u8, duration: i64, more: &str) -> String {
    format!(
        "<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>{duration}</duration>{more}</note>"
    )
}

fn melody(text: &str) -> Melody {
    read(text.as_bytes(), &MusicXmlOptions::default())
        .unwrap_or_else(|error| panic!("{error}"))
        .melody
}

fn line(melody: &Melody) -> String {
    let notes = melody.notes().iter();
    notes
        .map(|note| format!("{}:{}+{}", note.pitch, note.onset, note.duration))
        .collect::<Vec<_>>()
        .join(" ")
}

/// Notes as `pitch:onset+duration`.
fn check(measures: &str, expected: &str) {
    assert_eq!(line(&melody(&score(measures))), expected, "{measures}");
}

#[test]
fn time_advances_by_the_standard() {
    let (c, e, g) = (
        note("C", 4, 1, ""),
        note("E", 4, 1, ""),
        note("G", 4, 2, ""),
    );
    let measure = |inside: &str| format!("<measure>{inside}</measure>");
    check(&measure(&format!("{c}{e}")), "C4:0+1 E4:1+1");
    check(&(measure(&c) + &measure(&e)), "C4:0+1 E4:1+1");
    // The top note of a chord is the melody.
    check(
        &measure(&format!(
            "{c}{}{g}",
            note("E", 4, 1, "").replace("<note>", "<note><chord/>")
        )),
        "E4:0+1 G4:1+2",
    );
    // A second voice written after <backup> does not count; the bar is as long as the longest.
    let low = note("C", 3, 1, "<voice>2</voice>");
    check(
        &(measure(&format!("{g}<backup><duration>2</duration></backup>{low}")) + &measure(&c)),
        "G4:0+2 C4:2+1",
    );
    check(
        &measure(&format!("{c}<forward><duration>1</duration></forward>{e}")),
        "C4:0+1 E4:2+1",
    );
    let grace = "<note><grace/><pitch><step>D</step><octave>4</octave></pitch></note>";
    check(&measure(&format!("{c}{grace}{e}")), "C4:0+1 E4:1+1");
    // Three in the time of two, exactly.
    let triplet = "<attributes><divisions>3</divisions></attributes>".to_owned()
        + &note("C", 4, 1, "")
        + &note("D", 4, 2, "");
    check(&measure(&triplet), "C4:0+1/3 D4:1/3+2/3");
    // A note without a duration lasts as long as it looks.
    check(
        &measure(
            "<note><pitch><step>C</step><octave>4</octave></pitch><type>half</type><dot/></note>",
        ),
        "C4:0+3",
    );
}

#[test]
fn ties_join_notes_across_bars_and_stops_alone_do_not() {
    let start = note("C", 4, 2, "<tie type='start'/>");
    let stop = note("C", 4, 1, "<notations><tied type='stop'/></notations>");
    check(
        &format!("<measure>{start}</measure><measure>{stop}</measure>"),
        "C4:0+3",
    );
    check(&format!("<measure>{stop}{stop}</measure>"), "C4:0+1 C4:1+1");
}

#[test]
fn parts_by_measure_are_read_as_parts() {
    let text =
        "<score-timewise><part-list><score-part id='a'><part-name>Bass</part-name></score-part>\
        <score-part id='b'><part-name>Melody</part-name></score-part></part-list>"
            .to_owned()
            + &format!(
                "<measure><part id='a'>{}</part><part id='b'>{}</part></measure>",
                note("C", 3, 1, ""),
                note("C", 5, 1, "")
            )
            + &format!(
                "<measure><part id='a'>{}</part><part id='b'>{}</part></measure>",
                note("D", 3, 1, ""),
                note("D", 5, 1, "")
            )
            + "</score-timewise>";
    assert_eq!(line(&melody(&text)), "C5:0+1 D5:1+1");
    for wanted in ["Bass", "bass", "a", "1"] {
        let options = MusicXmlOptions {
            part: Some(wanted.into()),
            voice: None,
        };
        assert_eq!(
            line(&read(text.as_bytes(), &options).unwrap().melody),
            "C3:0+1 D3:1+1"
        );
    }
    let options = MusicXmlOptions {
        part: Some("flute".into()),
        voice: None,
    };
    let error = read(text.as_bytes(), &options).unwrap_err();
    assert_eq!(
        error.to_string(),
        "in the file: there is no part `flute` with notes in it"
    );
    assert_eq!(
        error.diagnostics()[0].hint.as_deref(),
        Some("those with notes are 1 (Bass), 2 (Melody)")
    );
}

#[test]
fn a_guitar_part_is_read_as_written_and_other_parts_at_concert_pitch() {
    let with = |transpose: &str| {
        let attributes = format!(
            "<attributes><key><fifths>2</fifths><mode>major</mode></key><transpose>{transpose}</transpose></attributes>"
        );
        let read = melody(&score(&format!(
            "<measure>{attributes}{}</measure>",
            note("D", 5, 1, "")
        )));
        format!("{} {}", read.notes()[0].pitch, read.keys().first().unwrap())
    };
    assert_eq!(
        with("<chromatic>0</chromatic><octave-change>-1</octave-change>"),
        "D5 D major"
    );
    assert_eq!(
        with("<diatonic>-1</diatonic><chromatic>-2</chromatic>"),
        "C5 C major"
    ); // B-flat trumpet
    assert_eq!(with("<chromatic>-9</chromatic>"), "F4 F major"); // alto saxophone, without <diatonic>
}

#[test]
fn titles_keys_meters_and_chords_are_read() {
    let measure = "<measure><attributes><divisions>2</divisions><key><fifths>-1</fifths><mode>dorian</mode></key>\
        <time><beats>3+2</beats><beat-type>8</beat-type></time></attributes>\
        <direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>\
        <direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>60</per-minute></metronome></direction-type></direction>\
        <harmony><root><root-step>G</root-step></root><kind>minor-seventh</kind></harmony>"
        .to_owned()
        + &note("G", 4, 2, "")
        + "<harmony><root><root-step>C</root-step></root><kind>dominant</kind><bass><bass-step>B</bass-step><bass-alter>-1</bass-alter></bass></harmony>"
        + &note("E", 4, 3, "")
        + "</measure>";
    let text = format!(
        "<score-partwise><work><work-title>Pier &amp; Lamp&#x21;</work-title></work><part id='P'>{measure}</part></score-partwise>"
    );
    let melody = melody(&text);
    assert_eq!(melody.title(), "Pier & Lamp!");
    assert_eq!(melody.keys().first().unwrap().to_string(), "G dorian");
    assert_eq!(melody.meters().first().unwrap().unwrap().to_string(), "5/8");
    assert_eq!(
        melody.tempos().first().unwrap().quarters_per_minute(),
        Quarters::from(90)
    );
    assert_eq!(melody.sections().first().unwrap(), "A");
    let chords: Vec<String> = melody
        .chords()
        .iter()
        .map(|(at, chord)| format!("{at} {}", chord.unwrap()))
        .collect();
    assert_eq!(chords, ["0 Gm7", "1 C7/Bb"]);
}

fn archive(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in files {
        writer
            .start_file(*name, SimpleFileOptions::default())
            .unwrap();
        writer.write_all(content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn the_container_names_the_score_and_a_lone_score_needs_no_name() {
    let inside = score(&format!("<measure>{}</measure>", note("C", 4, 1, "")));
    let other = score(&format!("<measure>{}</measure>", note("D", 4, 1, "")));
    let container = |name: &str| {
        format!("<container><rootfiles><rootfile full-path='{name}'/></rootfiles></container>")
    };
    let (good, wrong) = (container("b.xml"), container("gone.xml"));
    let read = |files: &[(&str, &[u8])]| {
        read(&archive(files), &MusicXmlOptions::default())
            .map(|it| line(&it.melody))
            .map_err(|error| error.to_string())
    };
    let both = [("a.xml", other.as_bytes()), ("b.xml", inside.as_bytes())];
    assert_eq!(
        read(&[
            both[0],
            both[1],
            ("META-INF/container.xml", good.as_bytes())
        ])
        .unwrap(),
        "C4:0+1"
    );
    assert_eq!(
        read(&[both[1], ("META-INF/container.xml", wrong.as_bytes())]).unwrap(),
        "C4:0+1"
    );
    assert_eq!(read(&[both[0]]).unwrap(), "D4:0+1");
    assert!(read(&both).unwrap_err().contains("2 scores"));
    assert!(read(&[]).unwrap_err().contains("no score"));
    let bomb = vec![b' '; crate::format::LARGEST_FILE + 1];
    assert!(
        read(&[("a.xml", &bomb)])
            .unwrap_err()
            .contains("more than 64 MB")
    );
}

#[test]
fn other_encodings_are_read() {
    let text = format!(
        "<score-partwise><movement-title>Café</movement-title><part><measure>{}</measure></part></score-partwise>",
        note("C", 4, 1, "")
    );
    let little: Vec<u8> = "\u{feff}"
        .encode_utf16()
        .chain(text.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    let big: Vec<u8> = "\u{feff}"
        .encode_utf16()
        .chain(text.encode_utf16())
        .flat_map(u16::to_be_bytes)
        .collect();
    let declared = format!("<?xml version='1.0' encoding='ISO-8859-1'?>{text}");
    let latin_1: Vec<u8> = declared.chars().map(|c| c as u8).collect();
    for bytes in [little, big, latin_1, format!("\u{feff}{text}").into_bytes()] {
        assert_eq!(
            read(&bytes, &MusicXmlOptions::default())
                .unwrap()
                .melody
                .title(),
            "Café"
        );
    }
}

#[test]
fn hostile_files_are_refused_with_their_place() {
    let measure = |inside: &str| score(&format!("<measure>{inside}</measure>"));
    let divisions = |text: &str| format!("<attributes><divisions>{text}</divisions></attributes>");
    let deep = "<a>".repeat(1_000_000);
    let entities =
        "<!DOCTYPE score-partwise [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;'>]>"
            .to_owned()
            + &score("<measure><note>&b;</note></measure>");
    let cases = [
        (String::new(), "the file ends in the middle"),
        ("just words".into(), "the file ends in the middle"),
        (
            "<html><body/></html>".into(),
            "line 1, column 7: this is a file of <html>, not a score",
        ),
        (score(""), "in the file: no notes found"),
        (
            measure(&note("C", 4, -4, "")),
            "a duration of `-4` is not a length of time",
        ),
        (measure(&note("H", 4, 1, "")), "no step or no octave"),
        (
            measure(&note("C", 4, 1, "")).replace("</measure>", ""),
            "the XML is broken here",
        ),
        (
            measure(&(divisions("0") + &note("C", 4, 1, ""))),
            "<divisions> of `0` do not divide",
        ),
        (
            measure(&(divisions("1000000000") + &note("C", 4, 1, ""))),
            "on a grid finer than",
        ),
        (
            measure(&(divisions("99999999999999999999") + &note("C", 4, 1, ""))),
            "do not divide",
        ),
        (
            measure(&note("C", 4, 999_999_999_999, "")),
            "weeks from the start",
        ),
        (
            measure(&format!(
                "{}<backup><duration>9</duration></backup>",
                note("C", 4, 1, "")
            )),
            "leads to before the bar",
        ),
        (format!("<score-partwise>{deep}"), "the XML is broken here"),
        (entities, "the note that ends here has no length"),
    ];
    for (text, message) in cases {
        let error = read(text.as_bytes(), &MusicXmlOptions::default())
            .unwrap_err()
            .to_string();
        assert!(error.contains(message), "{error} / {message}");
    }
    let error = read(
        b"<score-partwise>\n  <part>\xff",
        &MusicXmlOptions::default(),
    )
    .unwrap_err()
    .to_string();
    assert_eq!(error, "byte 25: this is not text: the bytes are not UTF-8");
}

#[test]
fn what_cannot_be_kept_is_said() {
    let said = |measures: &str| {
        let reading = read(score(measures).as_bytes(), &MusicXmlOptions::default()).unwrap();
        reading.warnings.join("; ")
    };
    let tied = note("C", 4, 1, "<tie type='start'/>");
    let other = note("D", 4, 1, "");
    assert_eq!(
        said(&format!("<measure>{tied}{other}</measure>")),
        "1 ties lead to no note of their pitch and are left out"
    );
    let stop = note("C", 4, 1, "<tie type='stop'/>");
    assert_eq!(said(&format!("<measure>{tied}{stop}</measure>")), "");
    let quarter_tone = "<measure><note><pitch><step>C</step><alter>0.5</alter><octave>4</octave></pitch>\
                        <duration>1</duration></note></measure>";
    assert_eq!(
        said(quarter_tone),
        "1 accidentals finer than a semitone, which no fret can give, go to the semitone nearer the natural note"
    );
    let key = "<attributes><key><fifths>-6</fifths><mode>major</mode></key></attributes>";
    let notes: String = ["C", "D", "E", "F", "G", "A", "B", "C"]
        .map(|step| note(step, 4, 1, ""))
        .concat();
    assert_eq!(
        said(&format!("<measure>{key}{notes}</measure>")),
        "the score declares Gb major, which its notes do not fit: they suggest C major; `--key` sets it"
    );
}

#[test]
fn an_empty_measure_after_one_that_is_too_long_takes_no_time() {
    check(
        &format!(
            "<measure>{}</measure><measure/><measure>{}</measure>",
            note("C", 4, 5, ""),
            note("D", 4, 4, "")
        ),
        "C4:0+5 D4:5+4",
    );
}
