use super::*;
use crate::format::musicxml::{MusicXmlOptions, read};
use crate::neck::{Fret, StringNumber};

/// The order of children in the types of the schema (musicxml.xsd 4.0: `note`, `attributes`, `harmony`, `direction`,
/// `score-part`, `staff-details`), as far as they are written here. 244 written scores were checked against the whole
/// schema.
const ORDER: [(&str, &str); 9] = [
    ("score-partwise", "work identification part-list part"),
    ("score-part", "part-name score-instrument midi-instrument"),
    (
        "attributes",
        "divisions key time staves clef staff-details transpose",
    ),
    (
        "note",
        "pitch rest duration tie voice type dot accidental time-modification stem staff beam notations",
    ),
    ("time-modification", "actual-notes normal-notes normal-type"),
    ("harmony", "root kind bass degree offset"),
    ("direction", "direction-type sound"),
    ("staff-details", "staff-lines staff-tuning capo"),
    ("transpose", "diatonic chromatic octave-change"),
];

#[test]
fn written_scores_keep_the_order_of_the_standard() {
    let tune = "X:1\nT:Low Water <&>\nC:Nobody\nM:3/4\nL:1/8\nQ:1/4=90\nK:Em\n\"C7b9/Bb\"B2|[P:B]e3 (3g2=f (3ede z|\"N.C.\"[K:D][M:4/4]F4-\"G\"F4-|F2\"A\"G6|]\n";
    let melody = crate::format::abc::read(tune.as_bytes(), &Default::default())
        .unwrap()
        .melody;
    let fretted = Fingered {
        place: Place {
            string: StringNumber::new(2).unwrap(),
            fret: Fret::new(3).unwrap(),
        },
        finger: None,
    };
    let bass = Instrument::built_in("bass").unwrap();
    let text = write(&melody, bass, &vec![Some(fretted); melody.notes().len()]);
    let mut open: Vec<(String, usize)> = Vec::new();
    let mut seen = std::collections::HashSet::new();
    let mut reader = quick_xml::Reader::from_str(&text);
    reader.config_mut().expand_empty_elements = true;
    loop {
        match reader.read_event().unwrap() {
            quick_xml::events::Event::Start(start) => {
                let name = start.name().as_ref().to_owned();
                if let Some((parent, last)) = open.last_mut()
                    && let Some((_, order)) = ORDER.iter().find(|(it, _)| it == parent)
                {
                    let place = order.split(' ').position(|it| it == name);
                    let place = place.unwrap_or_else(|| panic!("<{name}> in <{parent}>"));
                    assert!(place >= *last, "<{name}> in <{parent}>");
                    *last = place;
                }
                seen.insert(name.clone());
                open.push((name, 0));
            }
            quick_xml::events::Event::End(_) => drop(open.pop()),
            quick_xml::events::Event::Eof => break,
            _ => {}
        }
    }
    assert!(open.is_empty());
    for (name, order) in ORDER {
        let missing: Vec<&str> = order
            .split(' ')
            .filter(|it| !seen.contains(*it) && *it != "capo")
            .collect();
        assert!(
            seen.contains(name) && missing.is_empty(),
            "{name}: {missing:?}"
        );
    }
    assert_eq!(
        read(text.as_bytes(), &MusicXmlOptions::default())
            .unwrap()
            .melody,
        melody
    );
}

/// The notes of the staff of a written score, each as its type, dots, accidental, tuplet, beams and ties.
fn printed(tune: &str) -> String {
    let tune = format!("X:1\nT:t\nL:1/8\n{tune}\n");
    let melody = crate::format::abc::read(tune.as_bytes(), &Default::default())
        .unwrap()
        .melody;
    let text = write(&melody, &Instrument::default(), &[]);
    assert_eq!(
        read(text.as_bytes(), &MusicXmlOptions::default())
            .unwrap()
            .melody,
        melody
    );
    let inside = |note: &str, tag: &str| {
        let values = note.split(tag).skip(1).map(|rest| {
            let (_, rest) = rest.split_once('>').unwrap();
            rest.split('<').next().unwrap().to_owned()
        });
        values.collect::<Vec<_>>().join("+")
    };
    let notes = text.split("<note>").skip(1).map(|note| {
        let mut word = inside(note, "<type");
        word += &".".repeat(note.matches("<dot/>").count());
        for (tag, before) in [
            ("<accidental", " "),
            ("<normal-type", " in "),
            ("<beam", " "),
        ] {
            let value = inside(note, tag);
            if !value.is_empty() {
                word += &format!("{before}{value}");
            }
        }
        for (mark, sign) in [
            ("<tied type=\"stop\"/>", " ~"),
            ("<tied type=\"start\"/>", " _"),
            ("<tuplet type=\"start\"/>", " ["),
            ("<tuplet type=\"stop\"/>", " ]"),
            ("<rest measure=\"yes\"/>", "bar rest"),
        ] {
            if note.contains(mark) {
                word += sign;
            }
        }
        word
    });
    notes.collect::<Vec<_>>().join(", ")
}

// Common practice; the terms are those of the standard.
#[test]
fn notes_are_written_with_values_beams_and_ties() {
    let cases = [
        (
            "M:2/4\nK:C\n(3CDE F2|",
            "eighth begin [, eighth continue, eighth end ], quarter",
        ),
        // A triplet of eighth notes, in whichever values it is written.
        (
            "M:2/4\nK:C\n(3:2:2C2D E2|",
            "quarter in eighth [, eighth ], quarter",
        ),
        (
            "M:2/4\nK:C\n(3C/D/E/ F (3CDE|",
            "16th begin+begin [, 16th continue+continue, 16th continue+end ], eighth end, eighth begin [, eighth continue, eighth end ]",
        ),
        (
            "M:2/4\nK:C\n(5:4:5C/D/E/F/G/ A2|",
            "16th begin+begin [, 16th continue+continue, 16th continue+continue, 16th continue+continue, 16th end+end ], quarter",
        ),
        // Five eighths are two notes tied, and the middle of the bar shows.
        ("M:4/4\nK:C\nC3 D5|", "quarter., eighth _, half ~"),
        (
            "M:2/4\nK:C\nC3/D/ E/F3/|",
            "eighth. begin, 16th end+backward hook, 16th begin+forward hook, eighth. end",
        ),
        (
            "M:2/4\nK:G\n^F2 =F2|F2 G2-|G4|z4|A4|",
            "quarter, quarter natural, quarter sharp, quarter _, half ~, bar rest, half",
        ),
    ];
    for (tune, expected) in cases {
        assert_eq!(printed(tune), expected, "{tune}");
    }
}

/// A time without a note value is written as a duration only.
#[test]
fn times_off_every_grid_have_no_type() {
    assert_eq!(printed("M:none\nK:C\nC8/17D2|"), ", quarter");
}
