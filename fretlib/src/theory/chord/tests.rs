//! Symbols read and written, and the degrees of notes over them.

use super::*;
use quickcheck::{Arbitrary, Gen};

impl Arbitrary for Chord {
    fn arbitrary(g: &mut Gen) -> Chord {
        let class = |g: &mut Gen| PitchClass::from_fifths(i16::arbitrary(g) % 16).unwrap();
        let kinds = [
            "", "m", "6/9", "m7", "7", "maj7", "mMaj7", "dim7", "m7b5", "aug", "13", "7alt",
        ];
        let changes = [
            "", "sus4", "sus2", "(b9)", "(#9,b13)", "(b5)", "add11", "no3", "(#11)",
        ];
        let kind = format!(
            "{}{}{}",
            g.choose(&kinds).unwrap(),
            g.choose(&changes).unwrap(),
            g.choose(&changes).unwrap(),
        );
        let bass = bool::arbitrary(g).then(|| class(g));
        Chord::new(class(g), read_kind(&kind).unwrap(), bass).unwrap()
    }
}

fn chord(symbol: &str) -> Chord {
    symbol.parse().unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn a_chord_is_small() {
    assert!(size_of::<Chord>() <= 8);
}

#[test]
fn symbols_are_read_in_all_their_spellings_and_written_in_one() {
    let cases = [
        ("C", "C CM Cmaj CMa CMAJ C/C"),
        ("Cm", "Cm Cmin Cmi C- C− CMI CMin"),
        ("Cmaj7", "Cmaj7 CM7 CΔ CΔ7 Cma7 CMA7 C△7 C∆"),
        ("Cm7", "Cm7 C-7 Cmin7 Cmi7 CMI7"),
        ("Cm7b5", "Cm7b5 Cø Cø7 CØ7 C-7b5 Cm7(b5) Cm7-5 Cmin7♭5"),
        ("Cdim7", "Cdim7 C°7 Co7 Cº7"),
        ("Cdim", "Cdim C° Co Cm(b5) Cmb5"),
        ("Caug", "Caug C+ C+5 C(#5)"),
        ("C7#5", "C7#5 C7+ C+7 C7+5 Caug7 C7(#5)"),
        ("Cmaj7#5", "Cmaj7#5 C+maj7 CaugM7 C+Δ7 CM7+5"),
        ("C7alt", "C7alt Calt C7b5#5b9#9"),
        ("Csus4", "Csus4 Csus Cmsus4"),
        ("Csus2", "Csus2 C5add9 C5add2"),
        ("C7sus4", "C7sus4 C7sus C7(sus4) Cm7sus4"),
        ("C7sus4b9", "C7sus4b9 C7b9sus4 C7susb9 C7b9sus"),
        ("C9sus4", "C9sus4 C9sus C7sus4add9 C11no3"),
        ("C6/9", "C6/9 C69 C6(9) C6add9 CM69 Cmaj6/9"),
        ("Cm6/9", "Cm6/9 Cm69 C-69"),
        ("C6", "C6 CM6 Cmaj6 Cadd6 Cadd13"),
        (
            "CmMaj7",
            "CmMaj7 C-Δ7 C-Δ Cm(maj7) CmM7 Cmmaj7 Cmin(Maj7) Cmima7 Cm(Δ)",
        ),
        ("CmMaj9", "CmMaj9 CmM9 Cm(maj9)"),
        ("CmMaj7b5", "CmMaj7b5 C°maj7 CdimM7 C°(maj7)"),
        ("Cadd9", "Cadd9 Cadd2 CMadd9 C(add9)"),
        ("Cmadd9", "Cmadd9 Cm(add9)"),
        (
            "C7b9#11",
            "C7b9#11 C7(b9,#11) C7(b9#11) C7(b9)(#11) C7♭9♯11 C7-9+11",
        ),
        ("C7b9b13", "C7b9b13 C7b13b9"),
        ("C7#5#9", "C7#5#9 C7#9#5 C+7#9"),
        ("C13b9", "C13b9 C13(b9) C7b9(13)"),
        ("C7add13", "C7add13 C7(13)"),
        ("Cm11", "Cm11 Cm9(11) C-11 Cm7(9,11)"),
        ("Cmaj7#11", "Cmaj7#11 Cmaj7#4 CΔ#11"),
        ("C(b5)", "C(b5)"),
        ("Cmb6", "Cmb6 Cm(b6)"),
        ("Cadd#11", "Cadd#11 C(#11)"),
        ("C5", "C5 Cno3 C(omit3)"),
        ("Cb5", "Cb5 C♭5"), // a power chord on C flat
        ("C7no5", "C7no5 C7omit5 C7(no5)"),
        ("C/E", "C/E C/e CM/E"),
        ("Am7/G", "Am7/G A-7/G"),
        ("C6/9/E", "C6/9/E C69/E"),
        ("Bb7b9/Ab", "Bb7b9/Ab B♭7(♭9)/A♭"),
    ];
    for (written, spellings) in cases {
        for symbol in spellings.split(' ') {
            assert_eq!(chord(symbol).to_string(), written, "{symbol}");
        }
    }
    assert_eq!(chord("C7(b9, #11)"), chord("C7(b9 #11)"));
}

#[test]
fn invalid_chord_symbols_are_refused() {
    for text in [
        "",
        "H",
        "c",
        "am7",
        "Cx",
        "C4",
        "C8",
        "Cm5",
        "C77",
        "C7b",
        "C7(b9",
        "C7b9)",
        "C7()",
        "C7(,)",
        "C7(b9,)",
        "C/",
        "C/H",
        "C//E",
        "C/E/G",
        "C7 ",
        " C7",
        "C7b7",
        "C7#13",
        "C7bb9",
        "C+11",
        "Cdim9",
        "Cø13",
        "Csus3",
        "Cno1",
        "Cadd3",
        "Cadd5",
        "C7(5)",
        "C(9)",
        "C6/8",
        "C-5",
        "C7,b9",
        "C7b9 #11",
        "C7(b9  #11)",
        "C#b7",
        "C#####",
        "CΔ7Δ7",
        "Cmajor",
        "Fine",
        "D.C.",
        "Capo",
        "Adagio",
        "Bridge",
        "Coda",
        "é",
        "C\u{0}",
        "♭",
        "C7/é",
    ] {
        assert!(text.parse::<Chord>().is_err(), "{text}");
    }
    let long = format!("C7{}", "(b9)".repeat(1000));
    assert!(long.parse::<Chord>().is_err());
    let error = "Cfoo".parse::<Chord>().unwrap_err().to_string();
    assert_eq!(
        error,
        "expected a chord symbol such as Am7, F#m7b5 or C7(b9)/E, found `Cfoo`"
    );
}

#[test]
fn no_chord_is_not_a_chord() {
    for text in ["N.C.", "NC", "N.C"] {
        assert_eq!(Chord::parse_symbol(text), Ok(None));
        assert!(text.parse::<Chord>().is_err());
    }
    assert!(Chord::parse_symbol("").is_err());
}

#[test]
fn tones_are_spelled_over_every_root() {
    let cases = [
        ("Ebmaj7", "Eb G Bb D"),
        ("Bdim7", "B D F Ab"),
        ("Cbm7", "Cb Ebb Gb Bbb"),
        ("D#7#9", "D# F## A# C# E##"),
        ("G7alt", "G B Db D# F Ab A#"),
        ("A13", "A C# E G B F#"),
        ("F7sus4", "F Bb C Eb"),
        ("Ab6/9", "Ab C Eb F Bb"),
        ("C/D", "C E G"),
    ];
    for (symbol, tones) in cases {
        let found: Vec<String> = chord(symbol)
            .tones()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(found.join(" "), tones, "{symbol}");
    }
}

#[test]
fn notes_over_a_chord_have_the_usual_names() {
    // All twelve sounds in the usual spelling, then cases that depend on spelling.
    let cases = [
        (
            "C",
            "C:1 Db:b9 D:9 Eb:b3 E:3 F:11 F#:#11 G:5 Ab:b6 A:6 Bb:b7 B:7",
        ),
        ("C", "D#:#9 Gb:b5 G#:#5"),
        ("C6", "A:6 D:9 Eb:b3 D#:#9"),
        (
            "C7",
            "C:1 Db:b9 D:9 Eb:#9 E:3 F:11 F#:#11 G:5 Ab:b13 A:13 Bb:b7 B:7",
        ),
        (
            "C7",
            "D#:#9 Gb:b5 G#:#5 C#:b9 A#:b7 Cb:7 Fb:3 E#:11 B#:1 Abb:5 Bbb:13",
        ),
        ("Cmaj7", "Eb:#9 D#:#9 F#:#11 G#:#5 Ab:b13 A:13 Bb:b7"),
        ("Cm7", "D#:b3 Eb:b3 E:3 F:11 A:13 Ab:b13 Db:b9 B:7"),
        ("Cm6", "A:6 Bb:b7 B:7 Ab:b6"),
        ("Cm7b5", "Gb:b5 F#:b5 G:5 F:11 Ab:b13 D:9"),
        ("Cdim7", "Bbb:bb7 A:bb7 Bb:b7 B:7 D:9 F:11 Ab:b13"),
        ("Csus4", "F:4 E:3 Eb:b3 D:9 A:6 F#:#11"),
        ("C7sus4", "F:4 E:3 Eb:b3 D:9 A:13"),
        ("Csus2", "D:2 F:4 E:3 Db:b9"),
        ("C7#9", "Eb:#9 D#:#9"),
        ("C7#5", "G#:#5 Ab:#5 G:5"),
        ("C7b13", "Ab:b13 G#:b13"),
        ("C7#11", "F#:#11 Gb:#11"),
        ("C7alt", "Gb:b5 F#:b5 G#:#5 Ab:#5 Db:b9 Eb:#9"),
        ("Em7/A", "A:11 E:1 F#:9"), // over the root, not the bass
        ("F#m7b5", "G#:9 G:b9 B:11 D:b13"),
    ];
    for (symbol, notes) in cases {
        for pair in notes.split(' ') {
            let (note, degree) = pair.split_once(':').unwrap();
            let found = chord(symbol).degree(note.parse().unwrap());
            assert_eq!(found.to_string(), degree, "{note} over {symbol}");
        }
    }
}

// Common practice, no source.
#[test]
fn notes_are_named_by_the_chord_they_make() {
    let cases = [
        ("A C E G", "Am7"),
        ("C E G A", "C6"),
        ("G C E", "C/G"),
        ("C F G", "Csus4"),
        ("C G", "C5"),
        ("B D F Ab", "Bdim7"),
        ("C E Bb D#", "C7no5#9"),
        ("D C E G", "C/D"), // the bass from elsewhere
    ];
    for (notes, expected) in cases {
        let notes: Vec<PitchClass> = notes.split(' ').map(|name| name.parse().unwrap()).collect();
        let chord = Chord::from_notes(&notes).map(|chord| chord.to_string());
        assert_eq!(chord.as_deref(), Some(expected), "{notes:?}");
    }
    assert_eq!(Chord::from_notes(&[]), None);
}

quickcheck::quickcheck! {
    fn the_tones_of_a_chord_make_a_chord_of_the_same_notes(chord: Chord) -> bool {
        let tones = chord.tones();
        let bass = chord.bass();
        let rest = tones.iter().copied().filter(|tone| *tone != bass);
        let notes: Vec<PitchClass> = std::iter::once(bass).chain(rest).collect();
        let Some(found) = Chord::from_notes(&notes) else {
            // Without a third or fifth there is no chord to name.
            return tones.len() < 3 || !tones.iter().any(|tone| matches!(chord.degree(*tone).number(), 3 | 5));
        };
        let mut of_found = found.tones();
        of_found.push(found.bass());
        notes.iter().all(|note| of_found.contains(note)) && of_found.iter().all(|note| notes.contains(note))
    }

    fn a_symbol_is_read_back(chord: Chord) -> bool {
        chord.to_string().parse() == Ok(chord)
    }

    fn any_text_is_read_or_refused(text: String) -> bool {
        let Ok(chord) = text.parse::<Chord>() else { return true };
        chord.to_string().parse() == Ok(chord)
    }

    fn any_kind_is_read_or_refused(picks: Vec<u8>) -> bool {
        // Built from the parts of symbols, so that much of it is nearly valid.
        let words = ["m", "maj", "7", "9", "11", "13", "6", "b", "#", "5", "(", ")", ",", "sus", "add", "no3", "+", "/", "E", "alt", "°", "ø", "Δ"];
        let text: String = picks.iter().map(|pick| words[usize::from(*pick) % words.len()]).collect();
        let Ok(chord) = format!("C{text}").parse::<Chord>() else { return true };
        chord.to_string().parse() == Ok(chord)
    }

    fn a_chord_moves_as_its_notes_do(chord: Chord, semitones: i8) -> bool {
        let Ok(interval) = Interval::new((semitones % 7).into(), (semitones % 12).into()) else {
            return true;
        };
        let Ok(moved) = chord.transpose(interval) else { return true };
        let tones: Result<Vec<_>, _> = chord.tones().iter().map(|tone| tone.transpose(interval)).collect();
        tones == Ok(moved.tones()) && moved.transpose(-interval) == Ok(chord)
    }

    fn chord_tones_have_their_own_names(chord: Chord) -> bool {
        let names: Vec<_> = chord.tones().into_iter().map(|tone| chord.degree(tone)).collect();
        names[0].to_string() == "1" && (1..names.len()).all(|index| !names[..index].contains(&names[index]))
    }

    fn over_a_chord_only_the_sound_of_a_chord_tone_is_one(chord: Chord, fifths: i8) -> bool {
        let note = PitchClass::from_fifths(i16::from(fifths % 30)).unwrap();
        let names: Vec<_> = chord.tones().into_iter().map(|tone| chord.degree(tone)).collect();
        let sounds = chord.tones().iter().any(|tone| tone.chroma() == note.chroma());
        names.contains(&chord.degree(note)) == sounds
    }
}
