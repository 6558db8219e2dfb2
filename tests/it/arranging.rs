//! Arrangements compared with an independent version of the rules, and with the best voicing note by note.

use fretlib::arranging::{
    ArrangementFigures, Arranger, ArrangingSettings, Density, Lattice, Style, VoicingWeights,
    octave_fits,
};
use fretlib::format::abc;
use fretlib::melody::Melody;
use fretlib::neck::{Hand, Instrument};
use tests::arrangement_judge::{ArrangementJson, Verdict, judge};
use tests::harmonised::{self, Harmonised};
use tests::neckline;

/// All forty with `ARRANGE_ALL=1`, else every eighth of those kept out.
fn tunes() -> Vec<Harmonised> {
    let all = harmonised::tunes();
    if std::env::var_os("ARRANGE_ALL").is_some() {
        return all;
    }
    all.into_iter()
        .filter(|tune| tune.kept_out)
        .step_by(8)
        .collect()
}

fn judged(args: &[&str], stdin: &[u8], limit: f64) -> (ArrangementJson, Verdict) {
    let run = neckline(&[&["arrange"], args, &["--json"]].concat(), stdin);
    assert_eq!(run.code, 0, "{}", run.stderr);
    let arrangement: ArrangementJson = serde_json::from_str(&run.stdout).unwrap();
    let verdict = judge(&arrangement, limit);
    (arrangement, verdict)
}

fn check(args: &[&str], stdin: &[u8], limit: f64) -> Verdict {
    let (_, verdict) = judged(args, stdin, limit);
    assert!(verdict.faults.is_empty(), "{args:?}: {:#?}", verdict.faults);
    verdict
}

#[test]
fn the_built_in_tunes_are_arranged_by_the_rules() {
    for tune in ["lamps-along-the-jetty", "oars-in-three", "pedalo-blues"] {
        let verdict = check(&[tune, "--bars", "1-8"], b"", 137.0);
        assert!(
            100 * verdict.complete >= 60 * verdict.voiced,
            "{tune}: {verdict:?}"
        );
    }
}

#[test]
fn every_style_hand_and_capo_keeps_the_rules() {
    for style in Style::ALL {
        check(
            &[
                "oars-in-three",
                "--bars",
                "9-12",
                "--octave",
                "0",
                "--density",
                "full",
                "--style",
                style.name(),
            ],
            b"",
            137.0,
        );
    }
    check(
        &[
            "oars-in-three",
            "--bars",
            "9-12",
            "--octave",
            "0",
            "--hand",
            "small",
        ],
        b"",
        120.0,
    );
    check(
        &[
            "oars-in-three",
            "--bars",
            "9-12",
            "--octave",
            "0",
            "--capo",
            "3",
            "--transpose",
            "+m3",
        ],
        b"",
        137.0,
    );
}

// Everything a texture may do: a rest after a long note and in mid bar, a chord that comes under a held note, short notes.
const RESTS: &str = "X:1\nT:Ferry Bell\nM:4/4\nL:1/4\nK:C\n\"Dm7\"f2 z2|\"G7\"f4|z \"Cmaj7\"e2 z|\"Am7\"e2 \"D7\"e2-|e4|\"G7\"B c d z|\"C\"c z3|\n";

#[test]
fn every_texture_keeps_the_rules() {
    for texture in ["together", "short", "broken", "answer"] {
        for style in ["plucked", "full", "bass"] {
            let args = ["-", "--octave", "0", "--texture", texture, "--style", style];
            let (arrangement, verdict) = judged(&args, RESTS.as_bytes(), 137.0);
            assert!(verdict.faults.is_empty(), "{args:?}: {:#?}", verdict.faults);
            // After the first note there are two beats of the same chord, and the hand stays.
            let sounds = !arrangement.in_rests.is_empty();
            assert_eq!(sounds, texture == "answer", "{args:?}");
        }
        check(
            &["oars-in-three", "--bars", "1-8", "--texture", texture],
            b"",
            137.0,
        );
    }
}

#[test]
fn tunes_with_chords_by_their_key_are_arranged_by_the_rules() {
    for tune in tunes() {
        let source = abc::write(&tune.melody());
        for texture in ["broken", "answer"] {
            check(&["-", "--texture", texture], source.as_bytes(), 137.0);
        }
        let (arrangement, verdict) = judged(&["-"], source.as_bytes(), 137.0);
        assert!(
            verdict.faults.is_empty(),
            "{}: {:#?}",
            tune.tune,
            verdict.faults
        );
        let silent = arrangement
            .notes
            .iter()
            .filter(|note| note.under.is_empty() && note.bare.is_none())
            .count();
        assert_eq!(silent, 0, "{}", tune.tune);
    }
}

/// Figures of a tune by the path and note by note, with the same candidates and the same cost of each voicing by
/// itself.
fn figures(melody: &Melody, weights: VoicingWeights) -> ArrangementFigures {
    let guitar = Instrument::default();
    let arranger = Arranger {
        instrument: &guitar,
        hand: Hand::MEDIUM,
        style: Style::PLUCKED,
    };
    let octave = octave_fits(&arranger, melody, Density::Medium)[0].octave;
    let settings = ArrangingSettings {
        octave,
        weights,
        ..ArrangingSettings::default()
    };
    let lattice = Lattice::new(arranger, melody, settings).unwrap();
    lattice.solve(1)[0].figures(&lattice)
}

// The tunes kept out of all tuning. All forty: ARRANGE_ALL=1 cargo test --release -p tests arranging -- --nocapture
#[test]
fn the_path_moves_voices_and_hand_less_than_the_best_voicing_note_by_note() {
    let mut sums = [0.0; 6];
    let kept_out: Vec<Harmonised> = tunes().into_iter().filter(|tune| tune.kept_out).collect();
    for tune in &kept_out {
        let melody = tune.melody();
        let path = figures(&melody, VoicingWeights::default());
        let alone = figures(&melody, VoicingWeights::default().note_by_note());
        let complete =
            |it: &ArrangementFigures| 100.0 * it.complete as f64 / it.voicings.max(1) as f64;
        let both = [&path, &alone].map(|it| [it.inner_motion, it.travel_mm, complete(it)]);
        for (sum, figure) in sums.iter_mut().zip(both.concat()) {
            *sum += figure / kept_out.len() as f64;
        }
    }
    let [
        motion,
        travel,
        complete,
        alone_motion,
        alone_travel,
        alone_complete,
    ] = sums;
    println!(
        "{} tunes: inner voices {motion:.2} of {alone_motion:.2} semitones, hand {travel:.1} of {alone_travel:.1} mm",
        kept_out.len()
    );
    println!("with every guide tone {complete:.1} of {alone_complete:.1} %");
    assert!(motion <= alone_motion * 2.0 / 3.0);
    assert!(travel <= alone_travel * 2.0 / 3.0);
    assert!(complete >= alone_complete - 3.0 && complete >= 60.0);
}

#[test]
fn the_judge_finds_faults() {
    let good = r#"{"instrument":{"strings":["E5","B4","G4","D4","A3","E3"],"capo":0},"notes":[{"number":1,"bar":1,"pitch":"D5",
        "octave":0,"duration":"2","bare":null,"place":{"string":2,"fret":3,"finger":4,"pitch":"D5","placed":1},"under":[{"at":"0",
        "until":"3/2","chord":"Bbmaj7","barre":null,"omitted":["5"],"anchors":[],"reach_mm":66.7,"places":[
        {"string":3,"fret":2,"finger":2,"pitch":"A4","placed":2},{"string":5,"fret":1,"finger":1,"pitch":"Bb3","placed":3}]}]}]}"#;
    let faults = |text: &str| {
        judge(&serde_json::from_str(text).unwrap(), 137.0)
            .faults
            .join("; ")
    };
    assert_eq!(faults(good), "");
    for (from, to, fault) in [
        (r#""pitch":"A4""#, r#""pitch":"Ab4""#, "is not Ab4"),
        (r#""finger":2"#, r#""finger":1"#, "without a barre"),
        (r#""finger":2"#, r#""finger":0"#, "finger 0"),
        (r#""finger":1"#, r#""finger":3"#, "cross"),
        (r#""anchors":[]"#, r#""anchors":[1]"#, "anchor 1"),
        (r#""omitted":["5"]"#, r#""omitted":["1"]"#, "leave out"),
        (r#""until":"3/2""#, r#""until":"5/2""#, "sounds from"),
        (
            r#""pitch":"D5","#,
            r#""pitch":"C5","#,
            "moved by the octave",
        ),
        ("Bbmaj7", "Dm7", "is no tone"),
        (
            r#""string":3,"fret":2,"#,
            r#""string":2,"fret":2,"#,
            "two notes on one string",
        ),
        (r#""reach_mm":66.7"#, r#""reach_mm":60"#, "reach said"),
    ] {
        let changed = good.replacen(from, to, 1);
        assert!(
            faults(&changed).contains(fault),
            "{to}: {}",
            faults(&changed)
        );
    }
}
