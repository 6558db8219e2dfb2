//! `neckline transcribe` and `neckline listen` on recordings.

use serde::Deserialize;
use serde_json::Value;
use tests::{Folder, data, json, neckline};

/// A clip of `tests/data/audio` with the notes in it; sources in tests/data/README.md.
#[derive(Deserialize)]
struct Clip {
    file: String,
    tune: String,
    detune_cents: f64,
    score_notes: usize,
    played: Vec<Played>,
    faults: Vec<Fault>,
}

#[derive(Deserialize)]
struct Played {
    onset: f64,
    midi: u64,
}

#[derive(Deserialize, PartialEq)]
struct Fault {
    number: usize,
    verdict: String,
}

fn clips() -> Vec<Clip> {
    json("audio/truth.json")
}

fn path(name: &str) -> String {
    data(name).to_str().unwrap().to_owned()
}

fn document(args: &[&str]) -> Value {
    let run = neckline(args, b"");
    assert_eq!(run.code, 0, "{args:?}: {}", run.stderr);
    serde_json::from_str(&run.stdout).unwrap()
}

#[test]
fn the_notes_of_a_recording_are_heard_at_their_time() {
    for clip in clips() {
        let heard = document(&[
            "transcribe",
            &path(&format!("audio/{}", clip.file)),
            "--json",
        ]);
        assert_eq!(
            (&heard["schema"], &heard["sample_rate"]),
            (&1.into(), &22_050.into())
        );
        let struck = heard["struck"].as_array().unwrap();
        // Within 50 ms, as the note onsets of MIREX are counted.
        let found = clip.played.iter().filter(|played| {
            struck.iter().any(|note| {
                note["midi"] == played.midi
                    && (note["onset_seconds"].as_f64().unwrap() - played.onset).abs() < 0.05
            })
        });
        let found = found.count();
        assert!(
            found + 1 >= clip.played.len(),
            "{}: {found} of {}",
            clip.file,
            clip.played.len()
        );
        assert!(
            struck.len() <= clip.played.len() + 1,
            "{}: {}",
            clip.file,
            struck.len()
        );
    }
}

#[test]
fn the_faults_put_into_a_recording_are_reported() {
    for clip in clips() {
        let tune = path(&format!("abc/{}", clip.tune));
        let take = document(&[
            "listen",
            &tune,
            "--take",
            &path(&format!("audio/{}", clip.file)),
            "--json",
        ]);
        let told: Vec<Fault> = take["notes"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|note| note["verdict"] != "right" && note["sure"] == true)
            .map(|note| Fault {
                number: note["number"].as_u64().unwrap() as usize,
                verdict: note["verdict"].as_str().unwrap().to_owned(),
            })
            // The recording ends in the middle of a bar.
            .filter(|fault| fault.number <= clip.score_notes)
            .collect();
        let words = |faults: &[Fault]| -> Vec<String> {
            faults
                .iter()
                .map(|it| format!("{} {}", it.number, it.verdict))
                .collect()
        };
        assert_eq!(words(&told), words(&clip.faults), "{}", clip.file);
        assert_eq!(take["extra"], Value::Array(Vec::new()), "{}", clip.file);
        assert_eq!(
            take["passes"][0]["right"],
            clip.faults.is_empty(),
            "{}",
            clip.file
        );
        let cents = take["tuning_cents"].as_f64().unwrap();
        assert!(
            (cents - clip.detune_cents).abs() < 8.0,
            "{}: {cents}",
            clip.file
        );
    }
}

#[test]
fn every_coding_gives_the_same_notes() {
    let notes = |name: &str| -> Vec<u64> {
        let heard = document(&["transcribe", &path(name), "--json"]);
        let struck = heard["struck"].as_array().unwrap();
        struck
            .iter()
            .map(|note| note["midi"].as_u64().unwrap())
            .collect()
    };
    let expected: Vec<u64> = clips()
        .iter()
        .find(|clip| clip.file.starts_with("dev_12"))
        .unwrap()
        .played
        .iter()
        .filter(|note| note.onset < 2.9)
        .map(|note| note.midi)
        .collect();
    // The first three seconds in stereo at 44.1 kHz.
    for name in ["coded.ogg", "coded.mp3", "coded.m4a"] {
        assert_eq!(notes(&format!("audio/{name}")), expected, "{name}");
    }
}

#[test]
fn the_page_names_the_findings() {
    let clip = path("audio/dev_12_nylon_90_errors.flac");
    let tune = path("abc/airdsAirs_0266_76ff4cfa.abc");
    let run = neckline(&["listen", &tune, "--take", &clip, "--no-history"], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    for part in [
        "90 quarter notes a minute",
        "Played in another key, 4 semitones higher than written",
        "Wrong: bar 2 beat 2&, A4 for G4 (string ",
        "Missing: bar 1 beat",
        "Practise next: bars 1, 3 and 2",
    ] {
        assert!(run.stdout.contains(part), "{part}:\n{}", run.stdout);
    }
    let words: Vec<&str> = run.stdout.split_whitespace().collect();
    let late = words
        .windows(3)
        .filter(|it| it[1] == "ms" && it[2].starts_with("late"))
        .map(|it| it[0].parse().unwrap());
    let late: Vec<i32> = late.collect();
    // The two notes were put off by so much.
    let off = late.iter().zip([203, 194]).map(|(it, put)| it - put);
    assert_eq!(off.filter(|it| it.abs() <= 10).count(), 2, "{late:?}");
    assert_eq!(late.len(), 2, "{late:?}");
    let run = neckline(&["listen", &tune, "--take", &clip, "--svg", "-"], b"");
    assert!(run.stdout.starts_with("<svg") && run.stdout.ends_with("</svg>\n"));
    // A dot of timing and one of level for each of the notes that were heard.
    assert_eq!(run.stdout.matches("<circle").count() % 2, 0);
    assert!(run.stdout.matches("<circle").count() >= 2 * 17);
}

#[test]
fn a_recording_is_written_down_as_a_tune() {
    let folder = Folder::new();
    let tune = folder.file("take.abc");
    let clip = path("audio/dev_08_jazz_115_detune35.flac");
    let run = neckline(&["transcribe", &clip, "-o", &tune], b"");
    assert_eq!((run.code, run.stdout.as_str()), (0, ""), "{}", run.stderr);
    assert!(
        run.stderr.contains("note: 20 notes found"),
        "{}",
        run.stderr
    );
    // The written notes are the played ones.
    let take = document(&["listen", &tune, "--take", &clip, "--json"]);
    let notes = take["notes"].as_array().unwrap();
    let right = notes
        .iter()
        .filter(|note| note["verdict"] == "right")
        .count();
    assert!(right >= 19, "{take}");
    let again = neckline(&["transcribe", &clip, "-o", &tune], b"");
    assert_eq!(again.code, 1);
    assert!(again.stderr.contains("already there"), "{}", again.stderr);
    let ending = neckline(&["transcribe", &clip, "-o", "take.doc"], b"");
    assert_eq!(ending.code, 2);
}

/// A WAV file of 16 bits, mono.
fn wav(samples: impl Iterator<Item = f64>) -> Vec<u8> {
    let data: Vec<u8> = samples
        .flat_map(|it| ((it.clamp(-1.0, 1.0) * 32_767.0) as i16).to_le_bytes())
        .collect();
    let mut file = b"RIFF".to_vec();
    file.extend((36 + data.len() as u32).to_le_bytes());
    file.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    file.extend(22_050u32.to_le_bytes());
    file.extend(44_100u32.to_le_bytes());
    file.extend(b"\x02\0\x10\0data");
    file.extend((data.len() as u32).to_le_bytes());
    file.extend(data);
    file
}

#[test]
fn bad_recordings_get_a_clear_error() {
    let folder = Folder::new();
    let mut state = 7u32;
    let mut noise = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / 8_388_608.0 - 1.0
    };
    let silent = folder.write("silent.wav", wav((0..66_150).map(|_| 0.0)));
    let noisy = folder.write("noise.wav", wav((0..66_150).map(|_| 0.3 * noise())));
    let text = folder.write("text.wav", "no sound at all");
    let empty = folder.write("empty.flac", "");
    let check = |recording: &str, code: u8, problem: &str| {
        for args in [
            vec!["transcribe", recording],
            vec!["listen", "pedalo-blues", "--take", recording],
        ] {
            let run = neckline(&args, b"");
            assert_eq!((run.code, run.stdout.as_str()), (code, ""), "{args:?}");
            assert!(run.stderr.contains(problem), "{args:?}: {}", run.stderr);
            assert!(
                run.stderr.contains("\n\nhint: "),
                "{args:?}: {}",
                run.stderr
            );
        }
    };
    check(&silent, 1, "no string was heard: the recording is silent");
    check(&noisy, 1, "no string was heard: there is only noise");
    check(&text, 2, "is not a readable recording");
    check(&empty, 2, "is not a readable recording");
    check(folder.text(), 2, "cannot read");
    check("nowhere.wav", 2, "cannot read `nowhere.wav`");
    check(&path("audio/without_sound.mp4"), 2, "there is no sound in");
}

#[test]
fn a_cut_recording_is_heard_as_far_as_it_goes() {
    let folder = Folder::new();
    let whole = std::fs::read(path("audio/dev_12_nylon_90_errors.flac")).unwrap();
    let cut = folder.write("cut.flac", &whole[..whole.len() / 2]);
    let run = neckline(&["transcribe", &cut], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stderr.contains("cut.flac is cut off after 3."),
        "{}",
        run.stderr
    );
    assert!(run.stdout.lines().count() > 8, "{}", run.stdout);
    // What is missing at the end is not held against the player.
    let tune = path("abc/airdsAirs_0266_76ff4cfa.abc");
    let run = neckline(&["listen", &tune, "--take", &cut, "--no-history"], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stderr.contains("cut.flac is cut off after 3."),
        "{}",
        run.stderr
    );
    for words in ["not played.", "Practise next: bars 1"] {
        assert!(run.stdout.contains(words), "{words}: {}", run.stdout);
    }
}

#[test]
fn another_tune_does_not_fit() {
    let check = |tune: &str, take: &str, problem: &str, hint: &str| {
        let run = neckline(&["listen", tune, "--take", take, "--no-history"], b"");
        assert_eq!((run.code, run.stdout.as_str()), (1, ""));
        assert!(run.stderr.contains(problem), "{}", run.stderr);
        assert!(run.stderr.contains(hint), "{}", run.stderr);
    };
    let folder = Folder::new();
    // No built-in tune fits this either.
    check(
        "pedalo-blues",
        &path("audio/dev_13_steel_145_errors.flac"),
        " % of the notes agree, and 50 % would be enough",
        "hint: check the tune",
    );
    check(
        "pedalo-blues",
        &take_of(&folder, "lamps-along-the-jetty", &["--bars", "1-8"]),
        "this take does not fit Pedalo Blues; 100 % of it fits bars 1-8 of another tune",
        "hint: as in `neckline listen lamps-along-the-jetty --take",
    );
}

#[test]
fn a_clipped_recording_is_judged_with_a_warning() {
    let folder = Folder::new();
    let take = take_of(&folder, "pedalo-blues", &["--bars", "1-4", "--bits", "16"]);
    let mut bytes = std::fs::read(&take).unwrap();
    let data = bytes.windows(4).position(|it| it == b"data").unwrap() + 8;
    for sample in bytes[data..].chunks_exact_mut(2) {
        let louder = i16::from_le_bytes([sample[0], sample[1]]).saturating_mul(30);
        sample.copy_from_slice(&louder.to_le_bytes());
    }
    let clipped = folder.write("clipped.wav", bytes);
    let run = neckline(
        &["listen", "pedalo-blues", "--take", &clipped, "--no-history"],
        b"",
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    for words in ["clipped.wav is clipped (", "record a little more quietly"] {
        assert!(run.stderr.contains(words), "{words}: {}", run.stderr);
    }
}

/// What `neckline play` writes, as a recording.
fn take_of(folder: &Folder, tune: &str, options: &[&str]) -> String {
    let take = folder.file("take.wav");
    let args = [&["play", tune, "-o", &take, "--replace"], options].concat();
    let run = neckline(&args, b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    take
}

#[test]
fn the_bars_that_were_played_are_shown_and_the_others_named() {
    let folder = Folder::new();
    let tune = "lamps-along-the-jetty";
    let check = |bars: &str, begins: Option<&str>, silent: &str, shown: &str| {
        let take = take_of(&folder, tune, &["--bars", bars]);
        let page = neckline(&["listen", tune, "--take", &take, "--no-history"], b"").stdout;
        let line = |wanted: &str| page.lines().any(|line| line == wanted);
        assert!(line(silent), "{page}");
        let began = page.lines().find(|line| line.starts_with("You began"));
        assert_eq!(began, begins, "{page}");
        // The lines over the tablature begin with the number of a bar.
        let is_number = |word: &&str| word.bytes().all(|it| it.is_ascii_digit());
        let heads = page.lines().filter(|line| line.starts_with("  "));
        let words = heads.flat_map(str::split_whitespace).filter(is_number);
        assert_eq!(words.collect::<Vec<_>>().join(" "), shown, "{page}");
    };
    check("1-8", None, "Bars 9-32 not played.", "1 2 3 4 5 6 7 8");
    check(
        "5-10",
        Some("You began at bar 5."),
        "Bars 1-4, 11-32 not played.",
        "5 6 7 8 9 10",
    );
    check(
        "2-32",
        Some("You began at bar 2."),
        "Bar 1 not played.",
        &(2..33)
            .map(|it| it.to_string())
            .collect::<Vec<_>>()
            .join(" "),
    );
}

#[test]
fn a_swing_that_is_not_asked_for_is_named_and_not_judged() {
    let folder = Folder::new();
    let straight = "X:1\nT:Ferry\nM:4/4\nL:1/8\nQ:1/4=120\nK:G\n\
        GABc d2B2|edBA G2D2|GABd g2e2|dBAG G4|GABc d2B2|edBA G2D2|GABd g2e2|dBAG G4|\n";
    let tune = folder.write("ferry.abc", straight);
    let page = |swing: &str| {
        let take = take_of(&folder, &tune, &["--swing", swing]);
        neckline(&["listen", &tune, "--take", &take, "--no-history"], b"").stdout
    };
    let swung = page("66%");
    assert!(
        swung.contains(
            "You swing the eighths, 66 to 34; the tune names no feel, so this is not judged."
        ),
        "{swung}"
    );
    assert!(swung.contains(": right\n"), "{swung}");
    let even = page("50%");
    assert!(!even.contains("swing"), "{even}");
    assert!(even.contains(": right\n"), "{even}");
}

#[test]
fn a_take_is_marked_on_the_page() {
    let folder = Folder::new();
    let page = folder.file("page.svg");
    let clip = clips()
        .into_iter()
        .find(|clip| clip.faults.len() > 3)
        .unwrap();
    let tune = path(&format!("abc/{}", clip.tune));
    let take = path(&format!("audio/{}", clip.file));
    let run = neckline(&["sheet", &tune, "-o", &page, "--take", &take], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let page = std::fs::read_to_string(&page).unwrap();
    // The page is read as text, the words of a line one after the other.
    for words in [
        "What was heard",
        "to the minute: with faults.",
        "not played.",
        "x wrong",
        "Wrong: bar",
        "Practise next: bars",
    ] {
        assert!(page.contains(words), "{words}");
    }
    let count = |sign: &str| page.matches(&format!(">{sign}</text>")).count();
    let told = |verdict: &str| {
        clip.faults
            .iter()
            .filter(|it| it.verdict == verdict)
            .count()
    };
    assert_eq!(count("x"), told("wrong"));
    assert_eq!(count("&gt;"), told("late"));
    assert!(told("wrong") > 0 && told("late") > 0);
    let run = neckline(
        &[
            "sheet",
            "pedalo-blues",
            "-o",
            &folder.file("other.svg"),
            "--take",
            &take,
        ],
        b"",
    );
    assert_eq!(run.code, 1);
    assert!(
        run.stderr.contains("this take does not fit Pedalo Blues"),
        "{}",
        run.stderr
    );
    assert!(!std::path::Path::new(&folder.file("other.svg")).exists());
}

#[test]
fn the_line_on_top_of_an_arrangement_is_followed() {
    let folder = Folder::new();
    let take = folder.file("take.wav");
    let tune = ["lamps-along-the-jetty", "--bars", "1-8"];
    let run = neckline(
        &[&["play"], &tune[..], &["--arrangement", "-o", &take]].concat(),
        b"",
    );
    assert_eq!(run.code, 0, "{}", run.stderr);
    let listen = [&["listen"], &tune[..], &["--arrangement", "--take", &take]].concat();
    let heard = document(&[&listen[..], &["--json"]].concat());
    let notes = heard["notes"].as_array().unwrap();
    assert!(notes.len() > 15, "{}", notes.len());
    for note in notes {
        assert!(
            note["verdict"] == "right" || note["sure"] == false,
            "{note}"
        );
    }
    assert_eq!(heard["extra"], Value::Array(Vec::new()));
    let page = neckline(&listen, b"");
    assert!(
        page.stdout.contains("less certain than a"),
        "{}",
        page.stdout
    );
}
