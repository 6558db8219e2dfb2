//! `neckline play` to a file, with measurements of the sound.

use std::f64::consts::TAU;
use std::sync::Arc;

use fretlib::format::abc;
use fretlib::format::tune_ron;
use fretlib::melody::{Melody, Quarters};
use fretlib::neck::Instrument;
use fretlib::sound::{Layer, Manner, Performance, Renderer, SampleRate, play_through};
use fretlib::theory::Octave;
use tests::{Folder, neckline};

/// The standard output of a run as bytes, its messages and its exit code.
fn bytes_of(args: &[&str]) -> (Vec<u8>, String, u8) {
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    let mut streams = trainer_cli::Streams::captured(&b""[..], &mut stdout, &mut stderr);
    let args = std::iter::once("neckline")
        .chain(args.iter().copied())
        .map(Into::into);
    let code = trainer_cli::run(args, &mut streams);
    drop(streams);
    (stdout, String::from_utf8(stderr).unwrap(), code)
}

/// A WAV file parsed by hand: rate, bits, samples.
///
/// Source: IBM and Microsoft, *Multimedia Programming Interface and Data Specifications 1.0*, 1991: RIFF chunks.
fn wav(bytes: &[u8]) -> (u32, u16, Vec<f64>) {
    let number = |at: usize, size: usize| {
        let digits = bytes[at..at + size].iter().rev();
        digits.fold(0u64, |number, byte| number << 8 | u64::from(*byte)) as usize
    };
    assert_eq!((&bytes[..4], &bytes[8..12]), (&b"RIFF"[..], &b"WAVE"[..]));
    assert_eq!(number(4, 4), bytes.len() - 8);
    let mut at = 12;
    let (mut rate, mut bits) = (0, 0);
    loop {
        let size = number(at + 4, 4);
        match &bytes[at..at + 4] {
            b"fmt " => {
                assert_eq!(number(at + 10, 2), 1, "channels");
                (rate, bits) = (number(at + 12, 4), number(at + 22, 2));
            }
            b"data" => {
                let step = bits / 8;
                let data = bytes[at + 8..at + 8 + size].chunks(step);
                let samples = data.map(|sample| {
                    if bits == 32 {
                        return f64::from(f32::from_le_bytes(sample.try_into().unwrap()));
                    }
                    let digits = sample
                        .iter()
                        .rev()
                        .fold(0i64, |number, byte| number << 8 | i64::from(*byte));
                    let half = 1i64 << (bits - 1);
                    let signed = if digits >= half {
                        digits - 2 * half
                    } else {
                        digits
                    };
                    signed as f64 / half as f64
                });
                return (rate as u32, bits as u16, samples.collect());
            }
            _ => {}
        }
        at += 8 + size + size % 2;
    }
}

const WALTZ: &str = "X:1\nT:Ferry\nM:3/4\nL:1/4\nQ:1/4=120\nK:G\n\"G\"G A B|\"D7\"A2 F|\n";

#[test]
fn a_file_is_written_in_each_format() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", WALTZ);
    let mut first: Option<Vec<f64>> = None;
    for (bits, step) in [("16", 1.0f64 / 32_767.0), ("24", 1e-6), ("32", 1e-6)] {
        let (bytes, stderr, code) =
            bytes_of(&["play", &tune, "-o", "-", "--bits", bits, "--rate", "32000"]);
        assert_eq!(code, 0, "{stderr}");
        assert_eq!(
            stderr,
            format!(
                "wrote Ferry at 120 quarter notes a minute: 3.2 s, 32000 Hz, {bits} bits, mono\n"
            )
        );
        let (rate, found, samples) = wav(&bytes);
        assert_eq!((rate, found.to_string().as_str()), (32_000, bits));
        let first = first.get_or_insert_with(|| samples.clone());
        assert_eq!(first.len(), samples.len());
        assert!(
            first
                .iter()
                .zip(&samples)
                .all(|(one, other)| (one - other).abs() < 2.0 * step.max(4e-5))
        );
    }
    let file = format!("{}/take.wav", folder.text());
    let run = neckline(&["play", &tune, "-o", &file], b"");
    assert_eq!((run.code, run.stdout.as_str()), (0, ""));
    let (rate, bits, _) = wav(&std::fs::read(file).unwrap());
    assert_eq!((rate, bits), (44_100, 16));
}

#[test]
fn options_change_what_sounds() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", WALTZ);
    let samples = |options: &[&str]| {
        let args = [&["play", &tune, "-o", "-", "--bits", "32"][..], options].concat();
        let (bytes, stderr, code) = bytes_of(&args);
        assert_eq!(code, 0, "{stderr}");
        wav(&bytes).2
    };
    let loudest = |samples: &[f64]| samples.iter().fold(0.0, |peak: f64, it| peak.max(it.abs()));
    let plain = samples(&[]);
    // A string may be silent a little before the end of its last bar.
    let check_length = |samples: &[f64], seconds: f64| {
        let found = samples.len() as f64 / 44_100.0;
        assert!((found - seconds).abs() < 0.2, "{found} s for {seconds} s");
    };
    check_length(&plain, 3.1);
    // At half the tempo, four times, only the second bar, with a bar counted in.
    check_length(&samples(&["--tempo", "50%"]), 6.1);
    check_length(&samples(&["--tempo", "60"]), 6.1);
    check_length(&samples(&["--loop", "4"]), 12.1);
    check_length(&samples(&["--bars", "2"]), 1.6);
    let counted = samples(&["--count-in", "1", "--no-melody"]);
    check_length(&counted, 4.6);
    assert!(loudest(&counted[..4_410]) > 0.2 && loudest(&counted[66_150..]) < 1e-4);
    // Nothing, then the click, then the chords.
    assert_eq!(loudest(&samples(&["--no-melody"])), 0.0);
    assert!(loudest(&samples(&["--no-melody", "--click", "all"])) > 0.2);
    let chords = loudest(&samples(&["--no-melody", "--chords"]));
    assert!(chords > 0.05 && chords < loudest(&plain), "{chords}");
    let dropped = samples(&["--no-melody", "--click", "all", "--click-drop", "1+1"]);
    assert!(loudest(&dropped[..66_000]) > 0.2 && loudest(&dropped[66_500..]) < 1e-4);
    assert_ne!(samples(&["--tuning-a4", "442"]), plain);
    assert_ne!(samples(&["--transpose", "+M2"]), plain);
    assert_ne!(samples(&["--octave", "+1"]), plain);
    assert_eq!(samples(&[]), plain);
}

#[test]
fn errors_about_files_are_clear() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", WALTZ);
    let check = |options: &[&str], code: u8, problem: &str| {
        let args = [&["play", &tune][..], options].concat();
        let run = neckline(&args, b"");
        assert_eq!(run.code, code, "{options:?}: {}", run.stderr);
        assert!(run.stderr.contains(problem), "{options:?}: {}", run.stderr);
    };
    check(&["-o", "take.mp3"], 2, "`take.mp3` is not a WAV file");
    check(&["-o", "-", "--loop", "endless"], 2, "a file has an end");
    check(
        &["-o", "-", "--ladder", "60-100%"],
        2,
        "cannot be used with",
    );
    check(
        &["-o", "-", "--tempo", "900"],
        2,
        "750 percent of the tune's own tempo, 120",
    );
    check(
        &["-o", "-", "--loop", "9999"],
        1,
        "more than 256 MiB of sound",
    );
    check(&["-o", "-", "--phrases", "7"], 2, "there is no phrase 7");
    check(&["-o", "/no/such/folder/take.wav"], 1, "cannot write");
    check(
        &[
            "-o",
            "-",
            "--rate",
            "8000",
            "--octave",
            "+2",
            "--transpose",
            "+P8",
        ],
        1,
        "leaves the neck",
    );
    let high = folder.write("high.abc", "X:1\nM:4/4\nL:1/4\nK:C\nc'''4|\n");
    let args = [
        "play",
        high.as_str(),
        "-o",
        "-",
        "--rate",
        "8000",
        "--instrument",
        "mandolin",
    ];
    let run = neckline(&args, b"");
    assert_eq!(run.code, 1);
    assert!(!run.stderr.is_empty());
}

/// Amplitude and phase of one frequency under Hann's window.
fn phase(samples: &[f32], frequency: f64) -> f64 {
    let length = samples.len() as f64;
    let (mut real, mut imaginary) = (0.0, 0.0);
    for (index, sample) in samples.iter().enumerate() {
        let weight = 0.5 - 0.5 * (TAU * (index as f64 + 0.5) / length).cos();
        let angle = TAU * frequency * index as f64 / 44_100.0;
        real += weight * f64::from(*sample) * angle.cos();
        imaginary -= weight * f64::from(*sample) * angle.sin();
    }
    imaginary.atan2(real)
}

/// Each note of a melody by itself: its onset within a millisecond, its pitch within a cent.
///
/// `starts` are the times of the notes in seconds at full tempo, computed independently.
fn check_stems(melody: &Melody, starts: &[f64], speed: f64) {
    let places = vec![None; melody.notes().len()];
    let manner = Manner {
        speed,
        ..Manner::default()
    };
    let played = play_through(
        melody,
        &places,
        Octave::WRITTEN,
        &Instrument::default(),
        &manner,
    )
    .unwrap();
    let melody_only = |pluck: &&fretlib::sound::Pluck| pluck.layer == Layer::Melody;
    let plucks: Vec<_> = played.performance.plucks().filter(melody_only).collect();
    assert_eq!(plucks.len(), starts.len());
    for (pluck, start) in plucks.into_iter().zip(starts) {
        let start = start / speed;
        // Only the part around the note is rendered, from a tenth of a second before it if possible.
        let from = (start - 0.1).max(0.0);
        let stem =
            Performance::new(vec![*pluck], Vec::new(), played.performance.seconds()).unwrap();
        let mut renderer = Renderer::new(SampleRate::CD);
        renderer.play(Arc::new(stem), from);
        let length = ((pluck.end - from) * 44_100.0).min(22_050.0);
        let mut samples = vec![0.0; length as usize];
        renderer.render(&mut samples);
        let loudest = samples.iter().fold(0.0, |peak: f32, it| peak.max(it.abs()));
        let first = samples
            .iter()
            .position(|it| it.abs() > loudest / 1000.0)
            .unwrap();
        let onset = (from * 44_100.0).round() / 44_100.0 + first as f64 / 44_100.0;
        assert!((onset - start).abs() < 0.001, "{onset} s for {start} s");
        // A guitar sounds an octave below what is written.
        let written = melody.notes()[pluck.note.unwrap()].pitch.midi().get();
        let wanted = 440.0 * 2f64.powf((f64::from(written) - 81.0) / 12.0);
        let half = (samples.len() - first) / 2;
        // In shorter notes, cents cannot be measured.
        if half < 2_205 {
            continue;
        }
        let ringing = &samples[first..];
        let turned = phase(&ringing[half..2 * half], wanted) - phase(&ringing[..half], wanted);
        let seconds = half as f64 / 44_100.0;
        let left = (turned - TAU * wanted * seconds + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
        let cents = 1200.0 * (1.0 + left / (TAU * seconds * wanted)).log2();
        assert!(cents.abs() < 1.0, "{cents} cents at {start} s");
    }
}

#[test]
fn built_in_tunes_sound_where_and_as_high_as_they_are_written() {
    for (source, tempo) in [
        (
            &include_bytes!("../../melodies/lamps-along-the-jetty.ron")[..],
            66.0,
        ),
        (
            &include_bytes!("../../melodies/oars-in-three.ron")[..],
            152.0,
        ),
        (
            &include_bytes!("../../melodies/pedalo-blues.ron")[..],
            138.0,
        ),
    ] {
        let melody = tune_ron::read(source).unwrap().melody;
        let starts: Vec<f64> = melody
            .notes()
            .iter()
            .map(|note| note.onset.to_f64() * 60.0 / tempo)
            .collect();
        check_stems(&melody, &starts, 1.0);
        check_stems(&melody, &starts, 0.5);
    }
}

#[test]
fn a_jig_sounds_where_it_is_written() {
    let jig = "X:1\nM:6/8\nL:1/8\nQ:3/8=110\nK:D\nA|d2f edB|A3 F2A|\n";
    let melody = abc::read(jig.as_bytes(), &abc::AbcOptions::default())
        .unwrap()
        .melody;
    let eighths = [0.0, 1.0, 3.0, 4.0, 5.0, 6.0, 7.0, 10.0, 12.0];
    let starts: Vec<f64> = eighths.iter().map(|it| it * 60.0 / 330.0).collect();
    check_stems(&melody, &starts, 1.0);
    check_stems(&melody, &starts, 0.5);
}

#[test]
fn repeats_and_endings_sound_in_their_order() {
    use fretlib::melody::{Endings, FormSign, Times};
    // |: C D |1 E F :|2 G2 |]
    let source = "X:1\nM:2/4\nL:1/4\nQ:1/4=100\nK:C\nCD|EF|G2|]\n";
    let melody = abc::read(source.as_bytes(), &abc::AbcOptions::default())
        .unwrap()
        .melody;
    let mut draft = melody.into_draft();
    let ending = |number| FormSign::Ending(Endings::new([number]).unwrap().unwrap());
    for (at, sign) in [
        (0, FormSign::RepeatStart),
        (2, ending(1)),
        (4, FormSign::EndingEnd),
        (4, FormSign::RepeatEnd(Times::TWICE)),
        (4, ending(2)),
        (6, FormSign::EndingEnd),
    ] {
        draft.form.add(Quarters::from(at), sign);
    }
    let melody = Melody::new(draft).unwrap();
    // C D E F C D G
    let starts: Vec<f64> = (0..7).map(|quarter| f64::from(quarter) * 0.6).collect();
    check_stems(&melody, &starts, 1.0);
    check_stems(&melody, &starts, 0.5);
}

/// Mean power in decibels.
fn level(samples: &[f64]) -> f64 {
    10.0 * (samples.iter().map(|it| it * it).sum::<f64>() / samples.len() as f64).log10()
}

// A chord over each bar, each struck under the first of three notes.
#[test]
fn what_lies_under_the_melody_is_as_much_softer_as_was_asked() {
    let folder = Folder::new();
    let waltz = "X:1\nT:Ferry\nM:3/4\nL:1/4\nQ:1/4=60\nK:C\n\"C\"g3|\"F\"a3|\"G7\"b3|\"C\"g3|\n";
    let tune = folder.write("ferry.abc", waltz);
    let samples = |options: &[&str]| {
        let fixed = ["play", &tune, "--arrangement", "-o", "-", "--bits", "32"];
        let (bytes, stderr, code) = bytes_of(&[&fixed[..], options].concat());
        assert_eq!(code, 0, "{stderr}");
        wav(&bytes).2
    };
    // What is turned down for headroom is the same for both, so the stems add up to the whole.
    let difference = |contrast: &str| {
        let whole = samples(&["--contrast", contrast]);
        let under = samples(&["--contrast", contrast, "--no-melody"]);
        let pairs = whole
            .iter()
            .zip(under.iter().chain(std::iter::repeat(&0.0)));
        let melody: Vec<f64> = pairs.map(|(whole, under)| whole - under).collect();
        level(&melody) - level(&under)
    };
    let (equal, nine, twenty) = (difference("0"), difference("9dB"), difference("20"));
    // A string plucked softly is also a little darker.
    assert!((nine - equal - 9.0).abs() < 0.3, "{equal} {nine}");
    assert!((twenty - equal - 20.0).abs() < 0.6, "{equal} {twenty}");
    // Strings of other lengths do not ring alike: within a few decibels of what was asked, measured over whole stems.
    assert!(equal.abs() < 3.0, "{equal}");
}

#[test]
fn an_arrangement_is_played_with_the_choices_kept_beside_the_tune() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", WALTZ);
    let take = |more: &[&str]| bytes_of(&[&["play", &tune, "-o", "-"][..], more].concat());
    let found = take(&["--arrangement"]).0;
    let file = folder.write(
        "other.ron",
        "(octave: 1, style: \"bass\", density: \"sparse\")",
    );
    let named = take(&[&format!("--arrangement={file}")]).0;
    folder.write(
        "ferry.abc.arrangement.ron",
        "(octave: 1, style: \"bass\", density: \"sparse\")",
    );
    let beside = take(&["--arrangement"]).0;
    assert!(named == beside && found != beside && take(&[]).0 != beside);
    let cases: [(&[&str], &str); 3] = [
        (
            &["--arrangement=no-such.ron"],
            "there is no file `no-such.ron`",
        ),
        (&["--arrangement", "--chords"], "cannot be used with"),
        (&["--contrast", "6"], "--arrangement"),
    ];
    for (args, words) in cases {
        let (_, stderr, code) = take(args);
        assert!(code > 0 && stderr.contains(words), "{args:?}: {stderr}");
    }
    let bare = folder.write("bare.abc", "X:1\nT:Bare\nM:3/4\nL:1/4\nK:G\nG A B|\n");
    let (_, stderr, code) = bytes_of(&["play", &bare, "--arrangement", "-o", "-"]);
    assert_eq!(code, 1);
    assert!(stderr.contains("no chords to arrange"), "{stderr}");
}
